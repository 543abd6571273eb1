//! Dose in two parts: how many cases had no X-ray, and how much the others had. Zeros never
//! stand among the doses.

use super::super::cohort::CaseRow;
use super::super::share::Share;
use super::{FEW, Interval, LEVEL, OwnCase, steady_median};
use quietbeam_schema::vocabulary::{Coded, Strategy};
use serde::Serialize;

/// Classes of air kerma: four to a tenfold step.
pub const BINS: usize = 16;

/// The first and last air kerma of the classes, in mGy. What lies beyond counts in the class
/// at that end.
pub const BIN_RANGE_MGY: (f64, f64) = (0.1, 1_000.0);

/// The European diagnostic reference level of electrophysiological procedures, all kinds
/// together: 75th percentile of the medians of centres. It applies to the median of a centre
/// and says nothing about a patient (Siiskonen and others, Physica Medica 2018;54:42–48).
pub const KAP_REFERENCE_LEVEL_GY_CM2: f64 = 12.0;

/// The doses of a centre.
#[derive(Debug, Clone, PartialEq)]
pub struct DosePicture {
    /// All cases.
    pub all: DoseSpread,
    /// The cases of each intended strategy.
    pub by_strategy: Vec<(Strategy, DoseSpread)>,
}

/// The doses of some cases.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DoseSpread {
    /// The cases.
    pub cases: u32,
    /// Of these, with the beam on.
    pub exposed: u32,
    /// Those without X-ray; `None` with too few cases to say.
    pub no_x_ray: Option<Share>,
    /// Air kerma in mGy of those with the beam on; `None` with too few to say.
    pub air_kerma_mgy: Option<Exposed>,
    /// The median kerma-area product in Gy·cm² of those with the beam on; likewise.
    pub kap_median_gy_cm2: Option<Interval>,
}

/// Doses of cases with the beam on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Exposed {
    /// Their median, with limits that are observed doses.
    pub median: Interval,
    /// Cases whose dose was reported.
    pub reported: u32,
    /// How many lie in each class.
    pub bins: [u32; BINS],
}

impl DosePicture {
    pub(super) fn of(cases: &[OwnCase]) -> Self {
        let rows = || cases.iter().map(|case| &case.row);
        let of = |strategy| DoseSpread::of(rows().filter(move |row| row.intended == strategy));
        Self {
            all: DoseSpread::of(rows()),
            by_strategy: Strategy::all().iter().map(|strategy| (*strategy, of(*strategy))).collect(),
        }
    }
}

impl DoseSpread {
    /// The doses of these cases; with fewer than [`FEW`] little is said.
    pub(in crate::study) fn of<'a>(cases: impl Iterator<Item = &'a CaseRow>) -> Self {
        let (mut all, mut exposed) = (0, 0);
        let (mut kerma, mut area) = (Vec::new(), Vec::new());
        for case in cases {
            all += 1;
            if case.beam_on() {
                exposed += 1;
                kerma.extend(case.air_kerma_mgy);
                area.extend(case.kap_gy_cm2);
            }
        }
        Self {
            cases: all,
            exposed,
            no_x_ray: (all >= FEW).then(|| Share::new(all - exposed, all, LEVEL)),
            air_kerma_mgy: Exposed::of(&kerma),
            kap_median_gy_cm2: steady_median(&area),
        }
    }
}

impl Exposed {
    fn of(doses: &[f64]) -> Option<Self> {
        let median = steady_median(doses)?;
        let mut bins = [0; BINS];
        for dose in doses {
            bins[bin(*dose)] += 1;
        }
        Some(Self { median, reported: doses.len() as u32, bins })
    }
}

/// The class of a dose.
fn bin(dose: f64) -> usize {
    let (first, last) = BIN_RANGE_MGY;
    let place = (dose / first).log10() / (last / first).log10() * BINS as f64;
    // A class holds its lower border; a dose typed as 10 must not fall short of it by rounding.
    ((place + 1e-9).floor().max(0.0) as usize).min(BINS - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_class_holds_its_lower_border_and_the_ends_hold_what_lies_beyond() {
        let found = [0.0001, 0.1, 0.17, 0.18, 1.0, 10.0, 100.0, 999.9, 1_000.0, 20_000.0].map(bin);
        assert_eq!(found, [0, 0, 0, 1, 4, 8, 12, 15, 15, 15]);
    }
}
