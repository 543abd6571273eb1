//! Observed events against the number expected: is this centre's count out of the ordinary?

use serde::{Deserialize, Serialize};

use super::distribution::{Tails, gamma_tails, rising_root};
use super::interval::{Confidence, Interval, IntervalMethod};

/// Why a number is not an expected count.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("an expected number of {expected} events does not lie between 0.000001 and 1000000000000")]
pub struct ExpectedEventsError {
    /// The number given.
    pub expected: f64,
}

/// A sum of expected probabilities: between a millionth and a million million.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct ExpectedEvents(f64);

impl ExpectedEvents {
    /// Events expected, such as 4.75.
    ///
    /// # Errors
    /// Outside the range, or not a number.
    pub fn new(expected: f64) -> Result<Self, ExpectedEventsError> {
        if (1e-6..=1e12).contains(&expected) {
            Ok(Self(expected))
        } else {
            Err(ExpectedEventsError { expected })
        }
    }

    /// The number of events.
    pub fn events(self) -> f64 {
        self.0
    }
}

impl TryFrom<f64> for ExpectedEvents {
    type Error = ExpectedEventsError;

    fn try_from(expected: f64) -> Result<Self, ExpectedEventsError> {
        Self::new(expected)
    }
}

impl From<ExpectedEvents> for f64 {
    fn from(expected: ExpectedEvents) -> f64 {
        expected.0
    }
}

/// Events counted beside events expected; the count is taken to follow a Poisson law.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ObservedExpected {
    /// Events counted.
    pub observed: u32,
    /// Events expected.
    pub expected: ExpectedEvents,
}

impl ObservedExpected {
    /// Observed over expected.
    pub fn ratio(self) -> f64 {
        f64::from(self.observed) / self.expected.0
    }
}

/// Exact interval for observed over expected.
///
/// Formula: with O observed and E expected, lower = m/E where P(X ≥ O | m) = α/2, upper = m/E where
/// P(X ≤ O | m) = α/2, X Poisson with mean m.
/// Units: a ratio; 1 is "as expected".
/// Edges: O = 0 gives a lower limit of exactly 0.
/// Source: [garwood1936].
/// Checked: tests/numbers/observed_expected.csv.
pub fn exact_poisson_interval(counts: ObservedExpected, level: Confidence) -> Interval {
    let observed = f64::from(counts.observed);
    let at_least = |mean| tails_at_least(observed, mean);
    let above = |mean| tails_at_least(observed + 1.0, mean);
    limits(counts, level, IntervalMethod::ExactPoisson, at_least, above)
}

/// Mid-P interval for observed over expected.
///
/// Formula: lower = m/E where P(X > O | m) + ½P(X = O | m) = α/2, upper = m/E where
/// P(X < O | m) + ½P(X = O | m) = α/2, X Poisson with mean m.
/// Units: a ratio; 1 is "as expected".
/// Edges: O = 0 gives a lower limit of exactly 0 and an upper limit of −ln(α)/E.
/// Source: [lancaster1961].
/// Checked: tests/numbers/observed_expected.csv.
pub fn mid_p_poisson_interval(counts: ObservedExpected, level: Confidence) -> Interval {
    let observed = f64::from(counts.observed);
    let half = |mean| {
        let (at_least, above) = (tails_at_least(observed, mean), tails_at_least(observed + 1.0, mean));
        Tails { lower: (at_least.lower + above.lower) / 2.0, upper: (at_least.upper + above.upper) / 2.0 }
    };
    limits(counts, level, IntervalMethod::MidPPoisson, half, half)
}

/// P(X ≥ count) as the lower tail, P(X < count) as the upper, of a Poisson count.
fn tails_at_least(count: f64, mean: f64) -> Tails {
    if count == 0.0 { Tails { lower: 1.0, upper: 0.0 } } else { gamma_tails(count, mean) }
}

fn limits(
    counts: ObservedExpected,
    level: Confidence,
    method: IntervalMethod,
    at_lower: impl Fn(f64) -> Tails,
    at_upper: impl Fn(f64) -> Tails,
) -> Interval {
    let tail = level.tail();
    let start = f64::from(counts.observed) + 0.5;
    let mean = |wanted: Tails, tails: &dyn Fn(f64) -> Tails| {
        rising_root(start.ln(), 1.0 / start.sqrt(), |log_mean| wanted.shortfall(tails(log_mean.exp()))).exp()
    };
    let lower = || mean(Tails { lower: tail, upper: 1.0 - tail }, &at_lower);
    let upper = mean(Tails { lower: 1.0 - tail, upper: tail }, &at_upper);
    Interval {
        estimate: counts.ratio(),
        lower: if counts.observed == 0 { 0.0 } else { lower() / counts.expected.0 },
        upper: upper / counts.expected.0,
        level,
        method,
    }
}

/// Byar's interval for observed over expected, as Breslow and Day give it.
///
/// Formula: lower = O(1 − 1/(9O) − z/(3√O))³/E, upper = O'(1 − 1/(9O') + z/(3√O'))³/E with
/// O' = O + 1; not the variant with O + ½ in both limits.
/// Units: a ratio; 1 is "as expected".
/// Edges: O = 0 gives a lower limit of 0, and so does a negative cube at few events and a high level.
/// Source: [breslow_day1987].
/// Checked: tests/numbers/observed_expected.csv.
pub fn byar_interval(counts: ObservedExpected, level: Confidence) -> Interval {
    let z = level.z();
    let limit =
        |events: f64, z: f64| events * (1.0 - 1.0 / (9.0 * events) + z / (3.0 * events.sqrt())).powi(3);
    let observed = f64::from(counts.observed);
    let lower = if counts.observed == 0 { 0.0 } else { limit(observed, -z).max(0.0) };
    Interval {
        estimate: counts.ratio(),
        lower: lower / counts.expected.0,
        upper: limit(observed + 1.0, z) / counts.expected.0,
        level,
        method: IntervalMethod::Byar,
    }
}

/// p values of the count against the number expected.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct PoissonTest {
    /// P(X ≥ O): small when there are more events than expected.
    pub p_more: f64,
    /// P(X ≤ O): small when there are fewer events than expected.
    pub p_fewer: f64,
    /// Twice the smaller of the two, at most 1.
    pub p_two_sided: f64,
}

/// Exact test of a count against the number expected.
///
/// Formula: with X Poisson of mean E, P(X ≥ O) and P(X ≤ O); two-sided twice the smaller, at most 1.
/// Units: p values.
/// Edges: O = 0 gives P(X ≥ O) = 1 and P(X ≤ O) = e^−E. The two add to more than 1.
/// Source: [breslow_day1987].
/// Checked: tests/numbers/observed_expected.csv.
pub fn exact_poisson_test(counts: ObservedExpected) -> PoissonTest {
    let observed = f64::from(counts.observed);
    let p_more = tails_at_least(observed, counts.expected.0).lower;
    let p_fewer = tails_at_least(observed + 1.0, counts.expected.0).upper;
    PoissonTest { p_more, p_fewer, p_two_sided: (2.0 * p_more.min(p_fewer)).min(1.0) }
}
