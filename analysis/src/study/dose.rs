//! Dose in two parts: how many cases had no X-ray at all, and how much the
//! others had. Fluoroscopy time stands beside it and is never a dose.

use super::arm::{Arm, ByArm};
use super::cohort::CaseRow;
use super::estimate::Estimate;
use super::population::Population;
use super::share::Share;
use crate::methods::dose::geometric_mean_ratio_welch;
use crate::methods::interval::{self, Confidence, Interval, NotEstimable};
use crate::methods::sample::{PositiveSample, Probability, Sample, median, quantile_type_7};
use serde::Serialize;

/// Dose in each arm, as intended: cross-over counts where it was intended not to be.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DoseComparison {
    /// Cases in which the beam was never on.
    pub no_x_ray: ByArm<Share>,
    /// Air kerma in mGy among the cases with the beam on: the primary dose.
    pub air_kerma_mgy: DoseAmongExposed,
    /// Kerma-area product in Gy·cm² among them.
    pub kap_gy_cm2: DoseAmongExposed,
    /// Fluoroscopy time in seconds among them: a description, never a dose.
    pub fluoro_time_s: ByArm<Spread>,
}

/// A dose among the cases with the beam on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DoseAmongExposed {
    /// Each arm.
    pub arms: ByArm<Spread>,
    /// Ratio of geometric means (zero-fluoroscopy / conventional), Welch limits on the log scale.
    pub ratio_of_geometric_means: Estimate<Interval>,
}

/// How a quantity is spread among the cases with the beam on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spread {
    /// Cases with the beam on.
    pub exposed: u32,
    /// Of these, cases whose quantity was not reported.
    pub missing: u32,
    /// Quartiles of the reported; absent if none was.
    pub quartiles: Option<Quartiles>,
}

/// Median and quartiles (type 7).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Quartiles {
    /// First quartile.
    pub lower: f64,
    /// Median.
    pub median: f64,
    /// Third quartile.
    pub upper: f64,
}

impl DoseComparison {
    pub(super) fn new(rows: &[&CaseRow], level: Confidence) -> Self {
        Self {
            no_x_ray: Share::by_arm(rows, level, |_| true, |case| !case.beam_on()),
            air_kerma_mgy: among_exposed(rows, level, |case| case.air_kerma_mgy),
            kap_gy_cm2: among_exposed(rows, level, |case| case.kap_gy_cm2),
            fluoro_time_s: exposed_values(rows, |case| case.fluoro_time_s).map(Values::spread),
        }
    }
}

/// The reported values of the exposed cases of one arm.
#[derive(Default)]
struct Values {
    reported: Vec<f64>,
    missing: u32,
}

impl Values {
    fn spread(&self) -> Spread {
        let reported = self.reported.len() as u32;
        let sample = Sample::new(self.reported.clone()).ok();
        Spread {
            exposed: reported + self.missing,
            missing: self.missing,
            quartiles: sample.as_ref().and_then(quartiles),
        }
    }

    fn positive(&self, arm: interval::Arm) -> Result<PositiveSample, NotEstimable> {
        let found = self.reported.len();
        PositiveSample::new(self.reported.clone()).map_err(|_| NotEstimable::TooFewValues {
            arm,
            found,
            needed: 2,
        })
    }
}

pub(super) fn quartiles(sample: &Sample) -> Option<Quartiles> {
    let quantile = |q| Probability::new(q).ok().map(|q| quantile_type_7(sample, q));
    Some(Quartiles { lower: quantile(0.25)?, median: median(sample), upper: quantile(0.75)? })
}

fn exposed_values(rows: &[&CaseRow], quantity: impl Fn(&CaseRow) -> Option<f64>) -> ByArm<Values> {
    let mut arms = ByArm::<Values>::default();
    for case in rows.iter().filter(|case| case.beam_on()) {
        if let Some(arm) = Population::AsIntended.arm(case) {
            let values = arms.of_mut(arm);
            match quantity(case) {
                Some(value) => values.reported.push(value),
                None => values.missing += 1,
            }
        }
    }
    arms
}

fn among_exposed(
    rows: &[&CaseRow],
    level: Confidence,
    quantity: impl Fn(&CaseRow) -> Option<f64>,
) -> DoseAmongExposed {
    let values = exposed_values(rows, quantity);
    let ratio = || {
        let first = values.of(Arm::ZeroFluoroscopy).positive(interval::Arm::First)?;
        let second = values.of(Arm::Conventional).positive(interval::Arm::Second)?;
        Ok(geometric_mean_ratio_welch(&first, &second, level)?.interval)
    };
    DoseAmongExposed { ratio_of_geometric_means: ratio().into(), arms: values.map(Values::spread) }
}
