//! One proportion.

use std::num::NonZeroU32;

use super::calculation::Calculation;
use super::cells::Estimate;
use crate::methods::proportion::{
    clopper_pearson_interval, jeffreys_interval, mid_p_interval, wilson_corrected_interval, wilson_interval,
};
use crate::methods::proportion_simple::{agresti_coull_interval, rule_of_three, wald_interval};

pub(super) fn family() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new("wilson", "wilson1927", "Wilson score interval of a proportion", wilson_interval),
        C::new(
            "wilson_corrected",
            "newcombe1998a",
            "Wilson score interval of a proportion with continuity correction",
            wilson_corrected_interval,
        ),
        C::new(
            "clopper_pearson",
            "clopper_pearson1934",
            "Clopper–Pearson exact interval of a proportion",
            clopper_pearson_interval,
        ),
        C::new("mid_p", "lancaster1961", "Mid-P exact interval of a proportion", mid_p_interval),
        C::new("jeffreys", "brown_cai_dasgupta2001", "Jeffreys interval of a proportion", jeffreys_interval),
        C::new(
            "agresti_coull",
            "agresti_coull1998",
            "Agresti–Coull interval of a proportion",
            agresti_coull_interval,
        ),
        C::new(
            "wald",
            "newcombe1998a",
            "Wald interval of a proportion, for comparison with publications only",
            wald_interval,
        ),
        C::new(
            "rule_of_three",
            "hanley_lippman_hand1983",
            "Rough upper 95 % limit of a risk when no event was seen",
            |cases: NonZeroU32| Estimate(rule_of_three(cases)),
        ),
    ]
}
