//! The baseline table: each arm, and how far apart the arms are before and after weighting.

use super::super::Seen;
use super::variables::{Column, Variable, variables};
use crate::methods::balance::{standardised_difference_of_means, standardised_difference_of_proportions};
use crate::methods::case_weights::CaseWeights;
use crate::methods::counts::{EventCount, TwoArms};
use crate::methods::interval::{self, NotEstimable};
use crate::methods::sample::Sample;
use crate::methods::weighted_balance::{
    WeightedIndicator, WeightedValues, weighted_means_by_raw_spread, weighted_proportions_by_raw_spread,
};
use crate::study::adjustment::Choice;
use crate::study::dose::{Quartiles, quartiles};
use crate::study::endpoint::Estimate;
use crate::study::population::{Arm, ByArm, Population};
use rayon::prelude::*;
use serde::Serialize;
use std::borrow::Cow;

/// One thing known before the procedure.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BaselineLine {
    /// Its code in the dictionary or in the list of covariates.
    pub code: &'static str,
    /// Its name in a table.
    pub label: &'static str,
    /// Whether the plan holds it alike.
    pub planned: bool,
    /// Cases of each arm in which it was not recorded.
    pub missing: ByArm<u32>,
    /// How it is spread.
    pub spread: Spread,
    /// The largest standardised difference before weighting, without its sign; of several levels
    /// the largest. Absent where none can be estimated.
    pub largest_before: Option<f64>,
    /// The same after weighting.
    pub largest_after: Option<f64>,
}

/// Numbers or levels.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Spread {
    /// A measurement.
    Numbers {
        /// Each arm.
        arms: ByArm<ArmNumbers>,
        /// How far the means are apart.
        balance: Balance,
    },
    /// A choice of several.
    Levels(Vec<Level>),
}

/// A measurement in one arm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ArmNumbers {
    /// Cases in which it was recorded.
    pub recorded: u32,
    /// Mean; absent where nothing was recorded.
    pub mean: Option<f64>,
    /// Standard deviation; absent with fewer than two values.
    pub standard_deviation: Option<f64>,
    /// Median and quartiles; absent where nothing was recorded.
    pub quartiles: Option<Quartiles>,
}

/// One level.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Level {
    /// Its name.
    pub label: String,
    /// Each arm.
    pub arms: ByArm<ArmLevel>,
    /// How far the shares are apart.
    pub balance: Balance,
}

/// A level in one arm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ArmLevel {
    /// Cases.
    pub cases: u32,
    /// Their share of the recorded; absent where nothing was recorded.
    pub share: Option<f64>,
}

/// Standardised differences, zero-fluoroscopy − conventional, both in units of the spread before
/// weighting.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Balance {
    /// Before weighting.
    pub before: Estimate<f64>,
    /// After.
    pub after: Estimate<f64>,
}

type Weights<'w> = Result<&'w CaseWeights<'w>, NotEstimable>;

/// The lines of every variable.
pub(super) fn lines(seen: &Seen<'_>, choice: &Choice<'_, '_>, weights: Weights<'_>) -> Vec<BaselineLine> {
    let compared: Vec<_> =
        seen.kept().filter(|case| Population::AsIntended.arm(&case.row).is_some()).collect();
    let in_first: Vec<bool> = compared
        .iter()
        .map(|case| Population::AsIntended.arm(&case.row) == Some(Arm::ZeroFluoroscopy))
        .collect();
    // The weighted cases are those of the table in its order, less those that a plan with complete
    // cases only leaves out.
    let mut weighted = choice.rows().iter().peekable();
    let places: Vec<usize> = compared
        .iter()
        .enumerate()
        .filter(|(_, case)| weighted.next_if(|row| std::ptr::eq(**row, &case.row)).is_some())
        .map(|(place, _)| place)
        .collect();
    debug_assert_eq!(places.len(), choice.in_first().len());
    let table = Table { in_first, places, weights };
    let line = |variable: Variable| table.line(&variable, &variable.column(&compared));
    variables(seen.plan.covariates()).into_par_iter().map(line).collect()
}

struct Table<'w> {
    in_first: Vec<bool>,
    /// Where the weighted cases stand.
    places: Vec<usize>,
    weights: Weights<'w>,
}

impl Table<'_> {
    fn line(&self, variable: &Variable, column: &Column) -> BaselineLine {
        let (missing, spread) = match column {
            Column::Numbers(values) => (self.missing(values), self.numbers(values)),
            Column::Levels(labels, values) => (self.missing(values), self.levels(labels, values)),
        };
        let balances: Vec<Balance> = match &spread {
            Spread::Numbers { balance, .. } => vec![*balance],
            Spread::Levels(levels) => levels.iter().map(|level| level.balance).collect(),
        };
        let largest = |of: fn(&Balance) -> Estimate<f64>| {
            balances.iter().filter_map(|balance| of(balance).estimated().map(|d| d.abs())).reduce(f64::max)
        };
        BaselineLine {
            code: variable.code,
            label: variable.label,
            planned: variable.planned,
            missing,
            largest_before: largest(|balance| balance.before),
            largest_after: largest(|balance| balance.after),
            spread,
        }
    }

    fn arm(&self, place: usize) -> Arm {
        if self.in_first[place] { Arm::ZeroFluoroscopy } else { Arm::Conventional }
    }

    fn missing<T>(&self, values: &[Option<T>]) -> ByArm<u32> {
        let mut missing = ByArm::default();
        for (place, _) in values.iter().enumerate().filter(|(_, value)| value.is_none()) {
            *missing.of_mut(self.arm(place)) += 1;
        }
        missing
    }

    fn numbers(&self, values: &[Option<f64>]) -> Spread {
        let of_arm = |arm| {
            let own = values.iter().enumerate().filter(|(place, _)| self.arm(*place) == arm);
            own.filter_map(|(_, value)| *value).collect::<Vec<f64>>()
        };
        let samples = ByArm::from_fn(|arm| Sample::new(of_arm(arm)).ok());
        let both = || {
            let needed = |arm| NotEstimable::TooFewValues { arm, found: 0, needed: 2 };
            let first = samples.zero_fluoroscopy.as_ref().ok_or(needed(interval::Arm::First))?;
            let second = samples.conventional.as_ref().ok_or(needed(interval::Arm::Second))?;
            standardised_difference_of_means(first, second)
        };
        let after = self.weighted(values).and_then(|weighted| {
            let weights = self.weights_of(&weighted)?;
            let values = WeightedValues::new(&weights, &weighted.values);
            values.map_or(Err(NotEstimable::NoVariation), weighted_means_by_raw_spread)
        });
        Spread::Numbers {
            arms: samples.map(|sample| ArmNumbers::of(sample.as_ref())),
            balance: Balance { before: both().into(), after: after.into() },
        }
    }

    fn levels(&self, labels: &[String], values: &[Option<u8>]) -> Spread {
        let mut counts = vec![ByArm::<u32>::default(); labels.len()];
        let mut recorded = ByArm::<u32>::default();
        for (place, level) in values.iter().enumerate() {
            if let Some(count) = level.and_then(|level| counts.get_mut(usize::from(level))) {
                *count.of_mut(self.arm(place)) += 1;
                *recorded.of_mut(self.arm(place)) += 1;
            }
        }
        let present = self.weighted(values).and_then(|weighted| {
            let weights = self.weights_of(&weighted)?;
            let present = WeightedIndicator::of_levels(&weights, &weighted.values, labels.len());
            present.map_err(|_| NotEstimable::NoVariation)
        });
        let level = |(place, label): (usize, &String)| {
            let arms = counts[place];
            let share = |arm| ArmLevel {
                cases: *arms.of(arm),
                share: (*recorded.of(arm) > 0)
                    .then(|| f64::from(*arms.of(arm)) / f64::from(*recorded.of(arm))),
            };
            let present = present.as_ref().map_err(|why| *why);
            let after = present.and_then(|present| weighted_proportions_by_raw_spread(present[place]));
            Level {
                label: label.clone(),
                arms: ByArm::from_fn(share),
                balance: Balance { before: apart(&arms, &recorded).into(), after: after.into() },
            }
        };
        // A level that nobody has says nothing.
        let seen = |level: &Level| level.arms.each().iter().any(|(_, arm)| arm.cases > 0);
        Spread::Levels(labels.iter().enumerate().map(level).filter(seen).collect())
    }

    /// The weighted cases in which something was recorded.
    fn weighted<T: Copy>(&self, values: &[Option<T>]) -> Result<Weighted<T>, NotEstimable> {
        let weights = self.weights?.weights();
        let recorded = || self.places.iter().filter_map(|place| values[*place]);
        if recorded().count() == weights.len() {
            return Ok(Weighted { values: recorded().collect(), some: None });
        }
        let (mut in_first, mut own) = (Vec::new(), Vec::new());
        let both = self.places.iter().zip(weights).filter(|(place, _)| values[**place].is_some());
        both.for_each(|(place, weight)| {
            in_first.push(self.in_first[*place]);
            own.push(*weight);
        });
        Ok(Weighted { values: recorded().collect(), some: Some((in_first, own)) })
    }

    /// Their weights.
    fn weights_of<'a, T>(
        &'a self,
        weighted: &'a Weighted<T>,
    ) -> Result<Cow<'a, CaseWeights<'a>>, NotEstimable> {
        match &weighted.some {
            None => Ok(Cow::Borrowed(self.weights?)),
            Some((in_first, weights)) => {
                let weights = CaseWeights::new(in_first, weights.clone());
                weights.map(Cow::Owned).map_err(|_| NotEstimable::NoOverlap)
            }
        }
    }
}

/// A value of each weighted case in which something was recorded.
struct Weighted<T> {
    values: Vec<T>,
    /// Their arms and weights, where those are not all weighted cases.
    some: Option<(Vec<bool>, Vec<f64>)>,
}

fn apart(counts: &ByArm<u32>, recorded: &ByArm<u32>) -> Result<f64, NotEstimable> {
    let count = |arm: Arm, name| {
        let counted = EventCount::if_any(*counts.of(arm), *recorded.of(arm)).ok().flatten();
        counted.ok_or(NotEstimable::EmptyArm { arm: name })
    };
    standardised_difference_of_proportions(TwoArms {
        first: count(Arm::ZeroFluoroscopy, interval::Arm::First)?,
        second: count(Arm::Conventional, interval::Arm::Second)?,
    })
}

impl ArmNumbers {
    fn of(sample: Option<&Sample>) -> Self {
        let moments = sample.and_then(|sample| sample.moments(interval::Arm::First).ok());
        Self {
            recorded: sample.map_or(0, |sample| sample.len() as u32),
            mean: sample.map(Sample::mean),
            standard_deviation: moments.map(|moments| moments.variance.sqrt()),
            quartiles: sample.and_then(quartiles),
        }
    }
}
