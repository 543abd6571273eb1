//! How different two arms are after weighting, in standard deviations.

use super::case_weights::{CaseWeights, CaseWeightsError};
use super::interval::{Arm, NotEstimable};

/// A measured covariate of weighted cases.
#[derive(Clone, Copy, Debug)]
pub struct WeightedValues<'a> {
    weights: &'a CaseWeights<'a>,
    values: &'a [f64],
}

impl<'a> WeightedValues<'a> {
    /// One value a case.
    ///
    /// # Errors
    /// Another number of values than cases, or a value outside ±1e100.
    pub fn new(weights: &'a CaseWeights<'a>, values: &'a [f64]) -> Result<Self, CaseWeightsError> {
        let (found, cases) = (values.len(), weights.weights().len());
        if found != cases {
            return Err(CaseWeightsError::UnequalLengths { found, cases });
        }
        match values.iter().position(|value| !(-1e100..=1e100).contains(value)) {
            Some(place) => Err(CaseWeightsError::ValueOutOfRange { case: place + 1, value: values[place] }),
            None => Ok(Self { weights, values }),
        }
    }

    /// Weighted mean and variance of an arm, and the mean's share lost to unequal weights.
    fn moments(self, arm: Arm, weight: impl Fn(f64) -> f64 + Copy) -> Result<Moments, NotEstimable> {
        let weighted = || self.weights.relative(arm).map(|(place, w)| (self.values[place], weight(w)));
        // Taken from a value of the arm, so that a constant column has exactly no spread.
        let origin = weighted().next().map_or(0.0, |(value, _)| value);
        let (sum, squares, first) = weighted().fold((0.0, 0.0, 0.0), |(sum, squares, first), (value, w)| {
            (sum + w, squares + w * w, first + w * (value - origin))
        });
        let mean = first / sum;
        let spread: f64 = weighted().map(|(value, w)| w * (value - origin - mean).powi(2)).sum();
        let kept = sum - squares / sum;
        if kept > 0.0 {
            Ok(Moments { mean: origin + mean, variance: spread / kept })
        } else {
            Err(NotEstimable::TooFewValues { arm, found: 1, needed: 2 })
        }
    }
}

struct Moments {
    mean: f64,
    variance: f64,
}

/// A covariate of weighted cases that is present or absent: its proportions in both arms, the first
/// arm's first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeightedIndicator {
    weighted: [f64; 2],
    raw: [f64; 2],
}

impl WeightedIndicator {
    /// One answer a case.
    ///
    /// # Errors
    /// Another number of answers than cases.
    pub fn new(weights: &CaseWeights<'_>, present: &[bool]) -> Result<Self, CaseWeightsError> {
        let levels: Vec<u8> = present.iter().copied().map(u8::from).collect();
        Ok(Self::of_levels(weights, &levels, 2)?[1])
    }

    /// Each of some levels, from 0, of which a case has one: whether it is that.
    ///
    /// # Errors
    /// Another number of levels than cases.
    pub(crate) fn of_levels(
        weights: &CaseWeights<'_>,
        levels: &[u8],
        number: usize,
    ) -> Result<Vec<Self>, CaseWeightsError> {
        let (found, cases) = (levels.len(), weights.weights().len());
        if found != cases {
            return Err(CaseWeightsError::UnequalLengths { found, cases });
        }
        let mut all = vec![Self { weighted: [0.0; 2], raw: [0.0; 2] }; number];
        for (place, arm) in [Arm::First, Arm::Second].into_iter().enumerate() {
            let (mut weight_of_all, mut cases) = (0.0, 0.0);
            for (case, weight) in weights.relative(arm) {
                weight_of_all += weight;
                cases += 1.0;
                if let Some(own) = all.get_mut(usize::from(levels[case])) {
                    own.weighted[place] += weight;
                    own.raw[place] += 1.0;
                }
            }
            for own in &mut all {
                own.weighted[place] /= weight_of_all;
                own.raw[place] /= cases;
            }
        }
        Ok(all)
    }
}

fn as_weighted(weight: f64) -> f64 {
    weight
}

fn unweighted(_: f64) -> f64 {
    1.0
}

/// Standardised difference of weighted means, by the spread before weighting.
///
/// Formula: (m1 − m2) / √((s1² + s2²) / 2), m weighted, s² unweighted with divisor n − 1.
/// Units: standard deviations, first − second; comparable before and after weighting.
/// Edges: needs two cases an arm and some spread.
/// Source: [austin_stuart2015].
/// Checked: tests/numbers/weighting.csv.
pub fn weighted_means_by_raw_spread(values: WeightedValues<'_>) -> Result<f64, NotEstimable> {
    let of = |arm| -> Result<_, NotEstimable> {
        let raw = values.moments(arm, unweighted)?;
        Ok((values.moments(arm, as_weighted)?.mean, raw.variance))
    };
    standardise(of(Arm::First)?, of(Arm::Second)?)
}

/// Standardised difference of weighted means, by the weighted spread.
///
/// Formula: (m1 − m2) / √((s1² + s2²) / 2), m weighted, s² = Σw / ((Σw)² − Σw²) Σ w(x − m)².
/// Units: standard deviations of the weighted arms, first − second.
/// Edges: needs two cases with weight an arm and some spread.
/// Source: [austin_stuart2015].
/// Checked: tests/numbers/weighting.csv.
pub fn weighted_means_by_weighted_spread(values: WeightedValues<'_>) -> Result<f64, NotEstimable> {
    let of = |arm| values.moments(arm, as_weighted).map(|weighted| (weighted.mean, weighted.variance));
    standardise(of(Arm::First)?, of(Arm::Second)?)
}

/// Standardised difference of weighted proportions, by the spread before weighting.
///
/// Formula: (p1 − p2) / √((r1(1−r1) + r2(1−r2)) / 2), p weighted, r unweighted.
/// Units: standard deviations, first − second; comparable before and after weighting.
/// Edges: where everybody or nobody has it there is no spread.
/// Source: [austin_stuart2015].
/// Checked: tests/numbers/weighting.csv.
pub fn weighted_proportions_by_raw_spread(present: WeightedIndicator) -> Result<f64, NotEstimable> {
    let of = |arm: usize| (present.weighted[arm], spread(present.raw[arm]));
    standardise(of(0), of(1))
}

/// Standardised difference of weighted proportions, by the weighted spread.
///
/// Formula: (p1 − p2) / √((p1(1−p1) + p2(1−p2)) / 2), p weighted.
/// Units: standard deviations of the weighted arms, first − second.
/// Edges: where everybody or nobody with weight has it there is no spread.
/// Source: [austin_stuart2015].
/// Checked: tests/numbers/weighting.csv.
pub fn weighted_proportions_by_weighted_spread(present: WeightedIndicator) -> Result<f64, NotEstimable> {
    let of = |arm: usize| (present.weighted[arm], spread(present.weighted[arm]));
    standardise(of(0), of(1))
}

fn spread(p: f64) -> f64 {
    p * (1.0 - p)
}

/// Each arm as its mean and variance.
fn standardise(first: (f64, f64), second: (f64, f64)) -> Result<f64, NotEstimable> {
    let spread = ((first.1 + second.1) / 2.0).sqrt();
    if spread > 0.0 { Ok((first.0 - second.0) / spread) } else { Err(NotEstimable::NoVariation) }
}
