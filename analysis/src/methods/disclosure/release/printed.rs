//! What a printed number gives away: every count that would have been printed alike.

use super::Way;
use super::values::Values;
use crate::methods::counts::EventCount;
use crate::methods::interval::Confidence;
use crate::methods::proportion::wilson_interval;

/// A share in per cent with some decimals, as it is printed.
pub fn percent(decimals: usize) -> impl Fn(u64, u64) -> String {
    move |part, whole| match whole {
        0 => "–".to_owned(),
        _ => format!("{:.decimals$}", 100.0 * part as f64 / whole as f64),
    }
}

/// A share in per cent with its 95 % score interval, as they are printed.
pub fn wilson(decimals: usize) -> impl Fn(u64, u64) -> String {
    move |part, whole| {
        let counts = u32::try_from(part).ok().zip(u32::try_from(whole).ok());
        match counts.and_then(|(part, whole)| EventCount::new(part, whole).ok()) {
            Some(counts) => {
                let interval = wilson_interval(counts, Confidence::NINETY_FIVE);
                let [estimate, lower, upper] = [interval.estimate, interval.lower, interval.upper];
                format!(
                    "{:.decimals$} ({:.decimals$}–{:.decimals$})",
                    100.0 * estimate,
                    100.0 * lower,
                    100.0 * upper
                )
            }
            None => "–".to_owned(),
        }
    }
}

/// For each whole the parts that print the same.
///
/// Formula: every pair is printed and compared, so that nothing about rounding is assumed.
/// Units: counts of cases.
/// Edges: a whole with no such part is left out.
/// Source: our own; what it guards against is in [hundepool2012].
/// Checked: tests/disclosure/printed.rs, against counts of another program.
pub(super) fn ways(
    printed: &str,
    wholes: impl IntoIterator<Item = u64>,
    prints: impl Fn(u64, u64) -> String,
) -> Vec<Way> {
    let as_count = |count: u64| i64::try_from(count).unwrap_or(i64::MAX);
    let way = |whole: u64| {
        let parts = Values::of((0..=whole).filter(|part| prints(*part, whole) == printed).map(as_count));
        (!parts.is_empty()).then_some((as_count(whole), parts))
    };
    let mut ways: Vec<Way> = wholes.into_iter().filter_map(way).collect();
    ways.sort_by_key(|(whole, _)| *whole);
    ways
}
