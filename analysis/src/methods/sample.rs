//! Measured values: a sample, its quantiles and its moments.

use super::interval::{Arm, NotEstimable};

/// Why some numbers are not a sample.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum SampleError {
    /// No value at all.
    #[error("a sample needs at least one value")]
    NoValues,
    /// A value that is not a number a measurement can have.
    #[error("value number {position} is {value}, not a number between -1e100 and 1e100")]
    OutOfRange {
        /// Place in the input, from 1.
        position: usize,
        /// The value.
        value: f64,
    },
    /// A value at or below 0 where a logarithm is needed.
    #[error("value number {position} is {value}; only values above 0 have a logarithm")]
    NotPositive {
        /// Place in the input, from 1.
        position: usize,
        /// The value.
        value: f64,
    },
}

/// Largest magnitude accepted: squares and sums of such values stay finite.
const LARGEST: f64 = 1e100;

/// At least one value between −1e100 and 1e100, kept in ascending order so that no result depends on
/// the order in which cases were listed.
#[derive(Clone, Debug, PartialEq)]
pub struct Sample(Vec<f64>);

impl Sample {
    /// Values in any order and unit.
    ///
    /// # Errors
    /// No values, or one that is not a number or beyond ±1e100.
    pub fn new(values: Vec<f64>) -> Result<Self, SampleError> {
        if values.is_empty() {
            return Err(SampleError::NoValues);
        }
        if let Some((index, &value)) =
            values.iter().enumerate().find(|(_, v)| !(-LARGEST..=LARGEST).contains(*v))
        {
            return Err(SampleError::OutOfRange { position: index + 1, value });
        }
        let mut sorted = values;
        // Equal numbers are the same to the last bit, so that it does not matter which stands first.
        sorted.sort_unstable_by(f64::total_cmp);
        Ok(Self(sorted))
    }

    /// Values in ascending order, each with the number of times that it occurs.
    pub(crate) fn counted(values: impl Iterator<Item = (f64, u32)>) -> Result<Self, SampleError> {
        Self::new(values.flat_map(|(value, times)| std::iter::repeat_n(value, times as usize)).collect())
    }

    /// The values in ascending order.
    pub fn sorted(&self) -> &[f64] {
        &self.0
    }

    /// Number of values, at least 1.
    #[allow(clippy::len_without_is_empty)] // a sample is never empty
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Arithmetic mean.
    pub fn mean(&self) -> f64 {
        let n = count(self.len());
        let rough = self.0.iter().sum::<f64>() / n;
        // The second pass takes back what the first lost to rounding.
        rough + self.0.iter().map(|v| v - rough).sum::<f64>() / n
    }

    /// Mean and variance with divisor n − 1.
    ///
    /// # Errors
    /// Fewer than two values; `arm` tells in which arm.
    pub(crate) fn moments(&self, arm: Arm) -> Result<Moments, NotEstimable> {
        if self.len() < 2 {
            return Err(NotEstimable::TooFewValues { arm, found: self.len(), needed: 2 });
        }
        let (n, mean) = (count(self.len()), self.mean());
        let squares: f64 = self.0.iter().map(|v| (v - mean) * (v - mean)).sum();
        Ok(Moments { n, mean, variance: squares / (n - 1.0) })
    }
}

/// Values above 0, such as doses of exposed cases.
#[derive(Clone, Debug, PartialEq)]
pub struct PositiveSample(Sample);

impl PositiveSample {
    /// Values above 0, in any order and unit.
    ///
    /// # Errors
    /// No values, one at or below 0, or one that is not a number or beyond 1e100.
    pub fn new(values: Vec<f64>) -> Result<Self, SampleError> {
        if let Some((index, &value)) = values.iter().enumerate().find(|(_, v)| **v <= 0.0) {
            return Err(SampleError::NotPositive { position: index + 1, value });
        }
        Sample::new(values).map(Self)
    }

    /// The same values as a plain sample.
    pub fn values(&self) -> &Sample {
        &self.0
    }

    /// Natural logarithms of the values.
    pub(crate) fn logarithms(&self) -> Sample {
        Sample(self.0.0.iter().map(|v| v.ln()).collect())
    }

    /// exp of the mean logarithm, in the unit of the values.
    pub fn geometric_mean(&self) -> f64 {
        self.logarithms().mean().exp()
    }
}

/// Size, mean and variance of one sample.
#[derive(Clone, Copy)]
pub(crate) struct Moments {
    pub(crate) n: f64,
    pub(crate) mean: f64,
    pub(crate) variance: f64,
}

/// A count of values as a number; exact for any vector that fits in memory.
pub(crate) fn count(len: usize) -> f64 {
    len as f64
}

/// Why a number is not a probability.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("a probability of {probability} does not lie between 0 and 1")]
pub struct ProbabilityError {
    /// The number given.
    pub probability: f64,
}

/// A probability between 0 and 1, both included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Probability(f64);

impl Probability {
    /// One half: the median.
    pub const HALF: Self = Self(0.5);

    /// A probability such as 0.25.
    ///
    /// # Errors
    /// Below 0, above 1, or not a number.
    pub fn new(probability: f64) -> Result<Self, ProbabilityError> {
        if (0.0..=1.0).contains(&probability) {
            Ok(Self(probability))
        } else {
            Err(ProbabilityError { probability })
        }
    }

    /// The number.
    pub fn probability(self) -> f64 {
        self.0
    }

    /// The probability as a number.
    pub fn value(self) -> f64 {
        self.0
    }
}

/// Quantile of type 7.
///
/// Formula: with h = (n−1)q, the value between the ordered values number ⌊h⌋ and ⌊h⌋+1
/// (from 0) at the fraction h − ⌊h⌋.
/// Units: those of the values; q is a probability.
/// Edges: q = 0 is the smallest value, q = 1 the largest; one value is every quantile.
/// Source: [hyndman_fan1996].
/// Checked: tests/numbers/quantiles.csv.
pub fn quantile_type_7(sample: &Sample, q: Probability) -> f64 {
    let place = count(sample.len() - 1) * q.0;
    between(sample.sorted(), place)
}

/// Quantile of type 6.
///
/// Formula: with h = (n+1)q − 1, the value between the ordered values number ⌊h⌋ and ⌊h⌋+1
/// (from 0) at the fraction h − ⌊h⌋, held within the sample.
/// Units: those of the values; q is a probability.
/// Edges: outside 1/(n+1) to n/(n+1) it is the smallest or largest value.
/// Source: [hyndman_fan1996].
/// Checked: tests/numbers/quantiles.csv.
pub fn quantile_type_6(sample: &Sample, q: Probability) -> f64 {
    between(sample.sorted(), count(sample.len() + 1) * q.0 - 1.0)
}

/// Median: the quantile of type 7 at one half.
///
/// Formula: the middle value, or the mean of the two middle values.
/// Units: those of the values.
/// Edges: one value is its own median.
/// Source: [hyndman_fan1996].
/// Checked: tests/numbers/quantiles.csv.
pub fn median(sample: &Sample) -> f64 {
    quantile_type_7(sample, Probability::HALF)
}

/// Linear interpolation at a place counted from 0, held within the sample.
fn between(sorted: &[f64], place: f64) -> f64 {
    let last = sorted.len() - 1;
    let below = (place.max(0.0).floor() as usize).min(last);
    let (low, high) = (sorted[below], sorted[(below + 1).min(last)]);
    let fraction = (place - count(below)).clamp(0.0, 1.0);
    low + fraction * (high - low)
}
