//! Risk-adjusted cumulative sums: case by case, has the risk changed?

use serde::{Deserialize, Serialize};

/// Why a number is not an expected probability.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("an expected probability of {probability} does not lie strictly between 0 and 1; write 2 % as 0.02")]
pub struct ExpectedProbabilityError {
    /// The number given.
    pub probability: f64,
}

/// Probability of the event that a case was expected to have, strictly between 0 and 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct ExpectedProbability(f64);

impl ExpectedProbability {
    /// A probability such as 0.02.
    ///
    /// # Errors
    /// 0 or less, 1 or more, or not a number.
    pub fn new(probability: f64) -> Result<Self, ExpectedProbabilityError> {
        if probability > 0.0 && probability < 1.0 {
            Ok(Self(probability))
        } else {
            Err(ExpectedProbabilityError { probability })
        }
    }

    /// The probability.
    pub fn probability(self) -> f64 {
        self.0
    }
}

impl TryFrom<f64> for ExpectedProbability {
    type Error = ExpectedProbabilityError;

    fn try_from(probability: f64) -> Result<Self, ExpectedProbabilityError> {
        Self::new(probability)
    }
}

impl From<ExpectedProbability> for f64 {
    fn from(expected: ExpectedProbability) -> f64 {
        expected.0
    }
}

/// Why a number is not a change of odds to watch for.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("an odds ratio of {odds_ratio} to watch for does not lie between 0.01 and 100 and 1 % away from 1")]
pub struct WatchedChangeError {
    /// The number given.
    pub odds_ratio: f64,
}

/// The change of odds that a chart is to notice: above 1 a chart that looks for worse, below 1 one
/// that looks for better; between 0.01 and 100, at least 1 % away from no change.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct WatchedChange(f64);

impl WatchedChange {
    /// An odds ratio such as 2 (doubled odds) or 0.5 (halved odds).
    ///
    /// # Errors
    /// Out of range, too near to 1 to be told from it, or not a number.
    pub fn new(odds_ratio: f64) -> Result<Self, WatchedChangeError> {
        let far_from_none = odds_ratio <= 1.0 / 1.01 || odds_ratio >= 1.01;
        if (0.01..=100.0).contains(&odds_ratio) && far_from_none {
            Ok(Self(odds_ratio))
        } else {
            Err(WatchedChangeError { odds_ratio })
        }
    }

    /// The odds ratio.
    pub fn odds_ratio(self) -> f64 {
        self.0
    }

    /// The chart that looks the other way for a change of the same size.
    #[must_use]
    pub fn opposite(self) -> Self {
        Self(1.0 / self.0)
    }
}

impl TryFrom<f64> for WatchedChange {
    type Error = WatchedChangeError;

    fn try_from(odds_ratio: f64) -> Result<Self, WatchedChangeError> {
        Self::new(odds_ratio)
    }
}

impl From<WatchedChange> for f64 {
    fn from(change: WatchedChange) -> f64 {
        change.0
    }
}

/// Why a number is not a threshold.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("a threshold of {threshold} is not above 0 and at most 100")]
pub struct ThresholdError {
    /// The number given.
    pub threshold: f64,
}

/// Height at which a chart signals: above 0, at most 100.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Threshold(f64);

impl Threshold {
    /// A height such as 4.5.
    ///
    /// # Errors
    /// 0 or less, above 100, or not a number.
    pub fn new(threshold: f64) -> Result<Self, ThresholdError> {
        if threshold > 0.0 && threshold <= 100.0 {
            Ok(Self(threshold))
        } else {
            Err(ThresholdError { threshold })
        }
    }

    /// The height, a logarithm of a likelihood ratio.
    pub fn height(self) -> f64 {
        self.0
    }
}

impl TryFrom<f64> for Threshold {
    type Error = ThresholdError;

    fn try_from(threshold: f64) -> Result<Self, ThresholdError> {
        Self::new(threshold)
    }
}

impl From<Threshold> for f64 {
    fn from(threshold: Threshold) -> f64 {
        threshold.0
    }
}

/// One case of a chart, in the order in which the procedures were done.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WatchedCase {
    /// Whether the event happened.
    pub event: bool,
    /// How probable it was.
    pub expected: ExpectedProbability,
}

/// What one case adds to the evidence for the watched change.
///
/// Formula: W = ln(R/(1 − p + Rp)) with the event, ln(1/(1 − p + Rp)) without, R the watched odds ratio
/// and p the expected probability.
/// Units: logarithm of a likelihood ratio.
/// Edges: none; the logarithms are taken near 1 without loss.
/// Source: [steiner2000].
/// Checked: tests/numbers/cusum.csv.
pub fn log_likelihood_ratio_score(case: WatchedCase, change: WatchedChange) -> f64 {
    let (p, ratio) = (case.expected.0, change.0);
    if case.event { -((1.0 - p) * (1.0 / ratio - 1.0)).ln_1p() } else { -(p * (ratio - 1.0)).ln_1p() }
}

/// Height of a cumulative sum after every case, never reset.
///
/// Formula: S₀ = 0, Sₜ = max(0, Sₜ₋₁ + Wₜ), with W the log-likelihood-ratio score. A chart for better
/// results (odds ratio below 1) is drawn upward too.
/// Units: logarithm of a likelihood ratio.
/// Edges: no case, no heights.
/// Source: [steiner2000].
/// Checked: tests/numbers/cusum.csv.
pub fn running_cusum(cases: &[WatchedCase], change: WatchedChange) -> Vec<f64> {
    cases
        .iter()
        .scan(0.0, |height, case| {
            *height = raised(*height, *case, change);
            Some(*height)
        })
        .collect()
}

fn raised(height: f64, case: WatchedCase, change: WatchedChange) -> f64 {
    (height + log_likelihood_ratio_score(case, change)).max(0.0)
}

/// A chart after one case.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CusumPoint {
    /// Height with this case.
    pub height: f64,
    /// Whether the height reached the threshold; the next case then starts from 0.
    pub signal: bool,
}

/// A cumulative sum that signals at the threshold and starts afresh after a signal.
///
/// Formula: Sₜ = max(0, Sₜ₋₁ + Wₜ), signal where Sₜ ≥ h; after a signal the next case starts from 0.
/// Units: logarithm of a likelihood ratio.
/// Edges: no case, no points. The height shown at a signal is the one that signalled.
/// Source: [steiner2000].
/// Checked: tests/numbers/cusum.csv.
pub fn signalling_cusum(
    cases: &[WatchedCase],
    change: WatchedChange,
    threshold: Threshold,
) -> Vec<CusumPoint> {
    cases
        .iter()
        .scan(0.0, |before, case| {
            let height = raised(*before, *case, change);
            let signal = height >= threshold.0;
            *before = if signal { 0.0 } else { height };
            Some(CusumPoint { height, signal })
        })
        .collect()
}

/// Events observed minus events expected after every case.
///
/// Formula: Σ(yₜ − pₜ).
/// Units: events; above 0 means more than expected.
/// Edges: no case, no values. The curve has no threshold: it tells how many, not whether.
/// Source: [steiner2000].
/// Checked: tests/numbers/cusum.csv.
pub fn cumulative_observed_minus_expected(cases: &[WatchedCase]) -> Vec<f64> {
    cases
        .iter()
        .scan(0.0, |sum, case| {
            *sum += f64::from(u8::from(case.event)) - case.expected.0;
            Some(*sum)
        })
        .collect()
}
