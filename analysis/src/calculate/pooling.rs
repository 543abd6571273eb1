//! Effects of centres, and one effect over all of them.

use super::answer::Each;
use super::arms::Strata;
use super::calculation::{Calculation, Shape};
use super::cells::{Cells, number};
use super::centres::Centres;
use super::column::{Column, Output};
use super::input::Input;
use super::line::Cell;
use super::named::{Centre, OfStratum, named};
use super::table::{Row, Table};
use super::trouble::Trouble;
use crate::methods::between_centres::{
    CentreModel, common_effect, der_simonian_laird, paule_mandel, restricted_maximum_likelihood,
};
use crate::methods::centre_effects::{
    CentreEffect, log_odds, log_odds_ratios, log_odds_ratios_size_matched, log_risk_ratios,
    log_risk_ratios_size_matched, risk_differences, risk_differences_by_common_rates,
};
use crate::methods::heterogeneity::{Heterogeneity, TauHeterogeneity, heterogeneity, tau_heterogeneity};
use crate::methods::interval::{Arm, Confidence, NotEstimable};
use crate::methods::pooling::{
    PooledEffect, pooled_hartung_knapp, pooled_hartung_knapp_ad_hoc, pooled_normal, prediction_interval,
    prediction_interval_hartung_knapp,
};

pub(super) fn family() -> Vec<Calculation> {
    let mut family = effects();
    family.extend(log_ratios());
    family.extend(pooled());
    family.extend(between());
    family
}

fn effects() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "risk_differences",
            "dersimonian_laird1986",
            "Difference of proportions of each stratum with its own variance",
            |strata: Strata| {
                let effects = risk_differences(&strata.counts);
                effects.map(|effects| by_stratum(&strata, effects))
            },
        ),
        C::new(
            "risk_differences_by_common_rates",
            "berkey1995",
            "Difference of proportions of each stratum, variance from all strata",
            |strata: Strata| {
                let effects = risk_differences_by_common_rates(&strata.counts);
                effects.map(|effects| by_stratum(&strata, effects))
            },
        ),
        C::new("log_odds", "haldane1956", "Logarithm of the odds of each centre", |centres: Centres| {
            let effects = log_odds(&centres.counts);
            Each::<Effect, Centre>::of(centres.names.into_iter().zip(effects.into_iter().map(Effect)))
        }),
    ]
}

fn log_ratios() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "log_odds_ratios",
            "woolf1955",
            "Logarithm of the odds ratio of each stratum, one half added at a zero cell",
            |strata: Strata| by_stratum(&strata, log_odds_ratios(&strata.counts)),
        ),
        C::new(
            "log_odds_ratios_size_matched",
            "sweeting2004",
            "Logarithm of the odds ratio of each stratum, size-matched correction at a zero cell",
            |strata: Strata| by_stratum(&strata, log_odds_ratios_size_matched(&strata.counts)),
        ),
        C::new(
            "log_risk_ratios",
            "katz1978",
            "Logarithm of the risk ratio of each stratum, one half added at a zero cell",
            |strata: Strata| by_stratum(&strata, log_risk_ratios(&strata.counts)),
        ),
        C::new(
            "log_risk_ratios_size_matched",
            "sweeting2004",
            "Logarithm of the risk ratio of each stratum, size-matched correction at a zero cell",
            |strata: Strata| by_stratum(&strata, log_risk_ratios_size_matched(&strata.counts)),
        ),
    ]
}

fn pooled() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "pooled_normal",
            "dersimonian_laird1986",
            "Mean effect of the centres with normal limits",
            |effects: Effects, between: Between, level: Confidence| {
                between.fit(&effects).map(|model| pooled_normal(&model, level))
            },
        ),
        C::new(
            "pooled_hartung_knapp",
            "hartung_knapp2001",
            "Mean effect of the centres with the limits of Hartung and Knapp",
            |effects: Effects, between: Between, level: Confidence| {
                pooled_hartung_knapp(&between.fit(&effects)?, level)
            },
        ),
        C::new(
            "pooled_hartung_knapp_ad_hoc",
            "knapp_hartung2003",
            "The same, never narrower than the normal limits",
            |effects: Effects, between: Between, level: Confidence| {
                pooled_hartung_knapp_ad_hoc(&between.fit(&effects)?, level)
            },
        ),
        C::new(
            "prediction_interval",
            "higgins2009",
            "Interval for the effect at a new centre",
            |effects: Effects, between: Between, level: Confidence| {
                prediction_interval(&between.fit(&effects)?, level)
            },
        ),
        C::new(
            "prediction_interval_hartung_knapp",
            "higgins2009, hartung_knapp2001",
            "Interval for the effect at a new centre, standard error of Hartung and Knapp",
            |effects: Effects, between: Between, level: Confidence| {
                prediction_interval_hartung_knapp(&between.fit(&effects)?, level)
            },
        ),
    ]
}

fn between() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "heterogeneity",
            "cochran1954, higgins_thompson2002",
            "Cochran's Q with I² and H² from it",
            |effects: Effects| heterogeneity(&effects.0),
        ),
        C::new(
            "tau_heterogeneity",
            "higgins_thompson2002",
            "I² and H² from the variance between centres",
            |effects: Effects, between: Between| tau_heterogeneity(&between.fit(&effects)?),
        ),
    ]
}

/// Effects of centres with their variances.
struct Effects(Vec<CentreEffect>);

impl Input for Effects {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![
            Column::value("centre", "the name of the centre, once in a set").optional(),
            Column::value("estimate", "the effect at the centre"),
            Column::value("variance", "its variance within the centre, above 0"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let effect = |row: Row<'_>| {
            let estimate = row.number("estimate")?;
            row.checked("variance", |variance| CentreEffect::new(estimate, variance))
        };
        Ok(Self(named(table, "centre", effect)?.into_iter().map(|(_, effect)| effect).collect()))
    }
}

/// How the variance between centres is estimated.
#[derive(Clone, Copy)]
struct Between(fn(&[CentreEffect]) -> Result<CentreModel, NotEstimable>);

const BETWEEN: &str = "common_effect, der_simonian_laird, paule_mandel or restricted_likelihood";

impl Input for Between {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("between", BETWEEN)]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let words = [
            ("common_effect", Self(common_effect)),
            ("der_simonian_laird", Self(der_simonian_laird)),
            ("paule_mandel", Self(paule_mandel)),
            ("restricted_likelihood", Self(restricted_maximum_likelihood)),
        ];
        table.parameter("between")?.one_of("between", BETWEEN, &words)
    }
}

impl Between {
    fn fit(self, effects: &Effects) -> Result<CentreModel, NotEstimable> {
        (self.0)(&effects.0)
    }
}

struct Effect(CentreEffect);

impl Cells for Effect {
    const COLUMNS: &'static [Output] = &[
        Output::new("estimate", "effect"),
        Output::new("variance", "its variance within the stratum or centre"),
    ];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.0.estimate()), number(self.0.variance())]
    }
}

/// Each stratum with its effect, or why it has none.
fn by_stratum(
    strata: &Strata,
    effects: Vec<Option<CentreEffect>>,
) -> Each<Result<Effect, NotEstimable>, OfStratum> {
    let one =
        |((name, counts), effect): ((&String, &crate::methods::counts::Stratum), Option<CentreEffect>)| {
            let why = match (counts.first, counts.second) {
                (None, _) => NotEstimable::EmptyArm { arm: Arm::First },
                (_, None) => NotEstimable::EmptyArm { arm: Arm::Second },
                _ => NotEstimable::NoVariation,
            };
            (name.clone(), effect.map(Effect).ok_or(why))
        };
    Each::of(strata.names.iter().zip(&strata.counts).zip(effects).map(one))
}

impl Cells for PooledEffect {
    const COLUMNS: &'static [Output] = &[
        Output::new("estimate", "mean effect"),
        Output::new("lower", "lower confidence limit"),
        Output::new("upper", "upper confidence limit"),
        Output::new("se", "standard error"),
        Output::new("statistic", "estimate over its standard error"),
        Output::new("p", "two-sided p of no effect"),
        Output::new("tau_squared", "variance between centres"),
    ];

    fn cells(&self) -> Vec<Cell> {
        let mut cells = self.interval.cells();
        cells.extend([self.standard_error, self.statistic, self.p, self.between.tau_squared].map(number));
        cells
    }
}

impl Cells for Heterogeneity {
    const COLUMNS: &'static [Output] = &[
        Output::new("statistic", "Cochran's Q"),
        Output::new("df", "degrees of freedom"),
        Output::new("p", "p of one effect at all centres"),
        Output::new("i_squared", "I² from Q, between 0 and 1"),
        Output::new("h_squared", "H² from Q"),
    ];

    fn cells(&self) -> Vec<Cell> {
        let mut cells = self.q.cells();
        cells.extend([self.i_squared_from_q, self.h_squared_from_q].map(number));
        cells
    }
}

impl Cells for TauHeterogeneity {
    const COLUMNS: &'static [Output] = &[
        Output::new("i_squared", "I² from the variance between centres, between 0 and 1"),
        Output::new("h_squared", "H² from the variance between centres"),
    ];

    fn cells(&self) -> Vec<Cell> {
        [self.i_squared_from_tau, self.h_squared_from_tau].map(number).to_vec()
    }
}
