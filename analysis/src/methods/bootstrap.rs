//! Bootstrap intervals of a statistic of two arms.

use super::distribution::{normal_lower_tail, normal_upper_quantile};
use super::interval::{Confidence, Interval, IntervalMethod, NotEstimable};
use super::random::Draws;
use super::sample::{Probability, Sample, count, quantile_type_7};

/// Values of two arms in the order of the cases; a resample takes places from each arm.
#[derive(Clone, Copy, Debug)]
pub struct TwoSamples<'a> {
    /// First arm.
    pub first: &'a [f64],
    /// Second arm.
    pub second: &'a [f64],
}

/// A number computed from the values of two arms; NaN where it does not exist.
pub type Statistic = fn(&[f64], &[f64]) -> f64;

/// Ratio of geometric means (first / second).
pub fn geometric_mean_ratio(first: &[f64], second: &[f64]) -> f64 {
    let mean_log = |values: &[f64]| values.iter().map(|v| v.ln()).sum::<f64>() / count(values.len());
    (mean_log(first) - mean_log(second)).exp()
}

/// Difference of means (first − second).
pub fn mean_difference(first: &[f64], second: &[f64]) -> f64 {
    let mean = |values: &[f64]| values.iter().sum::<f64>() / count(values.len());
    mean(first) - mean(second)
}

/// Difference of medians (first − second).
pub fn median_difference(first: &[f64], second: &[f64]) -> f64 {
    middle(first) - middle(second)
}

fn middle(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    if n == 0 { f64::NAN } else { f64::midpoint(sorted[(n - 1) / 2], sorted[n / 2]) }
}

/// The statistic on many resamples.
#[derive(Clone, Debug)]
pub struct Replicates(Sample);

impl Replicates {
    /// `count` resamples of cases, each arm resampled by itself, from a seed: the same seed
    /// gives the same replicates on any machine and any number of threads.
    ///
    /// # Errors
    /// No replicate, an empty arm, or a statistic that does not exist on some resample.
    pub fn of_cases(
        samples: TwoSamples<'_>,
        statistic: Statistic,
        count: u32,
        seed: u64,
    ) -> Result<Self, NotEstimable> {
        let resample = |replicate: u32| {
            let mut draws = Draws::of_replicate(seed, u64::from(replicate));
            let mut take = |n: usize| -> Vec<usize> { (0..n).map(|_| draws.below(n)).collect() };
            (take(samples.first.len()), take(samples.second.len()))
        };
        Self::from_places(samples, statistic, (0..count).map(resample))
    }

    /// Resamples whose places (from 0) are given.
    ///
    /// # Errors
    /// No replicate, or a statistic that does not exist on some resample.
    pub fn from_places(
        samples: TwoSamples<'_>,
        statistic: Statistic,
        places: impl Iterator<Item = (Vec<usize>, Vec<usize>)>,
    ) -> Result<Self, NotEstimable> {
        let at = |values: &[f64], places: &[usize]| -> Vec<f64> {
            places.iter().filter_map(|place| values.get(*place).copied()).collect()
        };
        let values = places.map(|(a, b)| statistic(&at(samples.first, &a), &at(samples.second, &b)));
        Self::checked(values.collect())
    }

    /// `count` resamples of whole centres; each drawn centre brings its cases of both arms,
    /// because cases of one centre resemble each other.
    ///
    /// # Errors
    /// No replicate, no centre, or a resample on which the statistic does not exist, for
    /// instance because the centres drawn have no case of one arm.
    pub fn of_centres(
        centres: &[TwoSamples<'_>],
        statistic: Statistic,
        count: u32,
        seed: u64,
    ) -> Result<Self, NotEstimable> {
        let replicate = |replicate: u32| {
            let mut draws = Draws::of_replicate(seed, u64::from(replicate));
            let (mut first, mut second) = (Vec::new(), Vec::new());
            for _ in centres {
                let centre = centres[draws.below(centres.len())];
                first.extend_from_slice(centre.first);
                second.extend_from_slice(centre.second);
            }
            statistic(&first, &second)
        };
        Self::checked((0..count).map(replicate).collect())
    }

    fn checked(values: Vec<f64>) -> Result<Self, NotEstimable> {
        Sample::new(values).map(Self).map_err(|_| NotEstimable::StatisticMissingOnResample)
    }

    /// The replicates in ascending order.
    pub fn sorted(&self) -> &[f64] {
        self.0.sorted()
    }

    fn quantile(&self, p: f64) -> Result<f64, NotEstimable> {
        let p = Probability::new(p).map_err(|_| NotEstimable::StatisticMissingOnResample)?;
        Ok(quantile_type_7(&self.0, p))
    }
}

/// Percentile bootstrap interval.
///
/// Formula: the quantiles α/2 and 1−α/2 (type 7) of the replicates.
/// Units: those of the statistic.
/// Edges: needs enough replicates for the tail: at least a thousand at 95 %.
/// Source: [efron_tibshirani1993].
/// Checked: tests/numbers/bootstrap.csv.
pub fn percentile_interval(
    estimate: f64,
    replicates: &Replicates,
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    Ok(Interval {
        estimate,
        lower: replicates.quantile(level.tail())?,
        upper: replicates.quantile(1.0 - level.tail())?,
        level,
        method: IntervalMethod::BootstrapPercentile,
    })
}

/// Bias-corrected and accelerated bootstrap interval of two arms.
///
/// Formula: quantiles (type 7) Φ(z0 + (z0 ± z)/(1 − a(z0 ± z))) of the replicates; z0 from the
/// share below the estimate, ties as one half; a = ΣΣU³/n³ / (6(ΣΣU²/n²)^1.5) over both arms,
/// U = (n − 1)(mean jackknife − jackknife).
/// Units: those of the statistic.
/// Edges: needs two values an arm, replicates on both sides of the estimate, and a statistic
/// that varies.
/// Source: [efron_tibshirani1993].
/// Checked: tests/numbers/bca.csv.
pub fn bca_interval(
    samples: TwoSamples<'_>,
    statistic: Statistic,
    replicates: &Replicates,
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    let estimate = statistic(samples.first, samples.second);
    let sorted = replicates.sorted();
    let below = count(sorted.partition_point(|t| *t < estimate));
    let not_above = count(sorted.partition_point(|t| *t <= estimate));
    let share = f64::midpoint(below, not_above) / count(sorted.len());
    if share <= 0.0 || share >= 1.0 {
        return Err(NotEstimable::NoVariation);
    }
    let bias = -normal_upper_quantile(share);
    let acceleration = acceleration(samples, statistic)?;
    let place = |z: f64| {
        let shifted = bias + z;
        normal_lower_tail(bias + shifted / (1.0 - acceleration * shifted))
    };
    let z = level.z();
    Ok(Interval {
        estimate,
        lower: replicates.quantile(place(-z))?,
        upper: replicates.quantile(place(z))?,
        level,
        method: IntervalMethod::BootstrapBca,
    })
}

fn acceleration(samples: TwoSamples<'_>, statistic: Statistic) -> Result<f64, NotEstimable> {
    let first = influences(samples.first, |left| statistic(left, samples.second));
    let second = influences(samples.second, |left| statistic(samples.first, left));
    let moment = |power: i32| {
        let part = |u: &[f64]| u.iter().map(|v| v.powi(power)).sum::<f64>() / count(u.len()).powi(power);
        part(&first) + part(&second)
    };
    let (cubes, squares) = (moment(3), moment(2));
    if !squares.is_finite() || squares <= 0.0 {
        return Err(NotEstimable::NoVariation);
    }
    Ok(cubes / (6.0 * squares.powf(1.5)))
}

/// (n − 1)(mean jackknife − jackknife) of every value of one arm.
fn influences(values: &[f64], statistic: impl Fn(&[f64]) -> f64) -> Vec<f64> {
    let mut left = values.to_vec();
    let without: Vec<f64> = (0..values.len())
        .map(|place| {
            let taken = left.remove(place);
            let value = statistic(&left);
            left.insert(place, taken);
            value
        })
        .collect();
    let n = count(values.len());
    let mean = without.iter().sum::<f64>() / n;
    without.iter().map(|value| (n - 1.0) * (mean - value)).collect()
}
