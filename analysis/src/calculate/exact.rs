//! Exact tests of two proportions.

use super::calculation::Calculation;
use super::cells::OneSidedP;
use crate::methods::counts::TwoArms;
use crate::methods::exact_odds_ratio::fisher_test;
use crate::methods::exact_unconditional::{
    barnard_pooled_test, barnard_unpooled_test, boschloo_test, chan_non_inferiority_p,
};
use crate::methods::non_inferiority::Margin;

pub(super) fn family() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new("fisher", "fisher1935", "Fisher's exact test of equal proportions", fisher_test),
        C::new(
            "barnard_pooled",
            "barnard1947",
            "Barnard's exact test of equal proportions by the pooled statistic",
            barnard_pooled_test,
        ),
        C::new(
            "barnard_unpooled",
            "barnard1947",
            "Barnard's exact test of equal proportions by the unpooled statistic",
            barnard_unpooled_test,
        ),
        C::new("boschloo", "boschloo1970", "Boschloo's exact test of equal proportions", boschloo_test),
        C::new(
            "chan_non_inferiority",
            "chan1998",
            "Chan's exact one-sided p of non-inferiority",
            |arms: TwoArms, margin: Margin| chan_non_inferiority_p(arms, margin).map(OneSidedP),
        ),
    ]
}
