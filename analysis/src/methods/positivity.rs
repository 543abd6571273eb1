//! Whether patients like each case are found in both arms.

use serde::{Deserialize, Serialize};

use super::interval::{Arm, NotEstimable};
use super::propensity::{Propensity, TargetPopulation};

/// Why two numbers are not bounds of a propensity.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("{low} and {high} are not bounds of a propensity: write for instance 0.1 and 0.9")]
pub struct PropensityBoundsError {
    /// Lower bound given.
    pub low: f64,
    /// Upper bound given.
    pub high: f64,
}

/// Propensities beyond which a case has hardly a counterpart in the other arm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PropensityBounds {
    low: f64,
    high: f64,
}

impl PropensityBounds {
    /// A rule of thumb from the literature on trimming \[crump2009\]: 0.1 and 0.9.
    pub const TENTH: Self = Self { low: 0.1, high: 0.9 };

    /// Bounds such as 0.05 and 0.95.
    ///
    /// # Errors
    /// Not 0 < low < high < 1.
    pub fn new(low: f64, high: f64) -> Result<Self, PropensityBoundsError> {
        if 0.0 < low && low < high && high < 1.0 {
            Ok(Self { low, high })
        } else {
            Err(PropensityBoundsError { low, high })
        }
    }
}

/// Classes of equal width into which propensities are counted.
pub const CLASSES: usize = 20;

/// The propensities of one arm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ArmPositivity {
    /// Cases of the arm, at least 1.
    pub cases: usize,
    /// Smallest propensity.
    pub smallest: f64,
    /// Largest propensity.
    pub largest: f64,
    /// Cases below the lower bound.
    pub below: usize,
    /// Cases above the upper bound.
    pub above: usize,
    /// Cases outside the range that both arms share.
    pub outside_shared_range: usize,
    /// Cases in each class of propensity from 0 to 1, each class with its lower end.
    pub by_class: [usize; CLASSES],
    /// Largest share of one case in the weight of the arm.
    pub largest_weight_share: f64,
    /// Kish's effective sample size of the weights.
    pub effective_sample_size: f64,
}

/// Positivity of a weighted comparison.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Positivity {
    /// The population the weights are for.
    pub target: TargetPopulation,
    /// The first arm.
    pub first: ArmPositivity,
    /// The second arm.
    pub second: ArmPositivity,
    /// Lower and upper end of the range of propensity in which both arms have cases; `None` when
    /// the ranges do not meet.
    pub shared_range: Option<(f64, f64)>,
    /// Common area of the two distributions over the classes: 0 apart, 1 alike.
    pub overlap: f64,
}

/// Beyond what the order of adding up can move a propensity, as a share of it.
const ROUNDING: f64 = 1e-12;

/// Positivity report.
///
/// Formula: range of the propensity by arm; shared range from the larger minimum to the smaller
/// maximum; overlap = Σ over 20 classes min(share of the first arm, share of the second).
/// Units: propensities and shares between 0 and 1, counts of cases.
/// Edges: a propensity on a bound is inside it; one of exactly 1 belongs to the last class. Cases with
/// the same covariates have the same propensity but for the last digits, so that one nearer to the
/// end of the shared range than 10⁻¹² of it is at it.
/// Source: [crump2009], [austin_stuart2015], [kish1965].
/// Checked: tests/numbers/positivity.csv.
pub fn positivity(
    propensity: &Propensity<'_>,
    target: TargetPopulation,
    bounds: PropensityBounds,
) -> Result<Positivity, NotEstimable> {
    let weights = propensity.weights(target)?;
    let (mut first, mut second) = (scores(propensity, Arm::First), scores(propensity, Arm::Second));
    let range = |scores: &[f64]| {
        scores.iter().fold((1.0_f64, 0.0_f64), |(low, high), score| (low.min(*score), high.max(*score)))
    };
    let (one, two) = (range(&first), range(&second));
    let shared = (one.0.max(two.0), one.1.min(two.1));
    let report = |arm: Arm, scores: &mut Vec<f64>, (smallest, largest): (f64, f64)| {
        let counted = |keep: &dyn Fn(f64) -> bool| scores.iter().filter(|score| keep(**score)).count();
        ArmPositivity {
            cases: scores.len(),
            smallest,
            largest,
            below: counted(&|score| score < bounds.low),
            above: counted(&|score| score > bounds.high),
            outside_shared_range: counted(&|score| {
                score < shared.0 * (1.0 - ROUNDING) || score > shared.1 * (1.0 + ROUNDING)
            }),
            by_class: by_class(scores),
            largest_weight_share: weights.largest_share(arm),
            effective_sample_size: weights.effective_sample_size(arm),
        }
    };
    let first = report(Arm::First, &mut first, one);
    let second = report(Arm::Second, &mut second, two);
    Ok(Positivity {
        target,
        overlap: overlap(&first, &second),
        first,
        second,
        shared_range: (shared.0 <= shared.1).then_some(shared),
    })
}

fn scores(propensity: &Propensity<'_>, arm: Arm) -> Vec<f64> {
    let wanted = arm == Arm::First;
    let cases = propensity.in_first_arm().iter().zip(propensity.scores());
    cases.filter(|(first, _)| **first == wanted).map(|(_, score)| *score).collect()
}

fn by_class(scores: &[f64]) -> [usize; CLASSES] {
    let mut counts = [0; CLASSES];
    for score in scores {
        counts[((score * CLASSES as f64) as usize).min(CLASSES - 1)] += 1;
    }
    counts
}

fn overlap(first: &ArmPositivity, second: &ArmPositivity) -> f64 {
    let share = |arm: &ArmPositivity, class: usize| arm.by_class[class] as f64 / arm.cases as f64;
    (0..CLASSES).map(|class| share(first, class).min(share(second, class))).sum()
}
