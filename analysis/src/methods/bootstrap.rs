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

/// A number computed from the values of two arms.
#[derive(Clone, Copy, Debug)]
pub struct Statistic(Kind);

#[derive(Clone, Copy, Debug)]
enum Kind {
    /// Known from the mean of each arm, once every value has been transformed. Resampling then
    /// adds values without copying them.
    OfMeans { transform: fn(f64) -> f64, combine: fn(f64, f64) -> f64 },
    /// Needs the values themselves.
    OfValues(fn(&[f64], &[f64]) -> f64),
}

impl Statistic {
    /// Ratio of geometric means (first / second).
    pub const GEOMETRIC_MEAN_RATIO: Self =
        Self(Kind::OfMeans { transform: f64::ln, combine: |a, b| (a - b).exp() });
    /// Difference of means (first − second).
    pub const MEAN_DIFFERENCE: Self =
        Self(Kind::OfMeans { transform: std::convert::identity, combine: |a, b| a - b });
    /// Difference of medians (first − second).
    pub const MEDIAN_DIFFERENCE: Self = Self(Kind::OfValues(|a, b| middle(a) - middle(b)));

    /// Any other function of the values of both arms; NaN where it does not exist.
    pub fn of_values(function: fn(&[f64], &[f64]) -> f64) -> Self {
        Self(Kind::OfValues(function))
    }

    /// The statistic of two arms; NaN where it does not exist.
    pub fn of(self, samples: TwoSamples<'_>) -> f64 {
        let Transformed { first, second } = self.transformed(samples);
        self.of_transformed(&first, &second)
    }

    fn transformed(self, samples: TwoSamples<'_>) -> Transformed {
        let each = |values: &[f64]| match self.0 {
            Kind::OfMeans { transform, .. } => values.iter().map(|value| transform(*value)).collect(),
            Kind::OfValues(_) => values.to_vec(),
        };
        Transformed { first: each(samples.first), second: each(samples.second) }
    }

    fn of_transformed(self, first: &[f64], second: &[f64]) -> f64 {
        match self.0 {
            Kind::OfMeans { combine, .. } => combine(mean(first), mean(second)),
            Kind::OfValues(function) => function(first, second),
        }
    }
}

/// Values of two arms as the statistic wants them.
struct Transformed {
    first: Vec<f64>,
    second: Vec<f64>,
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / count(values.len())
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
    /// No replicate, an arm that is empty or has more than 2³² values, or a statistic that does
    /// not exist on some resample.
    pub fn of_cases(
        samples: TwoSamples<'_>,
        statistic: Statistic,
        count: u32,
        seed: u64,
    ) -> Result<Self, NotEstimable> {
        let Transformed { first, second } = statistic.transformed(samples);
        let size = |values: &[f64]| u32::try_from(values.len()).ok().filter(|size| *size > 0);
        let (Some(m), Some(n)) = (size(&first), size(&second)) else {
            return Err(NotEstimable::StatisticMissingOnResample);
        };
        let (mut taken_first, mut taken_second) = (Vec::new(), Vec::new());
        let replicate = |replicate: u32| {
            let mut draws = Draws::of_replicate(seed, u64::from(replicate));
            match statistic.0 {
                Kind::OfMeans { combine, .. } => {
                    combine(drawn_mean(&first, m, &mut draws), drawn_mean(&second, n, &mut draws))
                }
                Kind::OfValues(function) => {
                    take(&first, m, &mut draws, &mut taken_first);
                    take(&second, n, &mut draws, &mut taken_second);
                    function(&taken_first, &taken_second)
                }
            }
        };
        Self::checked((0..count).map(replicate).collect())
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
        let Transformed { first, second } = statistic.transformed(samples);
        let at = |values: &[f64], places: &[usize]| -> Vec<f64> {
            places.iter().filter_map(|place| values.get(*place).copied()).collect()
        };
        let values = places.map(|(a, b)| statistic.of_transformed(&at(&first, &a), &at(&second, &b)));
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
        let centres: Vec<Transformed> = centres.iter().map(|centre| statistic.transformed(*centre)).collect();
        let (mut first, mut second) = (Vec::new(), Vec::new());
        let replicate = |replicate: u32| {
            let mut draws = Draws::of_replicate(seed, u64::from(replicate));
            first.clear();
            second.clear();
            for _ in &centres {
                let centre = &centres[draws.below(centres.len())];
                first.extend_from_slice(&centre.first);
                second.extend_from_slice(&centre.second);
            }
            statistic.of_transformed(&first, &second)
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

/// Mean of as many values drawn with replacement as there are.
fn drawn_mean(values: &[f64], size: u32, draws: &mut Draws) -> f64 {
    // Four sums side by side: one addition need not wait for the other.
    let mut sums = [0.0; 4];
    draws.places(size, values.len(), |block| {
        for four in block.chunks(4) {
            for (sum, place) in sums.iter_mut().zip(four) {
                *sum += values[*place as usize];
            }
        }
    });
    sums.iter().sum::<f64>() / count(values.len())
}

/// As many values drawn with replacement as there are.
fn take(values: &[f64], size: u32, draws: &mut Draws, taken: &mut Vec<f64>) {
    taken.clear();
    let at = |place: &u32| values[*place as usize];
    draws.places(size, values.len(), |block| taken.extend(block.iter().map(at)));
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
/// that varies; a level so high that a(z0 ± z) reaches 1 has no limits.
/// Source: [efron_tibshirani1993].
/// Checked: tests/numbers/bca.csv.
pub fn bca_interval(
    samples: TwoSamples<'_>,
    statistic: Statistic,
    replicates: &Replicates,
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    let estimate = statistic.of(samples);
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
        // Beyond the pole of the correction the places would change sides.
        let left = 1.0 - acceleration * shifted;
        if left <= 0.0 {
            return Err(NotEstimable::LimitsTooWide);
        }
        Ok(normal_lower_tail(bias + shifted / left))
    };
    let z = level.z();
    Ok(Interval {
        estimate,
        lower: replicates.quantile(place(-z)?)?,
        upper: replicates.quantile(place(z)?)?,
        level,
        method: IntervalMethod::BootstrapBca,
    })
}

fn acceleration(samples: TwoSamples<'_>, statistic: Statistic) -> Result<f64, NotEstimable> {
    let (first, second) = influences(samples, statistic);
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

/// (n − 1)(mean jackknife − jackknife) of every value, by arm.
fn influences(samples: TwoSamples<'_>, statistic: Statistic) -> (Vec<f64>, Vec<f64>) {
    let Transformed { first, second } = statistic.transformed(samples);
    match statistic.0 {
        Kind::OfMeans { combine, .. } => {
            let (a, b) = (mean(&first), mean(&second));
            (from_means(&first, |left| combine(left, b)), from_means(&second, |left| combine(a, left)))
        }
        Kind::OfValues(function) => (
            from_values(&first, |left| function(left, &second)),
            from_values(&second, |left| function(&first, left)),
        ),
    }
}

/// Leaving out a value moves the mean by (mean − value)/(n − 1).
fn from_means(values: &[f64], statistic: impl Fn(f64) -> f64) -> Vec<f64> {
    let mean = mean(values);
    let others = count(values.len()) - 1.0;
    centred(values.iter().map(|value| statistic(mean + (mean - value) / others)).collect())
}

fn from_values(values: &[f64], statistic: impl Fn(&[f64]) -> f64) -> Vec<f64> {
    // The place left out walks from the first value to the last: one value moves a step.
    let mut left = values.get(1..).unwrap_or_default().to_vec();
    let mut without = Vec::with_capacity(values.len());
    for (place, value) in values.iter().enumerate() {
        without.push(statistic(&left));
        if let Some(next) = left.get_mut(place) {
            *next = *value;
        }
    }
    centred(without)
}

fn centred(without: Vec<f64>) -> Vec<f64> {
    let n = count(without.len());
    let mean = mean(&without);
    without.iter().map(|value| (n - 1.0) * (mean - value)).collect()
}
