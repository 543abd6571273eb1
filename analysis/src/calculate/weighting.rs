//! Arms weighted to one population by their propensity.

use super::answer::{Each, Key};
use super::calculation::{Calculation, Shape};
use super::cells::{Cells, number};
use super::column::{Column, Output};
use super::effect::Effect;
use super::input::Input;
use super::line::Cell;
use super::regression::{ARM, centres_for, events};
use super::table::{Row, Table};
use super::terms::{COLUMN, Term, Terms};
use super::trouble::Trouble;
use crate::methods::case_weights::{CaseWeights, CaseWeightsError};
use crate::methods::interval::{Confidence, NotEstimable};
use crate::methods::logistic_cases::LogisticCases;
use crate::methods::positivity::{ArmPositivity, PropensityBounds, positivity};
use crate::methods::propensity::{Propensity, TargetPopulation, logistic_propensity};
use crate::methods::wald::WaldEstimate;
use crate::methods::weighted_balance::{
    WeightedIndicator, WeightedValues, weighted_means_by_raw_spread, weighted_means_by_weighted_spread,
    weighted_proportions_by_raw_spread, weighted_proportions_by_weighted_spread,
};
use crate::methods::weighting::{
    WeightedCases, WeightedContrast, hajek_risks, weighted_cr1, weighted_cr2, weighted_for_these_centres,
};

pub(super) fn family() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "weighted_risks",
            "hajek1971, li_morgan_zaslavsky2018, lunceford_davidian2004",
            "Risks, difference and ratio of two arms weighted to one population",
            weighted_risks,
        ),
        C::new(
            "weighted_balance",
            "austin_stuart2015",
            "Standardised difference of each covariate before and after weighting",
            |cases: ArmCases, target: TargetPopulation| cases.balance(target),
        ),
        C::new(
            "propensity_weights",
            "rosenbaum_rubin1983",
            "Propensity and weight of each case, in the order of the rows",
            |cases: ArmCases, target: TargetPopulation| cases.weights(target),
        ),
        C::new(
            "positivity",
            "crump2009, austin_stuart2015, kish1965",
            "Whether patients like each case are found in both arms",
            counterparts,
        ),
    ]
}

fn weighted_risks(
    cases: ArmCases,
    outcomes: Outcomes,
    target: TargetPopulation,
    level: Confidence,
) -> Result<Weighted, NotEstimable> {
    let propensity = cases.propensity()?;
    let weighted = WeightedCases::new(&propensity, &outcomes.events, &outcomes.centres);
    // There is an outcome and a centre for every case that was read.
    let risks = hajek_risks(weighted.map_err(|_| NotEstimable::NoOverlap)?, target)?;
    let difference = risks.difference.and_then(outcomes.errors);
    let log_ratio = risks.log_ratio.and_then(outcomes.errors);
    Ok(Each::of([
        ("risk1".to_owned(), Ok(Effect::risk(risks.first))),
        ("risk2".to_owned(), Ok(Effect::risk(risks.second))),
        ("difference".to_owned(), difference.and_then(|wald| Effect::plain(wald, level))),
        ("ratio".to_owned(), log_ratio.and_then(|wald| Effect::ratio(wald, level))),
    ]))
}

fn counterparts(
    cases: ArmCases,
    target: TargetPopulation,
    bounds: PropensityBounds,
) -> Result<Each<Counterparts, OfArm>, NotEstimable> {
    let report = positivity(&cases.propensity()?, target, bounds)?;
    let of = |arm| Counterparts { arm, overlap: report.overlap };
    Ok(Each::of([("1".to_owned(), of(report.first)), ("0".to_owned(), of(report.second))]))
}

/// Cases of two arms with the covariates of their propensity.
struct ArmCases {
    terms: Terms,
    in_first: Vec<bool>,
}

impl Input for ArmCases {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![Column::value("group", ARM), COLUMN]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let arm = |row: Row<'_>| row.one_of("group", ARM, &[("1", true), ("0", false)]);
        Ok(Self { in_first: table.rows().map(arm).collect::<Result<_, _>>()?, terms: Terms::read(table)? })
    }
}

impl ArmCases {
    fn propensity(&self) -> Result<Propensity<'_>, NotEstimable> {
        // Both were read from the same rows.
        let cases = LogisticCases::new(&self.terms.design, &self.in_first);
        logistic_propensity(cases.map_err(|_| NotEstimable::NoVariation)?)
    }

    fn balance(&self, target: TargetPopulation) -> Result<Each<Balance, Term>, NotEstimable> {
        let weights = self.propensity()?.weights(target)?;
        let equal = CaseWeights::new(&self.in_first, vec![1.0; self.in_first.len()]);
        let equal = equal.map_err(|_| NotEstimable::NoOverlap)?;
        let balance = |(name, column): (&String, usize)| {
            let values: Vec<f64> = self.terms.design.column(column).iter().collect();
            let column = Covariate::of(&values);
            let (before, after) = (column.balance(&equal)?, column.balance(&weights)?);
            let after_by_weighted_spread = after.by_weighted_spread;
            Ok((
                name.clone(),
                Balance {
                    before: before.by_raw_spread,
                    after: after.by_raw_spread,
                    after_by_weighted_spread,
                },
            ))
        };
        let all: Result<Vec<_>, CaseWeightsError> = self.terms.names.iter().zip(0..).map(balance).collect();
        // A value for every case was read within the range that a covariate has.
        Ok(Each::of(all.map_err(|_| NotEstimable::NoVariation)?))
    }

    fn weights(&self, target: TargetPopulation) -> Result<Each<Weight, OfCase>, NotEstimable> {
        let propensity = self.propensity()?;
        let weights = propensity.weights(target)?;
        let pairs = propensity.scores().iter().zip(weights.weights());
        let named = |(number, (score, weight)): (usize, (&f64, &f64))| {
            (number.to_string(), Weight { score: *score, weight: *weight })
        };
        Ok(Each::of((1..).zip(pairs).map(named)))
    }
}

impl Input for TargetPopulation {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("target", TARGET)]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let words = [
            ("first_arm", Self::FirstArm),
            ("second_arm", Self::SecondArm),
            ("whole", Self::Whole),
            ("overlap", Self::Overlap),
        ];
        table.parameter("target")?.one_of("target", TARGET, &words)
    }
}

const TARGET: &str = "first_arm, second_arm, whole or overlap: the patients that the answer is for";

impl Input for PropensityBounds {
    fn columns() -> Vec<Column> {
        vec![
            Column::parameter("low", "the propensity below which a case hardly has a counterpart").or("0.1"),
            Column::parameter("high", "the propensity above which a case hardly has a counterpart").or("0.9"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let low = table.parameter("low")?.number("low")?;
        table.parameter("high")?.checked("high", |high| Self::new(low, high))
    }
}

type Errors = fn(WeightedContrast) -> Result<WaldEstimate, NotEstimable>;

/// Outcomes of the cases and how sure their contrasts are.
struct Outcomes {
    events: Vec<bool>,
    centres: Vec<u32>,
    errors: Errors,
}

const ERRORS: &str = "these_centres, or by centre cr1 or cr2";

impl Input for Outcomes {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![
            Column::value("event", "1 with the event, 0 without"),
            Column::parameter("variance", ERRORS),
            Column::value("centre", "the centre of the case, for a variance by centre").optional(),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let words: [(&str, (Errors, bool)); 3] = [
            ("these_centres", (weighted_for_these_centres, false)),
            ("cr1", (weighted_cr1, true)),
            ("cr2", (weighted_cr2, true)),
        ];
        let row = table.parameter("variance")?;
        let (errors, by_centre) = row.one_of("variance", ERRORS, &words)?;
        let events = events(table)?;
        let centres = if by_centre { centres_for(row, table)? } else { vec![0; events.len()] };
        Ok(Self { events, centres, errors })
    }
}

struct OfEffect;

impl Key for OfEffect {
    const COLUMN: Output =
        Output::new("effect", "risk1, risk2, difference or ratio, first arm against second");
}

type Weighted = Each<Result<Effect, NotEstimable>, OfEffect>;

/// A covariate: a share where all values are 0 or 1, else a measurement.
enum Covariate<'a> {
    Present(Vec<bool>),
    Measured(&'a [f64]),
}

struct BySpread {
    by_raw_spread: Result<f64, NotEstimable>,
    by_weighted_spread: Result<f64, NotEstimable>,
}

impl<'a> Covariate<'a> {
    fn of(values: &'a [f64]) -> Self {
        if values.iter().all(|value| *value == 0.0 || *value == 1.0) {
            Self::Present(values.iter().map(|value| *value == 1.0).collect())
        } else {
            Self::Measured(values)
        }
    }

    fn balance(&self, weights: &CaseWeights<'_>) -> Result<BySpread, CaseWeightsError> {
        Ok(match self {
            Self::Present(present) => {
                let indicator = WeightedIndicator::new(weights, present)?;
                BySpread {
                    by_raw_spread: weighted_proportions_by_raw_spread(indicator),
                    by_weighted_spread: weighted_proportions_by_weighted_spread(indicator),
                }
            }
            Self::Measured(values) => {
                let values = WeightedValues::new(weights, values)?;
                BySpread {
                    by_raw_spread: weighted_means_by_raw_spread(values),
                    by_weighted_spread: weighted_means_by_weighted_spread(values),
                }
            }
        })
    }
}

struct Balance {
    before: Result<f64, NotEstimable>,
    after: Result<f64, NotEstimable>,
    after_by_weighted_spread: Result<f64, NotEstimable>,
}

impl Cells for Balance {
    const COLUMNS: &'static [Output] = &[
        Output::new("before", "standardised difference without weights"),
        Output::new("after", "the same weighted, by the spread before weighting"),
        Output::new("after_by_weighted_spread", "the same by the weighted spread"),
    ];

    fn cells(&self) -> Vec<Cell> {
        let cell = |value: &Result<f64, NotEstimable>| value.map_or(Cell::Blank, number);
        [&self.before, &self.after, &self.after_by_weighted_spread].map(cell).to_vec()
    }

    fn remark(&self) -> Option<&'static str> {
        let all = [self.before, self.after, self.after_by_weighted_spread];
        all.iter().any(Result::is_err).then_some("blank where the covariate has no spread")
    }
}

struct OfCase;

impl Key for OfCase {
    const COLUMN: Output = Output::new("case", "number of the row in its set, from 1");
}

struct Weight {
    score: f64,
    weight: f64,
}

impl Cells for Weight {
    const COLUMNS: &'static [Output] = &[
        Output::new("propensity", "fitted chance of the first arm"),
        Output::new("weight", "weight of the case in its arm"),
    ];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.score), number(self.weight)]
    }
}

struct OfArm;

impl Key for OfArm {
    const COLUMN: Output = Output::new("group", "1 for the first arm, 0 for the second");
}

struct Counterparts {
    arm: ArmPositivity,
    overlap: f64,
}

impl Cells for Counterparts {
    const COLUMNS: &'static [Output] = &[
        Output::new("cases", "cases of the arm"),
        Output::new("smallest", "smallest propensity"),
        Output::new("largest", "largest propensity"),
        Output::new("below", "cases below the lower bound"),
        Output::new("above", "cases above the upper bound"),
        Output::new("outside_shared_range", "cases outside the range that both arms share"),
        Output::new("largest_weight_share", "largest share of one case in the weight of its arm"),
        Output::new("effective_sample_size", "equally weighted cases that would say as much"),
        Output::new("overlap", "common area of both distributions of the propensity: 0 apart, 1 alike"),
    ];

    fn cells(&self) -> Vec<Cell> {
        let arm = &self.arm;
        let whole = |count: usize| number(count as f64);
        vec![
            whole(arm.cases),
            number(arm.smallest),
            number(arm.largest),
            whole(arm.below),
            whole(arm.above),
            whole(arm.outside_shared_range),
            number(arm.largest_weight_share),
            number(arm.effective_sample_size),
            number(self.overlap),
        ]
    }
}
