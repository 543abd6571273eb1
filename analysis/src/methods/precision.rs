//! How wide an interval will be before there are cases. The interval's method is named by
//! handing over its function, so that planning and analysis cannot differ.

use std::num::NonZeroU32;

use serde::{Deserialize, Serialize};

use super::counts::{EventCount, TwoArms};
use super::interval::{Confidence, Interval, RatioInterval};
use super::plan::{Allocation, ArmSizes, CannotPlan, MOST_CASES, PlanError, Proportions, checked_number};

/// A proportion assumed to be true of one group, strictly between 0 and 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct AssumedProportion(f64);

impl AssumedProportion {
    /// A proportion such as 0.02.
    ///
    /// # Errors
    /// 0 or less, 1 or more, or not a number.
    pub fn new(proportion: f64) -> Result<Self, PlanError> {
        if proportion > 0.0 && proportion < 1.0 {
            Ok(Self(proportion))
        } else {
            Err(PlanError::OneProportion { proportion })
        }
    }
}

/// Half the width an interval is wanted to have on average, strictly between 0 and 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct WantedHalfWidth(f64);

impl WantedHalfWidth {
    /// A half-width such as 0.01: one percentage point either way.
    ///
    /// # Errors
    /// 0 or less, 1 or more, or not a number.
    pub fn new(half_width: f64) -> Result<Self, PlanError> {
        if half_width > 0.0 && half_width < 1.0 {
            Ok(Self(half_width))
        } else {
            Err(PlanError::HalfWidth { half_width })
        }
    }
}

checked_number!(AssumedProportion, WantedHalfWidth);

/// Average half-width of the interval of one proportion.
///
/// Formula: Σ b(x; n, p) (upper(x) − lower(x))/2 with the binomial probability b. Counts are
/// taken at strides of a quarter of their standard deviation, at least 1: the sum of a smooth
/// curve on such a lattice is already its sum over all counts to a double's precision.
/// Units: a proportion.
/// Edges: the width that one sample will have varies around the average.
/// Source: [newcombe1998a].
/// Checked: tests/numbers/precision.csv.
pub fn expected_half_width(
    cases: NonZeroU32,
    proportion: AssumedProportion,
    level: Confidence,
    interval: impl Fn(EventCount, Confidence) -> Interval,
) -> f64 {
    let group = EventCount::none_of(cases);
    likely_counts(cases, proportion.0, 0)
        .into_iter()
        .map(|(x, weight)| weight * half_width(interval(EventCount::of_same_total(group, x), level)))
        .sum()
}

/// Average half-width of the interval of a difference.
///
/// Formula: Σ b(x1; n1, p1) b(x2; n2, p2) (upper − lower)/2, at strides as for one proportion.
/// Units: a difference of proportions.
/// Edges: the width that one sample will have varies around the average.
/// Source: [newcombe1998b].
/// Checked: tests/numbers/precision.csv.
pub fn expected_difference_half_width(
    sizes: ArmSizes,
    proportions: Proportions,
    level: Confidence,
    interval: impl Fn(TwoArms, Confidence) -> Interval,
) -> f64 {
    let likely = [(sizes.first, proportions.first()), (sizes.second, proportions.second())]
        .map(|(cases, p)| likely_counts(cases, p, 0));
    average(sizes, &likely, |arms| half_width(interval(arms, level)))
}

/// How far the interval of a ratio reaches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RatioReach {
    /// Square root of the upper over the lower limit: so many times the estimate either way.
    pub factor: f64,
    /// Probability of a sample with an arm without events, whose interval ends at 0 or nowhere.
    pub unbounded: f64,
}

/// Average reach of the interval of a ratio, as a factor.
///
/// Formula: exp(Σ b(x1; n1, p1) b(x2; n2, p2) ln(upper/lower)/2) with the binomial probabilities b
/// given at least one event in that arm, at strides as for one proportion; an arm is without events
/// with the probability 1 − (1 − (1−p1)^n1)(1 − (1−p2)^n2).
/// Units: a factor of 1 or more; a probability.
/// Edges: the average is one of logarithms and leaves out the samples with an arm without events;
/// where those are likely, their probability says more than the factor does.
/// Source: [newcombe1998b], its average width taken of logarithms.
/// Checked: tests/numbers/precision_ratio.csv.
pub fn expected_ratio_reach(
    sizes: ArmSizes,
    proportions: Proportions,
    level: Confidence,
    interval: impl Fn(TwoArms, Confidence) -> RatioInterval,
) -> RatioReach {
    let arms = [(sizes.first, proportions.first()), (sizes.second, proportions.second())];
    let likely = arms.map(|(cases, p)| likely_counts(cases, p, 1));
    let log_reach = |arms| {
        let interval = interval(arms, level);
        (interval.upper.or_infinity() / interval.lower).ln() / 2.0
    };
    let [first, second] = arms.map(|(cases, p)| (f64::from(cases.get()) * (-p).ln_1p()).exp());
    RatioReach {
        factor: average(sizes, &likely, log_reach).exp(),
        unbounded: first + second - first * second,
    }
}

/// The average over the tables of two arms.
fn average(sizes: ArmSizes, [first, second]: &[Vec<(u32, f64)>; 2], of: impl Fn(TwoArms) -> f64) -> f64 {
    let arms = sizes.without_events();
    let mut sum = 0.0;
    for (x1, first_weight) in first {
        let first = EventCount::of_same_total(arms.first, *x1);
        for (x2, second_weight) in second {
            let weight = first_weight * second_weight;
            if weight > NEGLIGIBLE {
                let second = EventCount::of_same_total(arms.second, *x2);
                sum += weight * of(TwoArms { first, second });
            }
        }
    }
    sum
}

/// Cases for which the interval of one proportion has the wanted half-width on average.
///
/// Formula: an n whose expected half-width is at most the wanted one while that of n − 1 is
/// more, found by doubling and halving.
/// Units: cases.
/// Edges: more than a thousand million cases are no plan; a method whose width can be 0 (Wald)
/// is satisfied by a single case.
/// Source: [newcombe1998a].
/// Checked: tests/numbers/precision.csv.
pub fn cases_for_half_width(
    wanted: WantedHalfWidth,
    proportion: AssumedProportion,
    level: Confidence,
    interval: impl Fn(EventCount, Confidence) -> Interval,
) -> Result<NonZeroU32, CannotPlan> {
    fewest(|cases| expected_half_width(cases, proportion, level, &interval) <= wanted.0)
}

/// A comparison whose precision is planned.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlannedPrecision {
    /// Half the width wanted on average.
    pub half_width: WantedHalfWidth,
    /// What is assumed to be true.
    pub proportions: Proportions,
    /// n2/n1.
    pub allocation: Allocation,
    /// Level of the interval.
    pub level: Confidence,
}

/// Cases for which the interval of a difference has the wanted half-width on average.
///
/// Formula: as for one proportion, with n2 = θn1 rounded up.
/// Units: cases of both arms.
/// Edges: as for one proportion.
/// Source: [newcombe1998b].
/// Checked: tests/numbers/precision.csv.
pub fn cases_for_difference_half_width(
    planned: &PlannedPrecision,
    interval: impl Fn(TwoArms, Confidence) -> Interval,
) -> Result<ArmSizes, CannotPlan> {
    let sizes = |first: NonZeroU32| {
        let second = planned.allocation.second(f64::from(first.get()));
        ArmSizes { first, second: NonZeroU32::MIN.saturating_add(second as u32 - 1) }
    };
    let first = fewest(|first| {
        let sizes = sizes(first);
        expected_difference_half_width(sizes, planned.proportions, planned.level, &interval)
            <= planned.half_width.0
    })?;
    let sizes = sizes(first);
    if sizes.second.get() > MOST_CASES { Err(CannotPlan::TooManyCases) } else { Ok(sizes) }
}

fn half_width(interval: Interval) -> f64 {
    (interval.upper - interval.lower) / 2.0
}

/// The first number of cases that is enough while one fewer is not.
fn fewest(enough: impl Fn(NonZeroU32) -> bool) -> Result<NonZeroU32, CannotPlan> {
    let (mut too_few, mut plenty) = (0, NonZeroU32::MIN);
    while !enough(plenty) {
        too_few = plenty.get();
        plenty = plenty.saturating_mul(TWO);
        if plenty.get() > MOST_CASES {
            return Err(CannotPlan::TooManyCases);
        }
    }
    while plenty.get() - too_few > 1 {
        let middle = NonZeroU32::MIN.saturating_add(too_few + (plenty.get() - too_few) / 2 - 1);
        if enough(middle) {
            plenty = middle;
        } else {
            too_few = middle.get();
        }
    }
    Ok(plenty)
}

const TWO: NonZeroU32 = NonZeroU32::MIN.saturating_add(1);

/// Probability relative to the most likely count below which a count changes nothing.
const NEGLIGIBLE: f64 = 1e-18;

/// Counts from `least` on that matter, with their binomial probabilities given those; every k-th
/// where they lie close, and then `least` is none that matters.
fn likely_counts(cases: NonZeroU32, p: f64, least: u32) -> Vec<(u32, f64)> {
    let n = f64::from(cases.get());
    let odds = p / (1.0 - p);
    let stride = (((n * p * (1.0 - p)).sqrt() / 4.0) as u32).max(1);
    let mode = ((n + 1.0) * p).floor().clamp(f64::from(least), n) as u32;
    let mut counts = vec![(mode, 1.0)];
    let mut walk = |step: fn(u32) -> Option<u32>, ratio: &dyn Fn(f64) -> f64| {
        let (mut x, mut weight, mut since) = (mode, 1.0, 0);
        while let Some(next) = step(x).filter(|next| (least..=cases.get()).contains(next)) {
            weight *= ratio(f64::from(x));
            (x, since) = (next, since + 1);
            if weight < NEGLIGIBLE {
                break;
            }
            if since == stride {
                counts.push((x, weight));
                since = 0;
            }
        }
    };
    walk(|x| x.checked_add(1), &|x| (n - x) / (x + 1.0) * odds);
    walk(|x| x.checked_sub(1), &|x| x / (n - x + 1.0) / odds);
    let total: f64 = counts.iter().map(|(_, weight)| weight).sum();
    counts.iter_mut().for_each(|(_, weight)| *weight /= total);
    counts
}
