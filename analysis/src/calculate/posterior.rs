//! Belief about proportions after the cases were seen.

use super::calculation::Calculation;
use super::cells::{Cells, number};
use super::column::{Column, Output};
use super::input::Input;
use super::line::Cell;
use super::table::Table;
use super::trouble::Trouble;
use crate::methods::counts::{EventCount, TwoArms};
use crate::methods::distribution::Tails;
use crate::methods::interval::Confidence;
use crate::methods::non_inferiority::Margin;
use crate::methods::null_test::{NullDifference, NullRatio};
use crate::methods::posterior::{
    BetaPrior, Posterior, beta_posterior, difference_posterior, difference_posterior_interval,
    probability_margin_met, probability_ratio_margin_met, ratio_posterior,
};
use crate::methods::ratio_margin::RatioMargin;
use crate::methods::sample::Probability;

pub(super) fn family() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "beta_posterior",
            "gelman2013",
            "Posterior of a proportion: mean, standard deviation and one quantile",
            |counts: EventCount, prior: BetaPrior, below: Probability| {
                let posterior = beta_posterior(counts, prior);
                Belief { posterior, quantile: posterior.quantile(below) }
            },
        ),
        C::new(
            "difference_posterior",
            "gelman2013",
            "Posterior probabilities that a difference lies below and above a value",
            |beliefs: Beliefs, at: NullDifference| difference_posterior(beliefs.first, beliefs.second, at),
        ),
        C::new(
            "ratio_posterior",
            "gelman2013",
            "Posterior probabilities that a ratio lies below and above a value",
            |beliefs: Beliefs, at: NullRatio| ratio_posterior(beliefs.first, beliefs.second, at),
        ),
        C::new(
            "difference_posterior_interval",
            "gelman2013",
            "Posterior interval of a difference with equal tails",
            |beliefs: Beliefs, level: Confidence| {
                difference_posterior_interval(beliefs.first, beliefs.second, level)
            },
        ),
        C::new(
            "probability_margin_met",
            "gelman2013",
            "Posterior probability that the margin of a difference is met",
            |beliefs: Beliefs, margin: Margin| {
                Met(probability_margin_met(beliefs.first, beliefs.second, margin))
            },
        ),
        C::new(
            "probability_ratio_margin_met",
            "gelman2013",
            "Posterior probability that the margin of a ratio is met",
            |beliefs: Beliefs, margin: RatioMargin| {
                Met(probability_ratio_margin_met(beliefs.first, beliefs.second, margin))
            },
        ),
    ]
}

/// What is believed of two arms after their cases, with the same prior.
struct Beliefs {
    first: Posterior,
    second: Posterior,
}

impl Input for Beliefs {
    fn columns() -> Vec<Column> {
        TwoArms::columns().into_iter().chain(BetaPrior::columns()).collect()
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let (arms, prior) = (TwoArms::read(table)?, BetaPrior::read(table)?);
        Ok(Self { first: beta_posterior(arms.first, prior), second: beta_posterior(arms.second, prior) })
    }
}

impl Input for BetaPrior {
    fn columns() -> Vec<Column> {
        vec![
            Column::parameter("prior_a", "the prior's weight in events; 1 with prior_b 1 is uniform"),
            Column::parameter("prior_b", "the prior's weight in non-events"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let (events, row) = (table.parameter("prior_a")?.number("prior_a")?, table.parameter("prior_b")?);
        row.checked("prior_b", |non_events| Self::new(events, non_events))
    }
}

/// A posterior with one of its quantiles.
struct Belief {
    posterior: Posterior,
    quantile: f64,
}

impl Cells for Belief {
    const COLUMNS: &'static [Output] = &[
        Output::new("estimate", "mean of the proportion"),
        Output::new("sd", "its standard deviation"),
        Output::new("quantile", "the proportion below which the probability lies"),
    ];

    fn cells(&self) -> Vec<Cell> {
        [self.posterior.mean(), self.posterior.standard_deviation(), self.quantile].map(number).to_vec()
    }
}

impl Cells for Tails {
    const COLUMNS: &'static [Output] =
        &[Output::new("below", "probability below the value"), Output::new("above", "probability above it")];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.lower), number(self.upper)]
    }
}

struct Met(f64);

impl Cells for Met {
    const COLUMNS: &'static [Output] =
        &[Output::new("probability_met", "probability that the margin is met")];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.0)]
    }
}
