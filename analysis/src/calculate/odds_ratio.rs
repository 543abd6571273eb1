//! Odds ratio of two proportions, first / second.

use super::calculation::Calculation;
use crate::methods::exact_odds_ratio::exact_conditional_interval;
use crate::methods::odds_ratio::{
    haldane_interval, miettinen_nurminen_odds_ratio_interval, odds_ratio_score_interval, woolf_interval,
};

pub(super) fn family() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new("woolf", "woolf1955", "Woolf log interval of an odds ratio", woolf_interval),
        C::new(
            "haldane_anscombe",
            "haldane1956",
            "Haldane–Anscombe log interval of an odds ratio",
            haldane_interval,
        ),
        C::new(
            "score_odds_ratio",
            "agresti2013",
            "Score interval of an odds ratio",
            odds_ratio_score_interval,
        ),
        C::new(
            "miettinen_nurminen_odds_ratio",
            "miettinen_nurminen1985",
            "Miettinen–Nurminen score interval of an odds ratio",
            miettinen_nurminen_odds_ratio_interval,
        ),
        C::new(
            "exact_conditional_odds_ratio",
            "cornfield1956",
            "Exact conditional interval of an odds ratio",
            exact_conditional_interval,
        ),
    ]
}
