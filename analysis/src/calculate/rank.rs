//! Ranks of two groups, and the shift between them.

use super::calculation::Calculation;
use super::dose::{Any, TwoDoses, sample};
use crate::methods::interval::{Arm, Confidence, NotEstimable};
use crate::methods::rank::{rank_sum_corrected_test, rank_sum_exact_test, rank_sum_test};
use crate::methods::sample::Sample;
use crate::methods::shift::{hodges_lehmann_exact_interval, hodges_lehmann_interval};

pub(super) fn family() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "rank_sum",
            "lehmann1975",
            "Rank-sum test by the normal approximation with tie correction",
            |doses: TwoDoses<Any>| with(doses, rank_sum_test),
        ),
        C::new(
            "rank_sum_corrected",
            "lehmann1975",
            "Rank-sum test by the normal approximation with tie and continuity correction",
            |doses: TwoDoses<Any>| with(doses, rank_sum_corrected_test),
        ),
        C::new(
            "rank_sum_exact",
            "lehmann1975",
            "Exact rank-sum test, ties allowed",
            |doses: TwoDoses<Any>| with(doses, rank_sum_exact_test),
        ),
        C::new(
            "hodges_lehmann",
            "hodges_lehmann1963",
            "Hodges–Lehmann shift with limits by the normal approximation",
            |doses: TwoDoses<Any>, level: Confidence| {
                with(doses, |first, second| Ok(hodges_lehmann_interval(first, second, level)))
            },
        ),
        C::new(
            "hodges_lehmann_exact",
            "hodges_lehmann1963",
            "Hodges–Lehmann shift with exact limits, without ties",
            |doses: TwoDoses<Any>, level: Confidence| {
                with(doses, |first, second| hodges_lehmann_exact_interval(first, second, level))
            },
        ),
    ]
}

fn with<T>(
    doses: TwoDoses<Any>,
    method: impl Fn(&Sample, &Sample) -> Result<T, NotEstimable>,
) -> Result<T, NotEstimable> {
    let first = sample(doses.0.first, Arm::First)?;
    method(&first, &sample(doses.0.second, Arm::Second)?)
}
