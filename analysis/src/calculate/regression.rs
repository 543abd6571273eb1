//! Logistic regression and what it says about all cases.

use super::answer::{Each, Key};
use super::calculation::{Calculation, Shape};
use super::cells::{Cells, number};
use super::column::{Column, Output};
use super::effect::Effect;
use super::input::Input;
use super::line::Cell;
use super::table::{Row, Table};
use super::terms::{COLUMN, Labels, Term, Terms};
use super::trouble::{Shown, Trouble, Wrong};
use crate::methods::cluster_variance::{cr0_variance, cr1_variance, cr1s_variance, cr2_variance};
use crate::methods::clustered::ClusteredFit;
use crate::methods::coefficient_variance::{CoefficientVariance, hc0_variance, hc1_variance, model_variance};
use crate::methods::firth::firth_regression;
use crate::methods::interval::{Confidence, NotEstimable};
use crate::methods::logistic::{LogisticFit, logistic_regression};
use crate::methods::logistic_cases::LogisticCases;
use crate::methods::separation::separating_column;
use crate::methods::standardisation::{
    Standardised, StandardisedEffects, effects_covariates_fixed, effects_covariates_sampled, standardise,
};
use crate::methods::wald::WaldEstimate;

pub(super) fn family() -> Vec<Calculation> {
    let mut family = coefficients();
    family.extend(standardised());
    family
}

fn coefficients() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "logistic_regression",
            "mccullagh_nelder1989",
            "Logistic regression by maximum likelihood, each coefficient with the variance named",
            |cases: Cases, variance: Variance, level: Confidence| {
                with_variance(&cases, &variance, |variance| {
                    Ok(by_term(&cases, &variance.coefficients(), level))
                })
            },
        ),
        C::new(
            "firth_regression",
            "firth1993, heinze_schemper2002",
            "Logistic regression with Firth's penalty, for rare events and separation",
            |cases: Cases, level: Confidence| {
                let fit = firth_regression(cases.logistic()?)?;
                Ok::<_, NotEstimable>(by_term(&cases, &fit.variance().coefficients(), level))
            },
        ),
        C::new(
            "separating_column",
            "albert_anderson1984",
            "The first covariate that alone divides events from non-events",
            |cases: Cases| {
                let column = separating_column(&cases.terms.design, &cases.events);
                Separating(column.and_then(|column| cases.terms.names.get(column - 1).cloned()))
            },
        ),
    ]
}

fn standardised() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "standardised_covariates_fixed",
            "lane_nelder1982, oehlert1992",
            "Risk difference, ratio and odds ratio had all these cases been in one arm or the other",
            |cases: TreatedCases, variance: Variance, level: Confidence| {
                effects(&cases, &variance, level, effects_covariates_fixed)
            },
        ),
        C::new(
            "standardised_covariates_sampled",
            "stefanski_boos2002, pustejovsky_tipton2018",
            "The same for the population that the cases, or their centres, are a sample of",
            |cases: TreatedCases, variance: Variance, level: Confidence| {
                effects(&cases, &variance, level, effects_covariates_sampled)
            },
        ),
    ]
}

const ENDED: &str = "1 with the event, 0 without";

/// Outcomes and covariates of the cases.
struct Cases {
    terms: Terms,
    events: Vec<bool>,
}

impl Input for Cases {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![Column::value("event", ENDED), COLUMN]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        Ok(Self { events: events(table)?, terms: Terms::read(table)? })
    }
}

pub(super) fn events(table: &Table) -> Result<Vec<bool>, Trouble> {
    let event = |row: Row<'_>| row.one_of("event", ENDED, &[("1", true), ("0", false)]);
    table.rows().map(event).collect()
}

impl Cases {
    fn logistic(&self) -> Result<LogisticCases<'_>, NotEstimable> {
        // Both were read from the same rows.
        LogisticCases::new(&self.terms.design, &self.events).map_err(|_| NotEstimable::NoVariation)
    }
}

/// Cases of two arms; the arm is a covariate of its own, the last one.
struct TreatedCases(Cases);

pub(super) const ARM: &str = "1 for the first arm, 0 for the second";

impl Input for TreatedCases {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        let mut columns = Cases::columns();
        columns.push(Column::value("group", ARM));
        columns
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let arm = |row: Row<'_>| row.one_of("group", ARM, &[("1", 1.0), ("0", 0.0)]);
        let arms: Vec<f64> = table.rows().map(arm).collect::<Result<_, _>>()?;
        Ok(Self(Cases {
            events: events(table)?,
            terms: Terms::and(table, vec![("group".to_owned(), arms)])?,
        }))
    }
}

/// How the variance of the coefficients is estimated.
#[derive(Clone, Copy)]
enum Kind {
    Model,
    Hc0,
    Hc1,
    Cr0,
    Cr1,
    Cr1s,
    Cr2,
}

/// The variance wanted, with the clusters that it needs.
struct Variance {
    kind: Kind,
    centres: Vec<u32>,
}

const VARIANCE: &str = "model, hc0, hc1, or by centre cr0, cr1, cr1s, cr2";

impl Input for Variance {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        let centre = Column::value("centre", "the centre of the case, for a variance by centre").optional();
        vec![Column::parameter("variance", VARIANCE), centre]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let words = [
            ("model", Kind::Model),
            ("hc0", Kind::Hc0),
            ("hc1", Kind::Hc1),
            ("cr0", Kind::Cr0),
            ("cr1", Kind::Cr1),
            ("cr1s", Kind::Cr1s),
            ("cr2", Kind::Cr2),
        ];
        let row = table.parameter("variance")?;
        let kind = row.one_of("variance", VARIANCE, &words)?;
        let centres = match kind {
            Kind::Model | Kind::Hc0 | Kind::Hc1 => Vec::new(),
            Kind::Cr0 | Kind::Cr1 | Kind::Cr1s | Kind::Cr2 => centres_for(row, table)?,
        };
        Ok(Self { kind, centres })
    }
}

/// The centres of the cases, without which a variance by centre cannot be had.
pub(super) fn centres_for(variance: Row<'_>, table: &Table) -> Result<Vec<u32>, Trouble> {
    let lacking = || Wrong::Needs(Shown::of(variance.text("variance")), "centre");
    let labels = Labels::if_any(table, "centre")?;
    labels.map(|labels| labels.of_case).ok_or_else(|| variance.trouble("variance", lacking()))
}

fn with_variance<T>(
    cases: &Cases,
    variance: &Variance,
    answer: impl FnOnce(&CoefficientVariance<'_>) -> Result<T, NotEstimable>,
) -> Result<T, NotEstimable> {
    let fit = logistic_regression(cases.logistic()?)?;
    answer(&match variance.kind {
        Kind::Model => model_variance(&fit),
        Kind::Hc0 => hc0_variance(&fit),
        Kind::Hc1 => hc1_variance(&fit),
        Kind::Cr0 => cr0_variance(&clustered(&fit, variance)?)?,
        Kind::Cr1 => cr1_variance(&clustered(&fit, variance)?)?,
        Kind::Cr1s => cr1s_variance(&clustered(&fit, variance)?)?,
        Kind::Cr2 => cr2_variance(&clustered(&fit, variance)?)?,
    })
}

fn clustered<'f>(fit: &'f LogisticFit<'f>, variance: &Variance) -> Result<ClusteredFit<'f>, NotEstimable> {
    // There is one label for every case that was read.
    let none = |_| NotEstimable::TooFewClusters { found: 0 };
    ClusteredFit::new(fit, &variance.centres).map_err(none)
}

/// An estimate with its limits.
struct Coefficient {
    estimate: WaldEstimate,
    lower: f64,
    upper: f64,
}

impl Cells for Coefficient {
    const COLUMNS: &'static [Output] = &[
        Output::new("estimate", "change of the log odds for one unit of the covariate"),
        Output::new("lower", "lower confidence limit"),
        Output::new("upper", "upper confidence limit"),
        Output::new("se", "standard error"),
        Output::new("df", "degrees of freedom; blank for the normal distribution"),
        Output::new("p", "two-sided p of no effect"),
    ];

    fn cells(&self) -> Vec<Cell> {
        let WaldEstimate { estimate, standard_error, degrees_of_freedom, .. } = self.estimate;
        let mut cells = [estimate, self.lower, self.upper, standard_error].map(number).to_vec();
        cells.push(degrees_of_freedom.map_or(Cell::Blank, number));
        cells.push(number(self.estimate.p_two_sided()));
        cells
    }
}

type Coefficients = Each<Result<Coefficient, NotEstimable>, Term>;

fn by_term(
    cases: &Cases,
    estimates: &[Result<WaldEstimate, NotEstimable>],
    level: Confidence,
) -> Coefficients {
    let names = std::iter::once("intercept".to_owned()).chain(cases.terms.names.iter().cloned());
    let coefficient = |estimate: &Result<WaldEstimate, NotEstimable>| {
        let estimate = (*estimate)?;
        let interval = estimate.interval(level)?;
        Ok(Coefficient { estimate, lower: interval.lower, upper: interval.upper })
    };
    Each::of(names.zip(estimates.iter().map(coefficient)))
}

struct Separating(Option<String>);

impl Cells for Separating {
    const COLUMNS: &'static [Output] = &[Output::new("term", "the covariate; blank if none does so alone")];

    fn cells(&self) -> Vec<Cell> {
        vec![self.0.clone().map_or(Cell::Blank, Cell::Word)]
    }
}

struct OfEffect;

impl Key for OfEffect {
    const COLUMN: Output =
        Output::new("effect", "risk1, risk2, difference, ratio or odds_ratio, first arm against second");
}

type Effects = Each<Result<Effect, NotEstimable>, OfEffect>;
type Spread = fn(&Standardised<'_, '_>) -> Result<StandardisedEffects, NotEstimable>;

fn effects(
    cases: &TreatedCases,
    variance: &Variance,
    level: Confidence,
    spread: Spread,
) -> Result<Effects, NotEstimable> {
    let column = cases.0.terms.names.len();
    with_variance(&cases.0, variance, |variance| {
        // The arm was read as 1 or 0 and is the last column.
        let standardised = standardise(variance, column).map_err(|_| NotEstimable::NoVariation)?;
        let found = spread(&standardised)?;
        Ok(Each::of([
            ("risk1".to_owned(), Effect::plain(found.first_risk, level)),
            ("risk2".to_owned(), Effect::plain(found.second_risk, level)),
            ("difference".to_owned(), Effect::plain(found.difference, level)),
            ("ratio".to_owned(), Effect::ratio(found.log_ratio, level)),
            ("odds_ratio".to_owned(), Effect::ratio(found.log_odds_ratio, level)),
        ]))
    })
}
