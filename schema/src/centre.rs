//! A centre, its rooms and its screening log: how many procedures it performed, how many
//! were eligible and how many it sent in. Without these denominators nobody can tell
//! whether a centre sent only its good cases.

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::ids::{CentreCode, RoomCode};
use crate::period::Quarter;
use crate::quantity::{KermaAreaMeasure, Measure, Unit};
use crate::value::ValueProblem;
use crate::vocabulary::{AnnualVolume, CentreType, ExclusionReason};

/// A centre of the network.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Centre {
    /// Its random code.
    pub code: CentreCode,
    /// Its name, for members only.
    pub name: String,
    /// Country group or state, never a city.
    pub region: Option<String>,
    /// Kind of hospital.
    pub kind: CentreType,
    /// Ablations a year, as a band so that it does not name the centre.
    pub annual_volume: AnnualVolume,
    /// The quarter of its first zero-fluoroscopy case, once there was one.
    #[serde(default)]
    pub zero_fluoroscopy_since: Option<Quarter>,
}

/// An X-ray room with what its console shows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Room {
    /// Its code within the centre.
    pub code: RoomCode,
    /// The unit in which the console shows the kerma-area product.
    pub kap_unit: AreaUnit,
    /// Whether the console shows air kerma at all; older ones do not.
    pub air_kerma_shown: bool,
    /// Factor from the display to the measured dose, between 0.5 and 2.
    pub dose_correction: Option<f64>,
    /// Usual pulse rate in pulses a second, between 0.5 and 60.
    pub pulse_rate: Option<f64>,
}

/// A unit of kerma-area product. It is read in UCUM notation or as printed on the console, and
/// written in UCUM notation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AreaUnit(&'static Unit);

impl AreaUnit {
    /// The unit.
    #[must_use]
    pub fn unit(self) -> &'static Unit {
        self.0
    }
}

impl FromStr for AreaUnit {
    type Err = CentreError;

    fn from_str(text: &str) -> Result<Self, CentreError> {
        KermaAreaMeasure::DIMENSION.unit(text).map(Self).map_err(CentreError::KapUnit)
    }
}

impl fmt::Display for AreaUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.0.ucum)
    }
}

impl Serialize for AreaUnit {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.0.ucum)
    }
}

impl<'de> Deserialize<'de> for AreaUnit {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

/// What the console shows that a case was read from: its room's, or as long as the case does
/// not name its room what all consoles of the centre show alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Consoles {
    /// How many rooms it can have been.
    pub rooms: usize,
    /// The unit of the kerma-area product, where it is the same in all of them.
    pub kap_unit: Option<AreaUnit>,
    /// Whether at least one shows air kerma.
    pub air_kerma_shown: bool,
}

impl Consoles {
    /// What the consoles show that a case in the named room can have been read from; `None`
    /// where no such room is known.
    #[must_use]
    pub fn of(rooms: &[Room], named: Option<RoomCode>) -> Option<Self> {
        let mut possible = rooms.iter().filter(|room| named.is_none_or(|named| named == room.code));
        let first = possible.next()?;
        let together =
            Self { rooms: 1, kap_unit: Some(first.kap_unit), air_kerma_shown: first.air_kerma_shown };
        Some(possible.fold(together, |so_far, room| Self {
            rooms: so_far.rooms + 1,
            kap_unit: so_far.kap_unit.filter(|unit| *unit == room.kap_unit),
            air_kerma_shown: so_far.air_kerma_shown || room.air_kerma_shown,
        }))
    }
}

/// What is wrong with a centre or a room.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CentreError {
    /// No name, or a very long one.
    #[error("{field}: write 1 to {longest} characters")]
    Text {
        /// Which field.
        field: &'static str,
        /// How many characters it may have.
        longest: usize,
    },
    /// Not a unit of kerma-area product, so that no centre could be offered it.
    #[error("kap_unit: what the console shows {0}")]
    KapUnit(ValueProblem),
    /// The correction is outside 0.5 to 2.
    #[error("dose_correction: {found} is outside 0.5 to 2; enter measured dose divided by displayed dose")]
    DoseCorrection {
        /// The value found.
        found: f64,
    },
    /// The pulse rate is outside 0.5 to 60.
    #[error("pulse_rate: {found} is outside 0.5 to 60 pulses a second")]
    PulseRate {
        /// The value found.
        found: f64,
    },
}

impl Centre {
    /// Checks what the types leave open.
    ///
    /// # Errors
    /// When the name is empty or a text too long.
    pub fn check(&self) -> Result<(), CentreError> {
        check_text(&self.name, "name", 120)?;
        // It heads a line of a published table.
        self.region.as_deref().map_or(Ok(()), |region| check_text(region, "region", 40))
    }
}

impl Room {
    /// Checks what the types leave open.
    ///
    /// # Errors
    /// When a number is outside its limits.
    pub fn check(&self) -> Result<(), CentreError> {
        if let Some(found) = self.dose_correction.filter(|value| !(0.5..=2.0).contains(value)) {
            return Err(CentreError::DoseCorrection { found });
        }
        if let Some(found) = self.pulse_rate.filter(|value| !(0.5..=60.0).contains(value)) {
            return Err(CentreError::PulseRate { found });
        }
        Ok(())
    }
}

fn check_text(text: &str, field: &'static str, longest: usize) -> Result<(), CentreError> {
    let length = text.trim().chars().count();
    if length == 0 || length > longest || text.chars().any(char::is_control) {
        return Err(CentreError::Text { field, longest });
    }
    Ok(())
}

/// The most procedures of one group that a centre can enter for one period.
pub const MOST_PERFORMED: u32 = 2000;

/// What a signature under the lines of a quarter says.
pub const SIGNATURE_MEANING: &str = "I confirm that every ablation of this quarter is counted here, and that the counts are complete and correct.";

/// One line of the screening log: one period, one procedure group.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "EnteredCounts")]
pub struct ScreeningCounts {
    performed: u32,
    eligible: u32,
    submitted: u32,
    excluded: BTreeMap<ExclusionReason, u32>,
}

/// The counts as entered, not yet checked.
#[derive(Debug, Clone, PartialEq, Eq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EnteredCounts {
    /// Procedures performed.
    pub performed: u32,
    /// Those that met the protocol.
    pub eligible: u32,
    /// Those sent in to the registry.
    pub submitted: u32,
    /// Those not sent in, by reason.
    #[serde(default)]
    pub excluded: BTreeMap<ExclusionReason, u32>,
}

/// What is wrong with the counts.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ScreeningError {
    /// More procedures than a centre can do.
    #[error("performed: {performed} is more than {MOST_PERFORMED} in one period; check the number")]
    TooMany {
        /// Procedures performed.
        performed: u32,
    },
    /// More eligible than performed.
    #[error("eligible: {eligible} is more than the {performed} performed; check both numbers")]
    EligibleAbovePerformed {
        /// Eligible procedures.
        eligible: u32,
        /// Procedures performed.
        performed: u32,
    },
    /// More submitted than eligible.
    #[error("submitted: {submitted} is more than the {eligible} eligible; check both numbers")]
    SubmittedAboveEligible {
        /// Submitted cases.
        submitted: u32,
        /// Eligible procedures.
        eligible: u32,
    },
    /// The reasons do not account for those that were not sent in.
    #[error(
        "excluded: the reasons add up to {reasons}, but performed minus submitted is {missing}; give each procedure that was not sent in one reason"
    )]
    ReasonsDoNotAddUp {
        /// Sum over the reasons.
        reasons: u64,
        /// Performed minus submitted.
        missing: u32,
    },
}

impl TryFrom<EnteredCounts> for ScreeningCounts {
    type Error = ScreeningError;

    fn try_from(entered: EnteredCounts) -> Result<Self, Self::Error> {
        let EnteredCounts { performed, eligible, submitted, excluded } = entered;
        if performed > MOST_PERFORMED {
            return Err(ScreeningError::TooMany { performed });
        }
        if eligible > performed {
            return Err(ScreeningError::EligibleAbovePerformed { eligible, performed });
        }
        if submitted > eligible {
            return Err(ScreeningError::SubmittedAboveEligible { submitted, eligible });
        }
        let reasons = excluded.values().copied().map(u64::from).sum();
        let missing = performed - submitted;
        if reasons != u64::from(missing) {
            return Err(ScreeningError::ReasonsDoNotAddUp { reasons, missing });
        }
        Ok(Self { performed, eligible, submitted, excluded })
    }
}

impl ScreeningCounts {
    /// Procedures performed.
    #[must_use]
    pub fn performed(&self) -> u32 {
        self.performed
    }

    /// Procedures that met the protocol.
    #[must_use]
    pub fn eligible(&self) -> u32 {
        self.eligible
    }

    /// Cases sent in.
    #[must_use]
    pub fn submitted(&self) -> u32 {
        self.submitted
    }

    /// Procedures not sent in, by reason.
    #[must_use]
    pub fn excluded(&self) -> &BTreeMap<ExclusionReason, u32> {
        &self.excluded
    }

    /// Whether fewer than 90 % of the eligible procedures were sent in, which is worth a
    /// question: only the good cases may have been chosen.
    #[must_use]
    pub fn is_incomplete(&self) -> bool {
        u64::from(self.submitted) * 10 < u64::from(self.eligible) * 9
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

    use super::*;

    fn counts(
        performed: u32,
        eligible: u32,
        submitted: u32,
        age: u32,
    ) -> Result<ScreeningCounts, ScreeningError> {
        let excluded = BTreeMap::from([(ExclusionReason::Age, age)]);
        EnteredCounts { performed, eligible, submitted, excluded }.try_into()
    }

    #[test]
    fn denominators_must_nest_and_add_up() {
        assert!(counts(0, 0, 0, 0).is_ok());
        assert!(counts(100, 90, 90, 10).is_ok());
        assert!(counts(100, 95, 90, 10).is_ok());
        assert!(counts(2000, 2000, 2000, 0).is_ok());
        assert_eq!(counts(2001, 2001, 0, 0), Err(ScreeningError::TooMany { performed: 2001 }));
        assert_eq!(
            counts(10, 11, 0, 0),
            Err(ScreeningError::EligibleAbovePerformed { eligible: 11, performed: 10 })
        );
        assert_eq!(
            counts(10, 10, 11, 0),
            Err(ScreeningError::SubmittedAboveEligible { submitted: 11, eligible: 10 })
        );
        assert_eq!(counts(10, 9, 8, 1), Err(ScreeningError::ReasonsDoNotAddUp { reasons: 1, missing: 2 }));
        // Wrapping additions must not make a false sum come out right.
        assert_eq!(
            counts(10, 8, 8, u32::MAX),
            Err(ScreeningError::ReasonsDoNotAddUp { reasons: u64::from(u32::MAX), missing: 2 })
        );
    }

    #[test]
    fn ninety_per_cent_is_the_line() {
        assert!(!counts(100, 100, 90, 10).unwrap().is_incomplete());
        assert!(counts(100, 100, 89, 11).unwrap().is_incomplete());
        assert!(!counts(0, 0, 0, 0).unwrap().is_incomplete());
    }

    #[test]
    fn counts_read_from_json_are_checked_too() {
        let read =
            |text: &str| serde_json::from_str::<ScreeningCounts>(text).map_err(|error| error.to_string());
        let counts =
            read(r#"{"performed": 2, "eligible": 1, "submitted": 1, "excluded": {"age": 1}}"#).unwrap();
        assert_eq!(counts.excluded().get(&ExclusionReason::Age), Some(&1));
        assert_eq!(read(&serde_json::to_string(&counts).unwrap()), Ok(counts));
        for (text, part) in [
            (r#"{"performed": 1, "eligible": 2, "submitted": 1}"#, "more than the 1 performed"),
            (
                r#"{"performed": 1, "eligible": 1, "submitted": 0, "excluded": {"lazy": 1}}"#,
                "use one of: age,",
            ),
            (r#"{"performed": 1, "eligible": 1, "submitted": 1, "signed": true}"#, "unknown field"),
        ] {
            let error = read(text).unwrap_err();
            assert!(error.contains(part), "{error}");
        }
    }

    #[test]
    fn rooms_keep_their_limits() {
        let room = |dose_correction, pulse_rate| Room {
            code: "R1".parse().unwrap(),
            kap_unit: "µGy·m²".parse().unwrap(),
            air_kerma_shown: true,
            dose_correction,
            pulse_rate,
        };
        assert_eq!(room(Some(0.5), Some(60.0)).check(), Ok(()));
        assert_eq!(room(Some(0.49), None).check(), Err(CentreError::DoseCorrection { found: 0.49 }));
        assert_eq!(room(None, Some(60.1)).check(), Err(CentreError::PulseRate { found: 60.1 }));
        assert!(room(Some(f64::NAN), None).check().is_err());
    }

    fn room(code: &str, unit: &str, air_kerma_shown: bool) -> Room {
        Room {
            code: code.parse().unwrap(),
            kap_unit: unit.parse().unwrap(),
            air_kerma_shown,
            dose_correction: None,
            pulse_rate: None,
        }
    }

    #[test]
    fn a_consoles_unit_is_one_of_kerma_area_product() {
        // As the API kept it before units were typed, and as it is written now.
        for text in ["µGy·m²", "uGy.m2", "µGym2"] {
            let kept = format!(r#"{{"code":"R1","kap_unit":"{text}","air_kerma_shown":true}}"#);
            let room: Room = serde_json::from_str(&kept).unwrap();
            assert_eq!(serde_json::to_value(&room).unwrap()["kap_unit"], "uGy.m2");
        }
        for wrong in ["", "gy_cm2", "mGy/cm2", "mSv", "mGy"] {
            let error = wrong.parse::<AreaUnit>();
            assert!(matches!(error, Err(CentreError::KapUnit(_))), "{wrong}: {error:?}");
        }
    }

    #[test]
    fn consoles_offer_what_the_cases_room_shows_or_all_of_them() {
        let of = |rooms: &[Room]| Consoles::of(rooms, None);
        assert_eq!(of(&[]), None);
        let one = of(&[room("R1", "cGy.cm2", false)]).unwrap();
        assert_eq!((one.kap_unit.unwrap().unit().label, one.air_kerma_shown), ("cGy·cm²", false));
        let alike = of(&[room("R1", "cGy.cm2", false), room("R2", "cGycm2", true)]).unwrap();
        assert!(alike.kap_unit.is_some() && alike.air_kerma_shown && alike.rooms == 2);
        let unlike = [room("R1", "cGy.cm2", false), room("R2", "Gy.cm2", true)];
        assert_eq!(of(&unlike).unwrap().kap_unit, None);
        let second = Consoles::of(&unlike, "R2".parse().ok()).unwrap();
        assert_eq!(
            (second.kap_unit.unwrap().unit().ucum, second.air_kerma_shown, second.rooms),
            ("Gy.cm2", true, 1)
        );
        assert_eq!(Consoles::of(&unlike, "R3".parse().ok()), None);
    }
}
