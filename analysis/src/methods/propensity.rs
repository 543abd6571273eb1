//! The chance of each case to be in the first arm, given its covariates, and the weights that
//! make the arms resemble each other and a population.

use serde::{Deserialize, Serialize};

use super::block_odds::{Sides, sides_of};
use super::case_weights::CaseWeights;
use super::interval::{Arm, NotEstimable};
use super::lanes::BLOCK;
use super::logistic::{LogisticFit, logistic_regression};
use super::logistic_cases::LogisticCases;
use super::row_blocks::RowBlock;

/// For whom a weighted comparison answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TargetPopulation {
    /// Patients like those of the first arm (the treated).
    FirstArm,
    /// Patients like those of the second arm.
    SecondArm,
    /// Patients like all cases together.
    Whole,
    /// Patients who could well have been in either arm.
    Overlap,
}

/// Weight of a case and its derivative by the log odds of the first arm.
#[derive(Clone, Copy)]
pub(super) struct WeightAt {
    pub(super) weight: f64,
    pub(super) slope: f64,
}

impl TargetPopulation {
    /// From the chances of the first and of the second arm, so that no digit is lost at either end.
    pub(super) fn weight_at(self, in_first: bool, [first, second]: [f64; 2]) -> WeightAt {
        let (own, other, turn) = if in_first { (first, second, -1.0) } else { (second, first, 1.0) };
        let odds = other / own;
        match (self, in_first) {
            (Self::FirstArm, true) | (Self::SecondArm, false) => WeightAt { weight: 1.0, slope: 0.0 },
            (Self::FirstArm, false) | (Self::SecondArm, true) => {
                WeightAt { weight: odds, slope: turn * odds }
            }
            (Self::Whole, _) => WeightAt { weight: 1.0 + odds, slope: turn * odds },
            (Self::Overlap, _) => WeightAt { weight: other, slope: turn * own * other },
        }
    }
}

/// The fitted chance of the first arm, one a case.
#[derive(Clone, Debug)]
pub struct Propensity<'a> {
    pub(super) fit: LogisticFit<'a>,
    log_odds: Vec<f64>,
}

impl<'a> Propensity<'a> {
    /// Change of the log odds of the first arm per unit of a column, after the intercept.
    pub fn coefficients(&self) -> Vec<f64> {
        self.fit.coefficients()
    }

    /// Chance of the first arm, one a case, between 0 and 1.
    pub fn scores(&self) -> &[f64] {
        self.fit.probabilities()
    }

    /// Logarithm of the odds of the first arm, one a case.
    pub fn log_odds(&self) -> &[f64] {
        &self.log_odds
    }

    /// Which cases are in the first arm.
    pub fn in_first_arm(&self) -> &'a [bool] {
        self.fit.cases().events
    }

    /// Weights that make both arms resemble the target population.
    ///
    /// Formula: with e the chance of the first arm, the weights in the first and second arm are
    /// 1 and e/(1−e) for the first arm, (1−e)/e and 1 for the second, 1/e and 1/(1−e) for the
    /// whole, 1−e and e for the overlap.
    /// Units: none; only their proportions within an arm matter.
    /// Edges: where every case of an arm has weight 0, or one beyond 1e100, the arms do not overlap.
    /// Source: [li_morgan_zaslavsky2018].
    /// Checked: tests/numbers/weighting.csv.
    pub fn weights(&self, target: TargetPopulation) -> Result<CaseWeights<'a>, NotEstimable> {
        let in_first = self.in_first_arm();
        let mut weights = Vec::with_capacity(in_first.len());
        for (arms, log_odds) in in_first.chunks(BLOCK).zip(self.log_odds.chunks(BLOCK)) {
            let Sides { with, without } = sides_of(log_odds);
            let weight = |(i, first): (usize, &bool)| target.weight_at(*first, [with[i], without[i]]).weight;
            weights.extend(arms.iter().enumerate().map(weight));
        }
        CaseWeights::new(in_first, weights).map_err(|_| NotEstimable::NoOverlap)
    }
}

/// Propensity by logistic regression of the arm on the covariates.
///
/// Formula: the events of the regression are the cases of the first arm; e = 1/(1 + e^−xγ) at the
/// maximum of the likelihood.
/// Units: chances between 0 and 1.
/// Edges: a combination of covariates that decides the arm leaves no overlap; covariates known
/// only after the choice of the arm must not be among the columns.
/// Source: [rosenbaum_rubin1983].
/// Checked: tests/numbers/weighting.csv.
pub fn logistic_propensity(cases: LogisticCases<'_>) -> Result<Propensity<'_>, NotEstimable> {
    let fit = logistic_regression(cases).map_err(|why| match why {
        NotEstimable::NoVariation if cases.events.first() == Some(&true) => {
            NotEstimable::EmptyArm { arm: Arm::Second }
        }
        NotEstimable::NoVariation => NotEstimable::EmptyArm { arm: Arm::First },
        NotEstimable::Separated | NotEstimable::SeparatedByColumn { .. } => NotEstimable::NoOverlap,
        other => other,
    })?;
    let design = cases.design;
    let mut block = RowBlock::of(design, &fit.units);
    let mut log_odds = Vec::with_capacity(design.cases());
    for first in (0..design.cases()).step_by(BLOCK) {
        block.read(first, 1);
        log_odds.extend_from_slice(&block.combine(&fit.standard)[..block.cases]);
    }
    Ok(Propensity { fit, log_odds })
}
