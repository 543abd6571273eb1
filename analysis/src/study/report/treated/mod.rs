//! Who was treated: how alike the arms were before the procedure, before and after weighting,
//! and whether each kind of patient is found in both.

mod baseline;
mod learning;
mod variables;

pub use baseline::{ArmLevel, ArmNumbers, Balance, BaselineLine, Level, Spread};
pub use learning::{LearningBand, LearningWindow};

pub(super) use learning::{BANDS, band_label, ordinals};

use super::Seen;
use super::prose::{capital, things};
use crate::methods::interval::NotEstimable;
use crate::methods::positivity::{Positivity, PropensityBounds, positivity};
use crate::methods::propensity::TargetPopulation;
use crate::study::adjustment::Choice;
use crate::study::arm::ByArm;
use crate::study::compared::Compared;
use crate::study::estimate::{Estimate, reason_in_words};
use crate::study::numerals;
use crate::study::population::Population;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::Strategy;
use serde::Serialize;
use std::collections::BTreeMap;

/// A standardised difference above which arms count as unlike, by convention \[austin2009\].
pub const UNLIKE: f64 = 0.1;

/// Who was treated, as intended.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WhoWasTreated {
    /// What was known before the procedure: the plan's covariates in its order, then the others.
    pub baseline: Vec<BaselineLine>,
    /// How alike the arms are, in words.
    pub baseline_in_words: String,
    /// The chance of zero-fluoroscopy by arm, in classes, and the range both arms share; weights
    /// are for patients whom either arm might have treated.
    pub overlap: Estimate<Positivity>,
    /// The same in words.
    pub overlap_in_words: String,
    /// Cases by quarter.
    pub quarters: Vec<QuarterCounts>,
    /// Zero-fluoroscopy cases by the operator's experience with it.
    pub learning: LearningWindow,
}

/// One quarter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct QuarterCounts {
    /// The quarter.
    pub quarter: Quarter,
    /// Cases as intended.
    pub as_intended: ByArm<u32>,
    /// Cases intended as near-zero.
    pub near_zero: u32,
}

impl WhoWasTreated {
    pub(super) fn new(seen: &Seen<'_>, compared: &Compared<'_>) -> Self {
        let choice = Choice::new(&compared.numbers);
        let propensity = choice.propensity();
        let weights = propensity.as_ref().map_err(|why| *why);
        let weights = weights.and_then(|fitted| fitted.weights(TargetPopulation::Overlap));
        let baseline = baseline::lines(seen, &choice, weights.as_ref().map_err(|why| *why));
        let overlap: Result<Positivity, NotEstimable> = propensity
            .as_ref()
            .map_err(|why| *why)
            .and_then(|fitted| positivity(fitted, TargetPopulation::Overlap, PropensityBounds::TENTH));
        Self {
            baseline_in_words: balance_in_words(&baseline),
            baseline,
            overlap_in_words: overlap_in_words(&overlap),
            overlap: overlap.into(),
            quarters: quarters(seen),
            learning: LearningWindow::new(seen),
        }
    }
}

fn quarters(seen: &Seen<'_>) -> Vec<QuarterCounts> {
    let mut quarters = BTreeMap::<Quarter, QuarterCounts>::new();
    for case in seen.kept() {
        let quarter = case.row.period;
        let counts = quarters.entry(quarter).or_insert(QuarterCounts {
            quarter,
            as_intended: ByArm::default(),
            near_zero: 0,
        });
        match Population::AsIntended.arm(&case.row) {
            Some(arm) => *counts.as_intended.of_mut(arm) += 1,
            None => counts.near_zero += u32::from(case.row.intended == Strategy::NearZero),
        }
    }
    quarters.into_values().collect()
}

fn balance_in_words(lines: &[BaselineLine]) -> String {
    let sizes = |of: fn(&BaselineLine) -> Option<f64>| lines.iter().filter_map(of).collect::<Vec<f64>>();
    let (before, after) = (sizes(|line| line.largest_before), sizes(|line| line.largest_after));
    if before.is_empty() {
        return "How alike the arms were cannot be told.".to_owned();
    }
    let unlike = |sizes: &[f64]| sizes.iter().filter(|size| **size > UNLIKE).count();
    let told = capital(&format!(
        "{} of {} differed by more than {UNLIKE} before weighting",
        numerals::in_words(unlike(&before)),
        things(before.len(), "item", "items")
    ));
    if after.is_empty() {
        return format!("{told}; there are no weights that make them alike.");
    }
    let largest = after.iter().copied().fold(0.0, f64::max);
    match unlike(&after) {
        0 => format!("{told}; none by more than {:.2} after.", largest),
        left => format!("{told}; {} after, the largest by {:.2}.", things(left, "item", "items"), largest),
    }
}

fn overlap_in_words(overlap: &Result<Positivity, NotEstimable>) -> String {
    let found = match overlap {
        Ok(found) => found,
        Err(why) => {
            return format!(
                "Whether like patients are found in both arms cannot be estimated, because {}.",
                reason_in_words(*why)
            );
        }
    };
    let outside = found.first.outside_shared_range + found.second.outside_shared_range;
    let all = (found.first.cases + found.second.cases) as f64;
    format!(
        "{} of cases lie outside the range of chances that both arms share; the two distributions have {} of their area in common.",
        numerals::percent(outside as f64 / all, 1),
        numerals::percent(found.overlap, 0)
    )
}
