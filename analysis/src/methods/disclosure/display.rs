//! How exactly a share may be printed, and the words where no figure may.

use super::profile::Profile;
use super::release::Values;

/// A share as it may be shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Display {
    /// In figures.
    Printed(String),
    /// In words: fewer than so many cases.
    FewerThan(u64),
    /// In words: all but fewer than so many cases.
    AllButFewerThan(u64),
    /// Neither: of so few cases each word would tell too much.
    NotShown,
}

impl std::fmt::Display for Display {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Printed(text) => f.write_str(text),
            Self::FewerThan(bound) => write!(f, "fewer than {bound}"),
            Self::AllButFewerThan(bound) => write!(f, "all but fewer than {bound}"),
            Self::NotShown => f.write_str("not shown"),
        }
    }
}

/// The finest of several ways to print a share that does not give its count away, or words.
///
/// Formula: a count that may be shown is printed in the first way. Of any other, all counts of the
/// same whole that print alike must reach the threshold and vary by the least width. The words name
/// the first multiple of five beyond the threshold: "fewer than the threshold" would itself say that
/// the count is a small one, and so no gate would pass it.
/// Units: counts of cases.
/// Edges: the whole is taken to be known. The same words stand for every count below their bound.
/// Source: [cms_cell_size2024]; the multiple of five is our own choice.
/// Checked: tests/disclosure/display.rs.
pub fn finest<P: Fn(u64, u64) -> String>(
    (part, whole): (u64, u64),
    profile: Profile,
    ways_to_print: impl IntoIterator<Item = P>,
) -> Display {
    let rest = whole.saturating_sub(part);
    let bound = (profile.threshold / 5 + 1) * 5;
    let reserved = |count: u64| count > 0 && count < bound;
    let passes = |prints: &P| {
        let printed = prints(part, whole);
        let alike = Values::of((0..=whole).filter(|other| prints(*other, whole) == printed).map(as_count));
        let (low, high) = alike.ends().unwrap_or((0, 0));
        let wide = high - low >= as_count(profile.least_width);
        wide && high >= as_count(profile.threshold) && as_count(whole) - low >= as_count(profile.threshold)
    };
    let open = !reserved(part) && !reserved(rest);
    let printed = ways_to_print.into_iter().find(|prints| open || passes(prints));
    match printed {
        Some(prints) => Display::Printed(prints(part, whole)),
        None if whole < 2 * bound => Display::NotShown,
        None if part <= rest => Display::FewerThan(bound),
        None => Display::AllButFewerThan(bound),
    }
}

fn as_count(count: u64) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}
