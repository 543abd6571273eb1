//! Words that several parts of a report share.

use crate::methods::interval::Interval;
use crate::study::effect::Effect;
use crate::study::endpoint::Endpoint;
use crate::study::estimate::{Estimate, reason_in_words};
use crate::study::numerals;

/// A number of things: seven centres, one centre, 21 centres.
pub(super) fn things(number: usize, one: &str, many: &str) -> String {
    format!("{} {}", numerals::in_words(number), if number == 1 { one } else { many })
}

/// A count of cases: 1 case, 2,215 cases.
pub(super) fn cases(number: u32) -> String {
    format!("{} {}", numerals::count(number), if number == 1 { "case" } else { "cases" })
}

/// The first letter as a capital.
pub(super) fn capital(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Several things in a row: a, b and c.
pub(super) fn and(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// How many decimals a difference of an endpoint carries in points.
pub(super) fn decimals(endpoint: Endpoint) -> usize {
    match endpoint {
        Endpoint::AcuteSuccess => 1,
        Endpoint::MajorWithin30Days | Endpoint::MajorBeforeDischarge => 2,
    }
}

/// A difference as a distance and a side: 0.2 lower, 1.5 higher, no different.
fn side(difference: f64, decimals: usize) -> String {
    let size = format!("{:.decimals$}", 100.0 * difference.abs());
    match (size.parse() == Ok(0.0), difference < 0.0) {
        (true, _) => "no different".to_owned(),
        (false, true) => format!("{size} lower"),
        (false, false) => format!("{size} higher"),
    }
}

/// A difference with its interval in words: 0.2 points lower (95 % interval 1.9 lower to 1.5 higher).
pub(super) fn difference(interval: &Interval, decimals: usize) -> String {
    let estimate = side(interval.estimate, decimals);
    let estimate = match estimate.split_once(' ') {
        Some((size, side)) if size != "no" => format!("{size} points {side}"),
        _ => estimate,
    };
    // A number and its sign stay on one line.
    let level = numerals::level(interval.level.level()).replace(' ', "\u{a0}");
    format!(
        "{estimate} ({level} interval {} to {})",
        side(interval.lower, decimals),
        side(interval.upper, decimals)
    )
}

/// An effect with its interval in words, or why there is none.
pub(super) fn told(effect: &Effect, endpoint: Endpoint) -> String {
    match effect {
        Effect::Difference(Estimate::Estimated(found)) => difference(found, decimals(endpoint)),
        Effect::Ratio(Estimate::Estimated(found)) => {
            format!("a ratio of {}", numerals::ratio_with_level(found))
        }
        Effect::Difference(Estimate::CannotBeEstimated(why))
        | Effect::Ratio(Estimate::CannotBeEstimated(why)) => {
            format!("cannot be estimated, because {}", reason_in_words(*why))
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::methods::interval::{Confidence, IntervalMethod};

    #[test]
    fn differences_read_as_distance_and_side() {
        let interval = |lower, estimate, upper| Interval {
            lower,
            estimate,
            upper,
            level: Confidence::NINETY_FIVE,
            method: IntervalMethod::MiettinenNurminen,
        };
        assert_eq!(
            difference(&interval(-0.019, -0.002, 0.015), 1),
            "0.2 points lower (95\u{a0}% interval 1.9 lower to 1.5 higher)"
        );
        assert_eq!(
            difference(&interval(-0.0001, 0.0002, 0.01), 1),
            "no different (95\u{a0}% interval no different to 1.0 higher)"
        );
    }

    #[test]
    fn numbers_up_to_twenty_are_words() {
        assert_eq!(things(1, "centre", "centres"), "one centre");
        assert_eq!(things(20, "centre", "centres"), "twenty centres");
        assert_eq!(things(1_200, "centre", "centres"), "1,200 centres");
        assert_eq!(and(&["a".to_owned(), "b".to_owned(), "c".to_owned()]), "a, b and c");
    }
}
