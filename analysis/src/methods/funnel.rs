//! Control limits of a funnel plot: how far a centre of a given size may lie from the target by chance.

use std::num::NonZeroU32;

use serde::{Deserialize, Serialize};

use super::counts::EventCount;
use super::distribution::{Tails, beta_tails};
use super::interval::{Confidence, NotEstimable};

/// Why a number is not a target proportion.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("a target of {proportion} does not lie between 0.000001 and 0.999999; write 2 % as 0.02")]
pub struct TargetError {
    /// The number given.
    pub proportion: f64,
}

/// The proportion that centres are compared with, a millionth away from 0 and 1 at least.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Target(f64);

impl Target {
    /// A proportion such as 0.02.
    ///
    /// # Errors
    /// Too near to 0 or 1, outside, or not a number.
    pub fn new(proportion: f64) -> Result<Self, TargetError> {
        if (1e-6..=1.0 - 1e-6).contains(&proportion) {
            Ok(Self(proportion))
        } else {
            Err(TargetError { proportion })
        }
    }

    /// The proportion of all centres together.
    ///
    /// # Errors
    /// No centre, or (nearly) no case or every case with the event: then chance has no spread.
    pub fn pooled(centres: &[EventCount]) -> Result<Self, NotEstimable> {
        let events: u64 = centres.iter().map(|centre| u64::from(centre.events())).sum();
        let cases: u64 = centres.iter().map(|centre| u64::from(centre.total())).sum();
        Self::new(events as f64 / cases as f64).map_err(|_| NotEstimable::NoVariation)
    }

    /// The proportion.
    pub fn proportion(self) -> f64 {
        self.0
    }

    /// Standard error of a proportion of so many cases at the target.
    pub(super) fn standard_error(self, cases: f64) -> f64 {
        (self.0 * (1.0 - self.0) / cases).sqrt()
    }
}

impl TryFrom<f64> for Target {
    type Error = TargetError;

    fn try_from(proportion: f64) -> Result<Self, TargetError> {
        Self::new(proportion)
    }
}

impl From<Target> for f64 {
    fn from(target: Target) -> f64 {
        target.0
    }
}

/// Limits of a funnel at one number of cases.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FunnelLimits {
    /// The target.
    pub target: Target,
    /// Lower limit; below 0 when even no event would be ordinary.
    pub lower: f64,
    /// Upper limit; above 1 when even nothing but events would be ordinary.
    pub upper: f64,
    /// Share of centres on target that lie between the limits.
    pub level: Confidence,
}

impl FunnelLimits {
    /// The same limits held within 0 and 1, as a plot draws them.
    #[must_use]
    pub fn within_unit(self) -> Self {
        Self { lower: self.lower.clamp(0.0, 1.0), upper: self.upper.clamp(0.0, 1.0), ..self }
    }
}

/// Normal control limits of a funnel.
///
/// Formula: θ ± z√(θ(1−θ)/n), with θ the target, n the cases and z the two-sided normal quantile.
/// Units: proportions between 0 and 1; the limits are not clipped.
/// Edges: for few expected events the limits are symmetric where chance is not; use the exact ones.
/// Source: [spiegelhalter2005a].
/// Checked: tests/numbers/funnel.csv.
pub fn normal_funnel_limits(target: Target, cases: NonZeroU32, level: Confidence) -> FunnelLimits {
    let reach = level.z() * target.standard_error(f64::from(cases.get()));
    FunnelLimits { target, lower: target.0 - reach, upper: target.0 + reach, level }
}

/// Exact control limits of a funnel, interpolated between counts.
///
/// Formula: for p = α/2 and 1 − α/2, with X binomial of n cases at the target, r the smallest count with
/// P(X ≤ r) ≥ p and a = (P(X ≤ r) − p)/P(X = r), the limit is (r − a)/n.
/// Units: proportions between 0 and 1; the limits are not clipped.
/// Edges: a limit at r = 0 lies below 0. The upper one does so where any event at all is rarer than
/// α/2: a single event is then outside, and the target itself lies above the limit. Counting non-events instead gives
/// the limits upside down, moved by 1/n: the interpolation leans downward.
/// Source: [spiegelhalter2005a].
/// Checked: tests/numbers/funnel.csv.
pub fn exact_funnel_limits(target: Target, cases: NonZeroU32, level: Confidence) -> FunnelLimits {
    let tail = level.tail();
    let binomial = Binomial { target, cases: cases.get() };
    let limit = |wanted| binomial.interpolated_quantile(wanted) / f64::from(cases.get());
    FunnelLimits {
        target,
        lower: limit(Tails { lower: tail, upper: 1.0 - tail }),
        upper: limit(Tails { lower: 1.0 - tail, upper: tail }),
        level,
    }
}

struct Binomial {
    target: Target,
    cases: u32,
}

impl Binomial {
    /// P(X ≤ count) and P(X > count).
    fn tails(&self, count: u32) -> Tails {
        if count >= self.cases {
            return Tails { lower: 1.0, upper: 0.0 };
        }
        let above = beta_tails(f64::from(count) + 1.0, f64::from(self.cases - count), self.target.0);
        Tails { lower: above.upper, upper: above.lower }
    }

    /// How far P(X ≤ count) has risen beyond the wanted tail; differences are taken in the smaller
    /// tail, which still has its digits.
    fn excess(&self, count: u32, wanted: Tails) -> f64 {
        let reached = self.tails(count);
        if wanted.lower <= wanted.upper { reached.lower - wanted.lower } else { wanted.upper - reached.upper }
    }

    fn interpolated_quantile(&self, wanted: Tails) -> f64 {
        // P(X ≤ cases) = 1 always suffices, so the answer lies in 0..=cases throughout.
        let (mut low, mut high) = (0, self.cases);
        while low < high {
            let middle = low + (high - low) / 2;
            if self.excess(middle, wanted) >= 0.0 {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        let count = high;
        let excess = self.excess(count, wanted);
        let short = if count == 0 { -wanted.lower } else { self.excess(count - 1, wanted) };
        f64::from(count) - excess / (excess - short)
    }
}
