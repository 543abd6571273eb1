//! Posterior probability that a margin is met, from beta priors independent between the arms.

use serde::{Deserialize, Serialize};

use super::counts::EventCount;
use super::distribution::{
    Point, Share, Tails, beta_quantile, beta_upper_quantile, front, integral, root_between, tails,
};
use super::interval::{Confidence, Interval, IntervalMethod};
use super::non_inferiority::Margin;
use super::null_test::{NullDifference, NullRatio};
use super::ratio_margin::RatioMargin;
use super::sample::Probability;

/// Why two numbers are not the shapes of a prior.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("a beta prior with shapes {events} and {non_events}: each must lie between 0.1 and 1000000")]
pub struct PriorError {
    /// Shape that counts like events.
    pub events: f64,
    /// Shape that counts like non-events.
    pub non_events: f64,
}

/// Beta prior: shapes between 0.1 and a million, which count like events and non-events already
/// seen. Below 0.1 so much mass sits beside 0 and 1 that no double can be near enough.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "UncheckedPrior")]
pub struct BetaPrior {
    events: f64,
    non_events: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct UncheckedPrior {
    events: f64,
    non_events: f64,
}

impl TryFrom<UncheckedPrior> for BetaPrior {
    type Error = PriorError;

    fn try_from(raw: UncheckedPrior) -> Result<Self, PriorError> {
        Self::new(raw.events, raw.non_events)
    }
}

impl BetaPrior {
    /// Every proportion as likely as any other.
    pub const UNIFORM: Self = Self { events: 1.0, non_events: 1.0 };

    /// The prior of Jeffreys.
    pub const JEFFREYS: Self = Self { events: 0.5, non_events: 0.5 };

    /// Shapes such as 2 and 18: a belief of 10 % worth twenty cases.
    ///
    /// # Errors
    /// Below 0.1, above a million, or not a number.
    pub fn new(events: f64, non_events: f64) -> Result<Self, PriorError> {
        let usable = 0.1..=1e6;
        if usable.contains(&events) && usable.contains(&non_events) {
            Ok(Self { events, non_events })
        } else {
            Err(PriorError { events, non_events })
        }
    }
}

/// Belief about the proportion of one arm after its cases: a beta distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Posterior {
    a: f64,
    b: f64,
}

/// Posterior of one proportion.
///
/// Formula: Beta(a + x, b + n − x) from x events in n cases and the prior Beta(a, b).
/// Units: a proportion.
/// Edges: no event and only events are ordinary.
/// Source: [gelman2013].
/// Checked: tests/numbers/posterior.csv.
pub fn beta_posterior(counts: EventCount, prior: BetaPrior) -> Posterior {
    Posterior { a: prior.events + counts.x(), b: prior.non_events + counts.y() }
}

impl Posterior {
    /// Mean of the proportion, a/(a + b).
    pub fn mean(self) -> f64 {
        self.a / (self.a + self.b)
    }

    /// Standard deviation of the proportion.
    pub fn standard_deviation(self) -> f64 {
        self.variance().sqrt()
    }

    fn variance(self) -> f64 {
        let n = self.a + self.b;
        self.a / n * (self.b / n) / (n + 1.0)
    }

    /// The proportion that the belief puts below with this probability; 0 and 1 at the ends.
    pub fn quantile(self, below: Probability) -> f64 {
        let q = below.probability();
        if q <= 0.0 {
            0.0
        } else if q >= 1.0 {
            1.0
        } else if q <= 0.5 {
            beta_quantile(self.a, self.b, q)
        } else {
            beta_upper_quantile(self.a, self.b, 1.0 - q)
        }
    }

    /// Middle of the logit of the proportion and places around it that hold its mass.
    fn landmarks(self) -> impl Iterator<Item = f64> {
        let (middle, stride) = ((self.a / self.b).ln(), (1.0 / self.a + 1.0 / self.b).sqrt());
        [-40.0, -15.0, -6.0, -2.0, 0.0, 2.0, 6.0, 15.0, 40.0].into_iter().map(move |k| middle + k * stride)
    }
}

/// A line in the square of both proportions: the second proportion on it for a first one.
struct Line<There, Back> {
    second: There,
    first: Back,
}

/// Beyond these logits a proportion is 0 or 1 to a double's last digit but one.
const EDGE: f64 = 700.0;

impl<There: Fn(Share) -> Share, Back: Fn(f64) -> f64> Line<There, Back> {
    /// Probabilities that the first proportion lies below and above the line.
    ///
    /// Over the logit of the first proportion the density has no singular end. The panels break
    /// where either belief has its mass and where the line leaves the square.
    fn sides(&self, first: Posterior, second: Posterior) -> Tails {
        let on_line = |y: f64| {
            let x = (self.first)(y);
            if x > 0.0 && x < 1.0 { (x / (1.0 - x)).ln() } else { EDGE }
        };
        let crossings = second.landmarks().map(|t| on_line(Share::from_logit(t).x));
        let mut breaks: Vec<f64> = [-EDGE, on_line(0.0), on_line(1.0), EDGE]
            .into_iter()
            .chain(first.landmarks())
            .chain(crossings)
            .map(|t| t.clamp(-EDGE, EDGE))
            .collect();
        breaks.sort_by(f64::total_cmp);
        breaks.dedup();
        let side = |part: fn(Tails) -> f64| {
            let density = |t: f64| {
                let at = Share::from_logit(t);
                front(first.a, first.b, at) * part(tails(second.a, second.b, (self.second)(at)))
            };
            integral(density, &breaks).min(1.0)
        };
        Tails { lower: side(|second| second.upper), upper: side(|second| second.lower) }
    }
}

/// Posterior probabilities that a difference lies below and above a value.
///
/// Formula: P(p1 − p2 < δ) = ∫ f1(x) (1 − F2(x − δ)) dx and P(p1 − p2 > δ) = ∫ f1(x) F2(x − δ) dx,
/// by adaptive Gauss–Kronrod quadrature over the logit of x, each side by itself so that a small
/// probability keeps its digits.
/// Units: probabilities; the difference is first − second.
/// Edges: δ = 0 compares the proportions themselves.
/// Source: [gelman2013].
/// Checked: tests/numbers/posterior.csv.
pub fn difference_posterior(first: Posterior, second: Posterior, at: NullDifference) -> Tails {
    let delta = at.difference();
    let line = Line {
        second: |at: Share| Share { x: at.x - delta, complement: at.complement + delta },
        first: |y: f64| y + delta,
    };
    line.sides(first, second)
}

/// Posterior probabilities that a ratio lies below and above a value.
///
/// Formula: P(p1 < φp2) = ∫ f1(x) (1 − F2(x/φ)) dx and P(p1 > φp2) = ∫ f1(x) F2(x/φ) dx, by the
/// same quadrature as the difference.
/// Units: probabilities; the ratio is first / second.
/// Edges: φ = 1 compares the proportions themselves.
/// Source: [gelman2013].
/// Checked: tests/numbers/posterior.csv.
pub fn ratio_posterior(first: Posterior, second: Posterior, at: NullRatio) -> Tails {
    let phi = at.ratio();
    let complement = move |at: Share| if phi < 1.0 { phi - at.x } else { (phi - 1.0) + at.complement };
    let line = Line {
        second: |at: Share| Share { x: at.x / phi, complement: complement(at) / phi },
        first: |y: f64| y * phi,
    };
    line.sides(first, second)
}

/// Posterior probability that the margin of a difference is met.
///
/// Formula: P(p1 − p2 > −margin) for a benefit, P(p1 − p2 < margin) for a harm.
/// Units: a probability; how much is enough has to be fixed beforehand.
/// Edges: no event in either arm leaves what the prior says.
/// Source: [gelman2013].
/// Checked: tests/numbers/posterior.csv.
pub fn probability_margin_met(first: Posterior, second: Posterior, margin: Margin) -> f64 {
    let sides = difference_posterior(first, second, margin.null_difference());
    match margin {
        Margin::Benefit(_) => sides.upper,
        Margin::Harm(_) => sides.lower,
    }
}

/// Posterior probability that the margin of a ratio is met.
///
/// Formula: P(p1 > φp2) for a benefit, P(p1 < φp2) for a harm.
/// Units: a probability; how much is enough has to be fixed beforehand.
/// Edges: no event in either arm leaves what the prior says.
/// Source: [gelman2013].
/// Checked: tests/numbers/posterior.csv.
pub fn probability_ratio_margin_met(first: Posterior, second: Posterior, margin: RatioMargin) -> f64 {
    let null = margin.null_ratio();
    let sides = ratio_posterior(first, second, null);
    // A margin above 1 belongs to a harm.
    if null.ratio() > 1.0 { sides.lower } else { sides.upper }
}

/// Posterior interval of a difference with equal tails.
///
/// Formula: the values with P(p1 − p2 < lower) = P(p1 − p2 > upper) = (1 − level)/2; the estimate
/// is the difference of the posterior means. The limits are sought where Cantelli's inequality
/// says they must lie, within √(1/tail − 1) standard deviations of the mean.
/// Units: a difference of proportions, first − second.
/// Edges: stays within −1 and 1.
/// Source: [gelman2013].
/// Checked: tests/numbers/posterior_interval.csv.
pub fn difference_posterior_interval(first: Posterior, second: Posterior, level: Confidence) -> Interval {
    let tail = level.tail();
    let estimate = first.mean() - second.mean();
    let reach = ((1.0 / tail - 1.0) * (first.variance() + second.variance())).sqrt();
    let limit = |wanted: Tails| {
        let excess = |delta: f64| {
            wanted.shortfall(difference_posterior(first, second, NullDifference::from_margin(delta)))
        };
        let at = |x: f64| Point { x, f: excess(x) };
        let (from, to) = (at((estimate - reach).max(-LARGEST)), at((estimate + reach).min(LARGEST)));
        if from.f >= 0.0 {
            -1.0
        } else if to.f <= 0.0 {
            1.0
        } else {
            root_between(excess, from, to)
        }
    };
    Interval {
        estimate,
        lower: limit(Tails { lower: tail, upper: 1.0 - tail }),
        upper: limit(Tails { lower: 1.0 - tail, upper: tail }),
        level,
        method: IntervalMethod::PosteriorEqualTails,
    }
}

/// The double before 1: a difference beyond it is printed as 1.
const LARGEST: f64 = 1.0 - f64::EPSILON / 2.0;
