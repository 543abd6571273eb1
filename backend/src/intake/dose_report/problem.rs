//! Why a file is not taken as a dose report.

use super::concept::{Plane, Total};

/// Why a file is not taken as a dose report. No text of the file is repeated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DoseReportProblem {
    /// More than the largest size.
    #[error(
        "The file is larger than 16 MB. A dose report is far smaller: choose the radiation dose structured report, not an image series."
    )]
    TooLarge,
    /// No DICOM file.
    #[error(
        "This is not a DICOM file: the letters DICM are missing at byte 128. Export the dose report from the X-ray system or the archive as a DICOM file."
    )]
    NotDicom,
    /// Compressed data set.
    #[error(
        "The file's data set is compressed (deflated). Export it uncompressed: explicit or implicit little endian."
    )]
    Compressed,
    /// A transfer syntax that is not read.
    #[error(
        "The file is written in a transfer syntax for images. Choose the radiation dose structured report."
    )]
    OtherSyntax,
    /// Ends before it should.
    #[error("The file ends in the middle. Copy it again; nothing was taken from it.")]
    Truncated,
    /// Not built as a DICOM data set.
    #[error("The file's structure is broken. Export it again; nothing was taken from it.")]
    Broken,
    /// Nested or sized beyond any real report.
    #[error(
        "The file is nested more deeply, or holds more items, than any dose report does. Nothing was taken from it."
    )]
    Unreasonable,
    /// An image.
    #[error(
        "This file is an image, not a dose report. Choose the object whose modality is SR, called radiation dose structured report."
    )]
    Image,
    /// Another modality.
    #[error(
        "This DICOM file is not a structured report. Choose the object whose modality is SR, called radiation dose structured report."
    )]
    NotStructuredReport,
    /// A structured report about something else.
    #[error(
        "This structured report is not an X-ray radiation dose report (its title is not code 113701 of DICOM)."
    )]
    OtherReport,
    /// A dose report of a CT.
    #[error(
        "This is the dose report of a CT. A CT before the procedure is told by the field preproc_ct; its dose is not the procedure's."
    )]
    Ct,
    /// A dose report of a mammography unit.
    #[error("This is the dose report of a mammography unit, not of an angiography system.")]
    Mammography,
    /// No totals.
    #[error(
        "The report holds no accumulated dose data (container 113702). Read the totals from the console instead."
    )]
    NoTotals,
    /// One total with several values.
    #[error("{total}, {plane}: the report gives several values that differ. Read the console instead.")]
    Conflicting {
        /// Which total.
        total: Total,
        /// Of which plane.
        plane: Plane,
    },
    /// Planes that do not add up to their stated sum.
    #[error("{total}: the planes do not add up to the total given for all planes. Read the console instead.")]
    PlanesDisagree {
        /// Which total.
        total: Total,
    },
    /// Not a finite number of at least zero.
    #[error("{total}: the report's value is not a number of zero or more. Read the console instead.")]
    NotNumber {
        /// Which total.
        total: Total,
    },
    /// A unit that is not the total's.
    #[error(
        "{total}: the report's unit is missing or cannot be read as {}. Read the console instead.",
        total.unit_wanted()
    )]
    Unit {
        /// Which total.
        total: Total,
    },
    /// Beyond what the registry accepts.
    #[error(
        "{total}: the report's value is beyond what the registry takes for one procedure. Read the console, and have the physicist look at the system."
    )]
    TooMuch {
        /// Which total.
        total: Total,
    },
}
