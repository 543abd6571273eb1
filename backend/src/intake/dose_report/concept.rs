//! The coded concepts that are read. They are matched by code value and coding
//! scheme, never by their text. Source: DICOM PS3.16, context groups and
//! templates 10001 to 10007, 10025; code values checked with the dictionary of
//! the general-purpose library pydicom 3.0.2.

use std::fmt;

/// A plane of the X-ray system (code group 10003).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Plane {
    /// The only plane of the room, or the report does not say.
    Single,
    /// Plane A of a biplane room.
    A,
    /// Plane B of a biplane room.
    B,
    /// Both planes together.
    All,
}

impl fmt::Display for Plane {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Single => "single plane",
            Self::A => "plane A",
            Self::B => "plane B",
            Self::All => "all planes",
        })
    }
}

/// What a total is measured in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Measured {
    /// Gray.
    Kerma,
    /// Gray square metre.
    KermaArea,
    /// Second.
    Time,
    /// A number of things.
    Count,
}

/// A total of the accumulated dose data.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Total {
    /// Air kerma at the reference point.
    AirKerma,
    /// The part of fluoroscopy in it.
    FluoroscopyAirKerma,
    /// The part of acquisition (cine) in it.
    CineAirKerma,
    /// Kerma-area product.
    KermaArea,
    /// The part of fluoroscopy in it.
    FluoroscopyKermaArea,
    /// The part of acquisition (cine) in it.
    CineKermaArea,
    /// Fluoroscopy time.
    FluoroscopyTime,
    /// Acquisition (cine) time.
    CineTime,
    /// Acquired frames.
    CineFrames,
}

impl Total {
    /// All totals, in the order in which they are told.
    pub const ALL: [Self; 9] = [
        Self::AirKerma,
        Self::FluoroscopyAirKerma,
        Self::CineAirKerma,
        Self::KermaArea,
        Self::FluoroscopyKermaArea,
        Self::CineKermaArea,
        Self::FluoroscopyTime,
        Self::CineTime,
        Self::CineFrames,
    ];

    pub(super) fn measured(self) -> Measured {
        match self {
            Self::AirKerma | Self::FluoroscopyAirKerma | Self::CineAirKerma => Measured::Kerma,
            Self::KermaArea | Self::FluoroscopyKermaArea | Self::CineKermaArea => Measured::KermaArea,
            Self::FluoroscopyTime | Self::CineTime => Measured::Time,
            Self::CineFrames => Measured::Count,
        }
    }

    /// The unit of the numbers kept, as UCUM writes it.
    pub fn unit(self) -> &'static str {
        match self.measured() {
            Measured::Kerma => "mGy",
            Measured::KermaArea => "Gy.cm2",
            Measured::Time => "s",
            Measured::Count => "1",
        }
    }

    pub(super) fn unit_wanted(self) -> &'static str {
        match self.measured() {
            Measured::Kerma => "gray (Gy)",
            Measured::KermaArea => "gray times area (Gy.m2)",
            Measured::Time => "seconds (s)",
            Measured::Count => "a plain count",
        }
    }
}

impl fmt::Display for Total {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::AirKerma => "Air kerma at the reference point",
            Self::FluoroscopyAirKerma => "Air kerma of fluoroscopy",
            Self::CineAirKerma => "Air kerma of cine",
            Self::KermaArea => "Kerma-area product",
            Self::FluoroscopyKermaArea => "Kerma-area product of fluoroscopy",
            Self::CineKermaArea => "Kerma-area product of cine",
            Self::FluoroscopyTime => "Fluoroscopy time",
            Self::CineTime => "Cine time",
            Self::CineFrames => "Cine frames",
        })
    }
}

/// A concept that means something here; every other one is `None`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Concept {
    /// Title of the report.
    DoseReport,
    /// What the report is about.
    ProcedureReported,
    /// Totals of a plane.
    Accumulated,
    /// One irradiation.
    Event,
    /// Totals of a CT.
    CtAccumulated,
    /// Which plane.
    AcquisitionPlane,
    /// What an irradiation was.
    EventType,
    /// Air kerma of one irradiation.
    EventAirKerma,
    /// Kerma-area product of one irradiation.
    EventKermaArea,
    /// Where the reference point is.
    ReferencePoint,
    /// A total.
    Total(Total),
    /// A plane.
    Plane(Plane),
    /// Fluoroscopy.
    Fluoroscopy,
    /// A cine run: stationary, stepping or rotational.
    Cine,
    /// Projection X-ray.
    Projection,
    /// CT.
    Ct,
    /// Mammography.
    Mammography,
    /// 15 cm from the isocentre toward the source.
    FifteenCentimetres,
}

impl Concept {
    /// The concept of a code, if it means something here.
    pub(super) fn of(value: &str, scheme: &str) -> Option<Self> {
        match scheme {
            "DCM" => Self::of_dicom(value),
            // The same concept in the scheme of today and in the one of older reports.
            "SCT" | "SRT" | "99SDM" | "SNM3" => match value {
                "44491008" | "P5-06000" => Some(Self::Fluoroscopy),
                "77477000" | "P5-08000" => Some(Self::Ct),
                "71651007" | "P5-40010" => Some(Self::Mammography),
                _ => None,
            },
            _ => None,
        }
    }

    fn of_dicom(value: &str) -> Option<Self> {
        Some(match value {
            "113701" => Self::DoseReport,
            "121058" => Self::ProcedureReported,
            "113702" => Self::Accumulated,
            "113706" => Self::Event,
            "113811" => Self::CtAccumulated,
            "113764" => Self::AcquisitionPlane,
            "113721" => Self::EventType,
            "113738" => Self::EventAirKerma,
            "122130" => Self::EventKermaArea,
            "113780" => Self::ReferencePoint,
            "113725" => Self::Total(Total::AirKerma),
            "113728" => Self::Total(Total::FluoroscopyAirKerma),
            "113729" => Self::Total(Total::CineAirKerma),
            "113722" => Self::Total(Total::KermaArea),
            "113726" => Self::Total(Total::FluoroscopyKermaArea),
            "113727" => Self::Total(Total::CineKermaArea),
            "113730" => Self::Total(Total::FluoroscopyTime),
            "113855" => Self::Total(Total::CineTime),
            "113731" => Self::Total(Total::CineFrames),
            "113622" => Self::Plane(Plane::Single),
            "113620" => Self::Plane(Plane::A),
            "113621" => Self::Plane(Plane::B),
            "113890" => Self::Plane(Plane::All),
            "113611" | "113612" | "113613" => Self::Cine,
            "113704" => Self::Projection,
            "113860" => Self::FifteenCentimetres,
            _ => return None,
        })
    }
}
