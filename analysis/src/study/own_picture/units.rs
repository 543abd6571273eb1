//! Quarters in which a unit of dose seems to have changed: the median jumped by ten, a hundred
//! or a thousand, or another unit was typed from then on.

use super::{FEW, OwnCase, steady_median};
use quietbeam_schema::period::Quarter;
use std::collections::BTreeMap;

/// How far, in powers of ten, a jump may lie from a whole power to look like a changed unit:
/// a factor from 5.6 to 17.8 looks like ten. Engineering judgement, no source.
const NEAR: f64 = 0.25;

/// A dose and its canonical unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum DoseUnit {
    /// Air kerma, in mGy.
    AirKerma,
    /// Kerma-area product, in Gy·cm².
    KermaArea,
}

impl DoseUnit {
    const ALL: [Self; 2] = [Self::AirKerma, Self::KermaArea];

    /// The name in running text.
    pub fn name(self) -> &'static str {
        match self {
            Self::AirKerma => "air kerma",
            Self::KermaArea => "kerma-area product",
        }
    }

    /// The canonical unit as shown.
    pub fn unit(self) -> &'static str {
        match self {
            Self::AirKerma => "mGy",
            Self::KermaArea => "Gy·cm²",
        }
    }

    fn value(self, case: &OwnCase) -> Option<f64> {
        match self {
            Self::AirKerma => case.row.air_kerma_mgy,
            Self::KermaArea => case.row.kap_gy_cm2,
        }
    }
}

/// What points at a changed unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitChangeKind {
    /// The median jumped by about this power of ten: 1 is tenfold, −2 a hundredth.
    Jump {
        /// The power.
        power: i32,
    },
    /// Most values were typed in another unit, and the medians agree: the change was declared.
    Declared {
        /// The unit typed before.
        before: &'static str,
        /// The unit typed from then on.
        after: &'static str,
    },
}

/// A quarter in which a unit seems to have changed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnitChange {
    /// Of which dose.
    pub dose: DoseUnit,
    /// The last quarter with enough doses before.
    pub before: Quarter,
    /// The quarter from which on it looks changed.
    pub from: Quarter,
    /// The medians of the two quarters, in the canonical unit.
    pub medians: (f64, f64),
    /// What points at it.
    pub kind: UnitChangeKind,
}

/// Doses of one quarter.
#[derive(Default)]
struct OfQuarter {
    doses: Vec<f64>,
    units: BTreeMap<&'static str, u32>,
}

/// Every change between neighbouring quarters with at least [`FEW`] exposed cases each.
pub(super) fn changes(cases: &[OwnCase]) -> Vec<UnitChange> {
    DoseUnit::ALL.into_iter().flat_map(|dose| changes_of(dose, cases)).collect()
}

fn changes_of(dose: DoseUnit, cases: &[OwnCase]) -> Vec<UnitChange> {
    let mut quarters = BTreeMap::<Quarter, OfQuarter>::new();
    for case in cases.iter().filter(|case| case.beam_on()) {
        let Some(value) = dose.value(case) else { continue };
        let quarter = quarters.entry(case.row.period).or_default();
        quarter.doses.push(value);
        if let Some(unit) = case.units[dose as usize] {
            *quarter.units.entry(unit).or_default() += 1;
        }
    }
    let steady: Vec<(Quarter, f64, &'static str)> = quarters
        .iter()
        .filter(|(_, of)| of.doses.len() >= FEW as usize)
        .filter_map(|(quarter, of)| Some((*quarter, steady_median(&of.doses)?.estimate, of.commonest()?)))
        .collect();
    let neighbours = steady.iter().zip(steady.iter().skip(1));
    neighbours
        .filter_map(|((before, old, unit), (from, new, other))| {
            let kind = match power_of(*old, *new) {
                Some(power) => UnitChangeKind::Jump { power },
                None if unit != other => UnitChangeKind::Declared { before: unit, after: other },
                None => return None,
            };
            Some(UnitChange { dose, before: *before, from: *from, medians: (*old, *new), kind })
        })
        .collect()
}

impl OfQuarter {
    fn commonest(&self) -> Option<&'static str> {
        self.units.iter().max_by_key(|(_, count)| **count).map(|(unit, _)| *unit)
    }
}

/// The power of ten by which a median jumped, from a thousandth to a thousandfold.
fn power_of(old: f64, new: f64) -> Option<i32> {
    let jump = (new / old).log10();
    let power = jump.round();
    let like_a_unit = (1.0..=3.0).contains(&power.abs()) && (jump - power).abs() <= NEAR;
    like_a_unit.then_some(power as i32)
}

#[cfg(test)]
mod tests {
    use super::power_of;

    #[test]
    fn only_whole_powers_of_ten_look_like_a_changed_unit() {
        for (new, power) in [
            (10.0, Some(1)),
            (6.0, Some(1)),
            (17.0, Some(1)),
            (100.0, Some(2)),
            (900.0, Some(3)),
            (0.1, Some(-1)),
            (0.001, Some(-3)),
            (1.0, None),
            (3.0, None),
            (30.0, None),
            (0.4, None),
            (10_000.0, None),
        ] {
            assert_eq!(power_of(1.0, new), power, "{new}");
        }
        assert_eq!(power_of(0.0, 1.0), None);
        assert_eq!(power_of(0.0, 0.0), None);
    }
}
