//! The baseline table: each arm, and how far apart the arms are before and after weighting.

use super::super::Seen;
use super::variables::{Variable, columns, variables};
use crate::methods::balance::{standardised_difference_of_means, standardised_difference_of_proportions};
use crate::methods::case_weights::{CaseWeights, CaseWeightsError};
use crate::methods::column::Column;
use crate::methods::counts::{EventCount, TwoArms};
use crate::methods::interval::{self, NotEstimable};
use crate::methods::runs::Runs;
use crate::methods::sample::Sample;
use crate::methods::weighted_balance::{
    WeightedIndicator, WeightedValues, weighted_means_by_raw_spread, weighted_proportions_by_raw_spread,
};
use crate::study::adjustment::Choice;
use crate::study::arm::{Arm, ByArm};
use crate::study::dose::{Quartiles, quartiles};
use crate::study::estimate::Estimate;
use crate::study::population::Population;
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
    let weighted = (places.len() < compared.len()).then(|| places.into_iter().collect());
    let table = Table { in_first, weighted, weights };
    let variables = variables(seen.plan.covariates());
    let columns = columns(&variables, &compared);
    let both = variables.par_iter().zip(columns);
    both.map(|(variable, column)| table.line(variable, &column)).collect()
}

struct Table<'w> {
    in_first: Vec<bool>,
    /// The weighted cases, where those are not all.
    weighted: Option<Runs>,
    weights: Weights<'w>,
}

impl Table<'_> {
    fn line(&self, variable: &Variable, column: &Column) -> BaselineLine {
        let spread = match variable.labels() {
            None => self.numbers(column),
            Some(labels) => self.levels(&labels, column),
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
            missing: self.missing(column),
            largest_before: largest(|balance| balance.before),
            largest_after: largest(|balance| balance.after),
            spread,
        }
    }

    /// The values of an arm.
    fn of_arm<'a>(&'a self, arm: Arm, column: &'a Column) -> impl Iterator<Item = f64> + 'a {
        let first = arm == Arm::ZeroFluoroscopy;
        column.iter().zip(&self.in_first).filter(move |(_, own)| **own == first).map(|(value, _)| value)
    }

    fn missing(&self, column: &Column) -> ByArm<u32> {
        ByArm::from_fn(|arm| self.of_arm(arm, column).filter(|value| value.is_nan()).count() as u32)
    }

    fn numbers(&self, column: &Column) -> Spread {
        let sample = |arm| match Column::new(self.of_arm(arm, column)) {
            Column::Few(few) => Sample::counted(few.counted().filter(|(value, _)| !value.is_nan())),
            Column::Many(values) => Sample::new(values.into_iter().filter(|value| !value.is_nan()).collect()),
        };
        let samples = ByArm::from_fn(|arm| sample(arm).ok());
        let both = || {
            let needed = |arm| NotEstimable::TooFewValues { arm, found: 0, needed: 2 };
            let first = samples.zero_fluoroscopy.as_ref().ok_or(needed(interval::Arm::First))?;
            let second = samples.conventional.as_ref().ok_or(needed(interval::Arm::Second))?;
            standardised_difference_of_means(first, second)
        };
        let after = || {
            let values = WeightedValues::of_column(self.weights?, &self.weighted(column));
            weighted_means_by_raw_spread(values.map_err(why_not)?)
        };
        Spread::Numbers {
            arms: samples.map(|sample| ArmNumbers::of(sample.as_ref())),
            balance: Balance { before: both().into(), after: after().into() },
        }
    }

    fn levels(&self, labels: &[String], column: &Column) -> Spread {
        let mut counts = vec![ByArm::<u32>::default(); labels.len()];
        let mut recorded = ByArm::<u32>::default();
        for arm in Arm::BOTH {
            for level in self.of_arm(arm, column).filter(|level| !level.is_nan()) {
                if let Some(count) = counts.get_mut(level as usize) {
                    *count.of_mut(arm) += 1;
                    *recorded.of_mut(arm) += 1;
                }
            }
        }
        let present = self.weights.and_then(|weights| {
            let present = WeightedIndicator::of_levels(weights, &self.weighted(column), labels.len());
            present.map_err(why_not)
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

    /// The column of the weighted cases.
    fn weighted<'c>(&self, column: &'c Column) -> Cow<'c, Column> {
        self.weighted.as_ref().map_or(Cow::Borrowed(column), |cases| Cow::Owned(column.only(cases)))
    }
}

fn why_not(why: CaseWeightsError) -> NotEstimable {
    match why {
        CaseWeightsError::NoWeight { .. } => NotEstimable::NoOverlap,
        _ => NotEstimable::NoVariation,
    }
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
