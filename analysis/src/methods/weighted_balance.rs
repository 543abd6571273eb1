//! How different two arms are after weighting, in standard deviations.

use super::case_weights::{CaseWeights, CaseWeightsError};
use super::column::{Column, Few};
use super::interval::{Arm, NotEstimable};

/// A measured covariate of weighted cases: what its balance is told by, of the first arm and of the
/// second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeightedValues {
    weighted: [Option<Moments>; 2],
    raw: [Option<Moments>; 2],
}

/// Mean, and variance without the mean's share that is lost to unequal weights.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Moments {
    mean: f64,
    variance: f64,
}

/// Cases of one arm with one value: how many, their weights and the squares of these.
#[derive(Clone, Copy, Default)]
struct Alike {
    value: f64,
    cases: f64,
    weight: f64,
    squares: f64,
}

impl WeightedValues {
    /// One value a case.
    ///
    /// # Errors
    /// Another number of values than cases, or a value outside ±1e100.
    pub fn new(weights: &CaseWeights<'_>, values: &[f64]) -> Result<Self, CaseWeightsError> {
        match values.iter().position(|value| !(-1e100..=1e100).contains(value)) {
            Some(place) => Err(CaseWeightsError::ValueOutOfRange { case: place + 1, value: values[place] }),
            None => Self::of_column(weights, &Column::new(values.iter().copied())),
        }
    }

    /// One value a case between ±1e100; a case without a number does not count.
    ///
    /// # Errors
    /// Another number of values than cases, or an arm without weight among those with a number.
    pub(crate) fn of_column(weights: &CaseWeights<'_>, values: &Column) -> Result<Self, CaseWeightsError> {
        let (found, cases) = (values.len(), weights.weights().len());
        if found != cases {
            return Err(CaseWeightsError::UnequalLengths { found, cases });
        }
        let both = match values {
            // Many cases share few values, so that sums over cases are taken once for each value.
            Column::Few(few) => alike(weights, few).map(|alike| moments(alike.iter().copied())),
            Column::Many(values) => ARMS.map(|arm| {
                let known = weights.relative(arm).filter(|(place, _)| !values[*place].is_nan());
                moments(known.map(|(place, weight)| Alike::alone(values[place], weight)))
            }),
        };
        for (arm, found) in ARMS.into_iter().zip(&both) {
            if found.is_none() {
                return Err(CaseWeightsError::NoWeight { arm });
            }
        }
        let [first, second] = both.map(Option::unwrap_or_default);
        Ok(Self { weighted: [first.0, second.0], raw: [first.1, second.1] })
    }
}

impl Alike {
    fn alone(value: f64, weight: f64) -> Self {
        Self { value, cases: 1.0, weight, squares: weight * weight }
    }

    fn add(&mut self, other: Self) {
        self.cases += other.cases;
        self.weight += other.weight;
        self.squares += other.squares;
    }
}

/// The cases of each arm by their value, as shares of the arm's largest weight.
fn alike(weights: &CaseWeights<'_>, few: &Few) -> [Vec<Alike>; 2] {
    let none = || few.values().iter().map(|value| Alike { value: *value, ..Alike::default() }).collect();
    let mut both: [Vec<Alike>; 2] = [none(), none()];
    for (own, arm) in both.iter_mut().zip(ARMS) {
        for (case, weight) in weights.relative(arm) {
            own[usize::from(few.which()[case])].add(Alike::alone(0.0, weight));
        }
        own.retain(|alike| alike.cases > 0.0 && !alike.value.is_nan());
    }
    both
}

/// Weighted and unweighted; nothing without a weight above 0, and no moments of a single case.
fn moments(alike: impl Iterator<Item = Alike> + Clone) -> Option<(Option<Moments>, Option<Moments>)> {
    // Taken from a value of the arm, so that a constant column has exactly no spread.
    let origin = alike.clone().next()?.value;
    let (mut all, mut weighted, mut raw) = (Alike::default(), 0.0, 0.0);
    for own in alike.clone() {
        all.add(own);
        weighted += own.weight * (own.value - origin);
        raw += own.cases * (own.value - origin);
    }
    let (weighted, raw) = (weighted / all.weight, raw / all.cases);
    let (mut weighted_spread, mut raw_spread) = (0.0, 0.0);
    for own in alike {
        weighted_spread += own.weight * (own.value - origin - weighted).powi(2);
        raw_spread += own.cases * (own.value - origin - raw).powi(2);
    }
    let moments = |mean: f64, spread: f64, kept: f64| {
        (kept > 0.0).then(|| Moments { mean: origin + mean, variance: spread / kept })
    };
    let weighted = moments(weighted, weighted_spread, all.weight - all.squares / all.weight);
    (all.weight > 0.0).then(|| (weighted, moments(raw, raw_spread, all.cases - 1.0)))
}

/// What a column says of an arm that has the weight of one case alone.
fn needed(of: [Option<Moments>; 2]) -> Result<[Moments; 2], NotEstimable> {
    let [first, second] = of;
    let few = |arm| NotEstimable::TooFewValues { arm, found: 1, needed: 2 };
    Ok([first.ok_or(few(Arm::First))?, second.ok_or(few(Arm::Second))?])
}

const ARMS: [Arm; 2] = [Arm::First, Arm::Second];

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
        Ok(Self::of_levels(weights, &Column::of_flags(present.iter().copied()), 2)?[1])
    }

    /// Each of some levels, from 0, of which a case has one: whether it is that. A case without a
    /// number does not count.
    ///
    /// # Errors
    /// Another number of levels than cases, or an arm without weight among those with a level.
    pub(crate) fn of_levels(
        weights: &CaseWeights<'_>,
        levels: &Column,
        number: usize,
    ) -> Result<Vec<Self>, CaseWeightsError> {
        let (found, cases) = (levels.len(), weights.weights().len());
        if found != cases {
            return Err(CaseWeightsError::UnequalLengths { found, cases });
        }
        let mut all = vec![Self { weighted: [0.0; 2], raw: [0.0; 2] }; number];
        for (place, arm) in ARMS.into_iter().enumerate() {
            let (mut weight_of_all, mut cases) = (0.0, 0.0);
            for (case, weight) in weights.relative(arm) {
                let level = levels.at(case);
                if level.is_nan() {
                    continue;
                }
                weight_of_all += weight;
                cases += 1.0;
                if let Some(own) = all.get_mut(level as usize) {
                    own.weighted[place] += weight;
                    own.raw[place] += 1.0;
                }
            }
            if weight_of_all <= 0.0 {
                return Err(CaseWeightsError::NoWeight { arm });
            }
            for own in &mut all {
                own.weighted[place] /= weight_of_all;
                own.raw[place] /= cases;
            }
        }
        Ok(all)
    }
}

/// Standardised difference of weighted means, by the spread before weighting.
///
/// Formula: (m1 − m2) / √((s1² + s2²) / 2), m weighted, s² unweighted with divisor n − 1.
/// Units: standard deviations, first − second; comparable before and after weighting.
/// Edges: needs two cases an arm and some spread.
/// Source: [austin_stuart2015].
/// Checked: tests/numbers/weighting.csv.
pub fn weighted_means_by_raw_spread(values: WeightedValues) -> Result<f64, NotEstimable> {
    let (raw, [first, second]) = (needed(values.raw)?, needed(values.weighted)?);
    standardise((first.mean, raw[0].variance), (second.mean, raw[1].variance))
}

/// Standardised difference of weighted means, by the weighted spread.
///
/// Formula: (m1 − m2) / √((s1² + s2²) / 2), m weighted, s² = Σw / ((Σw)² − Σw²) Σ w(x − m)².
/// Units: standard deviations of the weighted arms, first − second.
/// Edges: needs two cases with weight an arm and some spread.
/// Source: [austin_stuart2015].
/// Checked: tests/numbers/weighting.csv.
pub fn weighted_means_by_weighted_spread(values: WeightedValues) -> Result<f64, NotEstimable> {
    let [first, second] = needed(values.weighted)?;
    standardise((first.mean, first.variance), (second.mean, second.variance))
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
