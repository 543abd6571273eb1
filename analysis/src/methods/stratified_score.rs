//! Score interval for a common difference over strata, for instance centres.

use serde::{Deserialize, Serialize};

use super::counts::{Stratum, TwoArms};
use super::interval::{Arm, Confidence, Interval, IntervalMethod, NotEstimable};
use super::null_test::{NullDifference, OneSidedTest};
use super::score::{
    Weighted, finite_sample_factor, score_upper_limit, weighted_difference, weighted_variance,
};

/// What a stratum contributed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "share", rename_all = "snake_case")]
pub enum StratumShare {
    /// Its share of the total weight, above 0.
    Weighted {
        /// Between 0 and 1; all shares sum to 1.
        weight: f64,
    },
    /// Nothing, because one arm has no cases there.
    OneArmEmpty {
        /// The arm without cases.
        arm: Arm,
    },
    /// Nothing, because no case was recorded there.
    Empty,
}

/// A stratified difference and what every stratum contributed, in the order given.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StratifiedDifference {
    /// Common difference (first − second) with its limits.
    pub interval: Interval,
    /// One entry a stratum.
    pub shares: Vec<StratumShare>,
}

impl StratifiedDifference {
    /// Number of strata that could not contribute.
    pub fn left_out(&self) -> usize {
        self.shares.iter().filter(|s| !matches!(s, StratumShare::Weighted { .. })).count()
    }
}

/// Miettinen–Nurminen interval over strata with Mantel–Haenszel weights.
///
/// Formula: d = Σ w(p1−p2) / Σ w with w = n1n2/N in each stratum; the limits are the δ where
/// (d − δ) / √(Σ w²V(δ)) Σ w reaches the normal quantile, V the restricted variance times N/(N−1).
/// Units: proportions between 0 and 1; the difference between −1 and 1.
/// Edges: a stratum with an empty arm has weight 0 and is reported; zero cells are ordinary;
/// without any stratum that has both arms nothing can be estimated.
/// Source: [miettinen_nurminen1985].
/// Checked: tests/numbers/stratified.csv.
pub fn stratified_miettinen_nurminen_interval(
    strata: &[Stratum],
    level: Confidence,
) -> Result<StratifiedDifference, NotEstimable> {
    interval(strata, level, finite_sample_factor, IntervalMethod::StratifiedMiettinenNurminen)
}

/// Mee interval over strata with Mantel–Haenszel weights.
///
/// Formula: as Miettinen–Nurminen over strata, without the factor N/(N−1).
/// Units: proportions between 0 and 1; the difference between −1 and 1.
/// Edges: as Miettinen–Nurminen over strata.
/// Source: [mee1984].
/// Checked: tests/numbers/stratified.csv.
pub fn stratified_mee_interval(
    strata: &[Stratum],
    level: Confidence,
) -> Result<StratifiedDifference, NotEstimable> {
    interval(strata, level, |_| 1.0, IntervalMethod::StratifiedMee)
}

/// Miettinen–Nurminen test over strata with Mantel–Haenszel weights.
///
/// Formula: z = (d − δ) Σw / √(Σ w²V(δ)), V the restricted variance times N/(N−1).
/// Units: δ between −1 and 1; p values one-sided.
/// Edges: as the interval; z = 0 when the restricted variance is 0 everywhere.
/// Source: [miettinen_nurminen1985].
/// Checked: tests/numbers/stratified.csv.
pub fn stratified_miettinen_nurminen_test(
    strata: &[Stratum],
    null: NullDifference,
) -> Result<OneSidedTest<NullDifference>, NotEstimable> {
    let (parts, _) = mantel_haenszel_parts(strata, finite_sample_factor)?;
    let spread = weighted_variance(&parts, null.difference()).sqrt();
    let distance = weighted_difference(&parts) - null.difference();
    Ok(OneSidedTest::from_z(null, if spread > 0.0 { distance / spread } else { 0.0 }))
}

fn interval(
    strata: &[Stratum],
    level: Confidence,
    factor: fn(TwoArms) -> f64,
    method: IntervalMethod,
) -> Result<StratifiedDifference, NotEstimable> {
    let (parts, shares) = mantel_haenszel_parts(strata, factor)?;
    let swapped: Vec<Weighted> =
        parts.iter().map(|part| Weighted { arms: part.arms.swapped(), ..*part }).collect();
    let interval = Interval {
        estimate: weighted_difference(&parts),
        lower: -score_upper_limit(&swapped, level.z()),
        upper: score_upper_limit(&parts, level.z()),
        level,
        method,
    };
    Ok(StratifiedDifference { interval, shares })
}

fn mantel_haenszel_parts(
    strata: &[Stratum],
    factor: fn(TwoArms) -> f64,
) -> Result<(Vec<Weighted>, Vec<StratumShare>), NotEstimable> {
    let weight =
        |stratum: &Stratum| stratum.arms().map_or(0.0, |arms| arms.first.n() * (arms.second.n() / arms.n()));
    // Sorted before summing: the order in which centres are listed must not change a digit.
    let mut weights: Vec<f64> = strata.iter().map(weight).collect();
    weights.sort_by(f64::total_cmp);
    let total: f64 = weights.iter().sum();
    if total <= 0.0 {
        return Err(NotEstimable::NoStratumWithBothArms);
    }
    let mut parts: Vec<Weighted> = strata
        .iter()
        .filter_map(|stratum| {
            let arms = stratum.arms()?;
            let variance_factor = factor(arms);
            Some(Weighted { arms, weight: weight(stratum) / total, variance_factor })
        })
        .collect();
    parts.sort_by_key(|part| {
        let (a, b) = (part.arms.first, part.arms.second);
        (a.total(), b.total(), a.events(), b.events())
    });
    let shares = strata.iter().map(|stratum| share_of(stratum, weight(stratum) / total)).collect();
    Ok((parts, shares))
}

fn share_of(stratum: &Stratum, weight: f64) -> StratumShare {
    match (stratum.first, stratum.second) {
        (Some(_), Some(_)) => StratumShare::Weighted { weight },
        (None, Some(_)) => StratumShare::OneArmEmpty { arm: Arm::First },
        (Some(_), None) => StratumShare::OneArmEmpty { arm: Arm::Second },
        (None, None) => StratumShare::Empty,
    }
}
