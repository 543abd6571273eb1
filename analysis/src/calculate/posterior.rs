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
            |arms: TwoArms, prior: BetaPrior, at: NullDifference| {
                let (first, second) = both(arms, prior);
                difference_posterior(first, second, at)
            },
        ),
        C::new(
            "ratio_posterior",
            "gelman2013",
            "Posterior probabilities that a ratio lies below and above a value",
            |arms: TwoArms, prior: BetaPrior, at: NullRatio| {
                let (first, second) = both(arms, prior);
                ratio_posterior(first, second, at)
            },
        ),
        C::new(
            "difference_posterior_interval",
            "gelman2013",
            "Posterior interval of a difference with equal tails",
            |arms: TwoArms, prior: BetaPrior, level: Confidence| {
                let (first, second) = both(arms, prior);
                difference_posterior_interval(first, second, level)
            },
        ),
        C::new(
            "probability_margin_met",
            "gelman2013",
            "Posterior probability that the margin of a difference is met",
            |arms: TwoArms, prior: BetaPrior, margin: Margin| {
                let (first, second) = both(arms, prior);
                Met(probability_margin_met(first, second, margin))
            },
        ),
        C::new(
            "probability_ratio_margin_met",
            "gelman2013",
            "Posterior probability that the margin of a ratio is met",
            |arms: TwoArms, prior: BetaPrior, margin: RatioMargin| {
                let (first, second) = both(arms, prior);
                Met(probability_ratio_margin_met(first, second, margin))
            },
        ),
    ]
}

fn both(arms: TwoArms, prior: BetaPrior) -> (Posterior, Posterior) {
    (beta_posterior(arms.first, prior), beta_posterior(arms.second, prior))
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
