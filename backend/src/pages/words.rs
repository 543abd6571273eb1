//! Small pieces of language that pages share.

use quietbeam_analysis::study::numerals;
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::instant::Instant;

/// The number with its noun: "one case", "seven cases".
pub(super) fn counted(number: usize, one: &str, many: &str) -> String {
    format!("{} {}", numerals::in_words(number), if number == 1 { one } else { many })
}

/// A sentence with its first letter large.
pub(super) fn capital(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// What an error says, as a sentence: without the name of the field before it, which the
/// field's own row tells.
pub(super) fn sentence(error: impl std::fmt::Display) -> String {
    let said = error.to_string();
    let plain = |name: &str| name.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'_');
    let rest = said.split_once(": ").filter(|(name, _)| plain(name)).map_or(said.as_str(), |(_, rest)| rest);
    let stop = if rest.ends_with('.') { "" } else { "." };
    capital(&format!("{rest}{stop}"))
}

/// Whole days from a moment to now; a clock that was set back gives none.
pub(super) fn days_between(then: Instant, now: Instant) -> i64 {
    ((now.unix_seconds() - then.unix_seconds()) / 86_400).max(0)
}

/// An age in whole days: "today", "yesterday", "9 days".
pub(super) fn age(then: Instant, now: Instant) -> String {
    match days_between(then, now) {
        0 => "today".to_owned(),
        1 => "yesterday".to_owned(),
        days => format!("{days} days"),
    }
}

/// A time as people read it, to the minute and with its zone.
pub(super) fn moment(at: Instant) -> String {
    let text = at.to_string();
    format!("{} {} UTC", &text[..10], &text[11..16])
}

/// The hour and minute in UTC, where the whole moment stands beside it.
pub(super) fn clock_time(at: Instant) -> String {
    at.to_string()[11..16].to_owned()
}

/// The three groups in which a case code is read and copied from a list.
pub(super) fn code_groups(code: &CaseCode) -> [&str; 3] {
    let text = code.as_str();
    [&text[..4], &text[4..8], &text[8..]]
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn numbers_are_words_up_to_twenty() {
        assert_eq!(counted(0, "thing waits", "things wait"), "no things wait");
        assert_eq!(counted(1, "thing waits", "things wait"), "one thing waits");
        assert_eq!(counted(20, "case", "cases"), "twenty cases");
        assert_eq!(counted(2_215, "case", "cases"), "2,215 cases");
        assert_eq!(capital("fourteen things"), "Fourteen things");
        assert_eq!(capital(""), "");
        assert_eq!(sentence("sign_in_name: use 3 to 64 characters"), "Use 3 to 64 characters.");
        assert_eq!(sentence("Nothing: that is all."), "Nothing: that is all.");
    }

    #[test]
    fn ages_are_whole_days_and_never_negative() {
        let at = |text: &str| text.parse::<Instant>().unwrap();
        let now = at("2026-11-25T09:00:00.000Z");
        for (then, expected) in [
            ("2026-11-25T08:00:00.000Z", "today"),
            ("2026-11-25T10:00:00.000Z", "today"),
            ("2026-11-24T09:00:00.000Z", "yesterday"),
            ("2026-11-11T09:00:00.000Z", "14 days"),
        ] {
            assert_eq!(age(at(then), now), expected, "{then}");
        }
        assert_eq!(moment(now), "2026-11-25 09:00 UTC");
    }
}
