//! Ticks of the axes that the figures share.

use quietbeam_analysis::study::numerals::count;

use crate::pages::figures::{Tick, round_steps};

/// Chances from 0 to 100 per cent.
pub(super) fn chances() -> Vec<Tick> {
    [0_u8, 20, 40, 60, 80, 100].map(|percent| (f64::from(percent) / 100.0, percent.to_string())).into()
}

/// Round ticks up to the last number of cases.
pub(super) fn case_ticks(last: f64) -> Vec<Tick> {
    round_steps(last).into_iter().map(|cases| (cases, count(cases as u64))).collect()
}
