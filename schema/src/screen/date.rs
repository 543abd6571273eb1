//! Dates, in digits or with the month as a word.

use super::token::{Group, Shape, Token, before, groups, unit_at};

/// Whether a date begins here, or a month with its day or its year.
pub(super) fn date(tokens: &[Token], at: usize) -> bool {
    full_date(tokens, at) || month_in_digits(tokens, at) || born(tokens, at) || {
        let Some(found) = named_month(tokens, at) else { return false };
        let sure = found.year
            || tokens[at].text.starts_with(char::is_uppercase)
            || !tokens[at].is_word_of(&["may", "march", "mar", "mars", "dec", "sep"]);
        sure && (found.year || found.day) && !unit_at(tokens, found.end)
    }
}

/// Whether a date with day, month and year begins here.
pub(super) fn full_date(tokens: &[Token], at: usize) -> bool {
    all_digits(tokens, at)
        || named_month(tokens, at).is_some_and(|found| found.day && found.year && !unit_at(tokens, found.end))
}

/// Three numbers such as 2025-03-14, 14.3.2025, 3/14/25 or 14 03 2025, or
/// eight digits without a gap.
fn all_digits(tokens: &[Token], at: usize) -> bool {
    let found = groups(tokens, at, 4, |gap| matches!(gap.trim(), "-" | "/" | "." | ""));
    if found.first().is_some_and(|group| is_compact_date(group.digits)) {
        return true;
    }
    let [first, second, third, ..] = &found[..] else { return false };
    let (a, b, c) = (first.digits, second.digits, third.digits);
    let mark = first.gap.trim();
    if second.gap.trim() != mark || unit_at(tokens, third.end) {
        return false;
    }
    if (is_year(a) && is_day_and_month(b, c)) || (is_year(c) && is_day_and_month(a, b)) {
        return !mark.is_empty() || [a, b, c].iter().all(|part| part.len() != 1);
    }
    // With a year of two digits the shape is weak: a version or an address must not pass for it.
    let goes_on = found.len() == 4 && third.gap == mark;
    let versioned = before(tokens, at).is_some_and(Token::is_word_or_digits);
    let short_year = c.len() == 2 && is_day_and_month(a, b) && !mark.is_empty();
    short_year && first.gap == second.gap && !(goes_on || versioned || joined_before(tokens, at, mark))
}

/// Whether the number here goes on from another one by the same mark, as the
/// parts of a network address do.
fn joined_before(tokens: &[Token], at: usize, mark: &str) -> bool {
    at >= 2 && tokens[at - 1].text == mark && tokens[at - 2].shape == Shape::Digits
}

/// A month and a year, such as 03/2025 or 2025-03.
fn month_in_digits(tokens: &[Token], at: usize) -> bool {
    let found = groups(tokens, at, 2, |gap| matches!(gap, "-" | "/" | "."));
    let [Group { digits: a, .. }, Group { digits: b, end, .. }] = &found[..] else { return false };
    let month = |text: &str| text.len() == 2 && number_in(text, 1, 12);
    ((month(a) && is_year(b)) || (is_year(a) && month(b)))
        && !["-", "/", "."].iter().any(|mark| joined_before(tokens, at, mark))
        && !unit_at(tokens, *end)
}

/// A word for a date of birth, or "born" with a year.
fn born(tokens: &[Token], at: usize) -> bool {
    let year_near = |tokens: &[Token]| {
        tokens.iter().take(5).any(|token| token.shape == Shape::Digits && is_year(&token.text))
    };
    tokens[at].is_word_of(&["dob", "birthdate", "birthday"])
        || (tokens[at].is_word_of(&["born"]) && year_near(&tokens[at..]))
        || (tokens[at].is_word_of(&["birth"]) && at >= 4 && tokens[at - 4].is_word_of(&["date"]))
}

/// What stands beside the name of a month.
struct NamedMonth {
    day: bool,
    year: bool,
    /// The position after the date.
    end: usize,
}

/// A month's name with the day and the year around it.
fn named_month(tokens: &[Token], at: usize) -> Option<NamedMonth> {
    if !tokens[at].is_word_of(MONTHS) {
        return None;
    }
    let mut day = is_day_before(tokens, at);
    let mut end = at + 1;
    let next = past_marks(tokens, end);
    if !day && tokens.get(next).is_some_and(is_day) {
        day = true;
        end = next + 1 + usize::from(tokens.get(next + 1).is_some_and(is_ordinal));
    }
    let next = past_marks(tokens, end);
    let year = tokens.get(next).is_some_and(|token| {
        let short = day && token.text.len() == 2 && !unit_at(tokens, next + 1);
        token.shape == Shape::Digits && (short || is_year(&token.text))
    });
    if year {
        end = next + 1;
    }
    Some(NamedMonth { day, year, end })
}

/// Whether a day such as "14", "14th", "14." or "14th of" stands before the month at `at`.
fn is_day_before(tokens: &[Token], at: usize) -> bool {
    // "Grade 2. May need a repeat" is no date.
    let stop_passes = !tokens[at].is_word_of(&["may"]);
    let mut rest = tokens[..at].iter().rev().take(6).skip_while(|token| {
        token.shape == Shape::Space
            || is_ordinal(token)
            || token.is_word_of(&["of", "de"])
            || token.is_mark('-')
            || token.is_mark('/')
            || (token.is_mark('.') && stop_passes)
    });
    rest.next().is_some_and(is_day)
}

/// The position past the few marks that may stand inside a written date.
fn past_marks(tokens: &[Token], start: usize) -> usize {
    let passed = tokens[start..].iter().take(3).take_while(|token| {
        token.shape == Shape::Space
            || token.is_word_of(&["de"])
            || ['-', '.', '/', ',', '\''].iter().any(|mark| token.is_mark(*mark))
    });
    start + passed.count()
}

fn is_ordinal(token: &Token) -> bool {
    token.is_word_of(&["st", "nd", "rd", "th"])
}

fn is_day(token: &Token) -> bool {
    token.shape == Shape::Digits && token.text.len() <= 2 && number_in(&token.text, 1, 31)
}

fn is_year(text: &str) -> bool {
    text.len() == 4 && number_in(text, 1900, 2099)
}

/// Whether two numbers of one or two digits can be a day and a month, in either order.
fn is_day_and_month(a: &str, b: &str) -> bool {
    let short = a.len() <= 2 && b.len() <= 2;
    let fits = |day, month| number_in(day, 1, 31) && number_in(month, 1, 12);
    short && (fits(a, b) || fits(b, a))
}

/// Eight digits that read as year, month, day or as day, month, year.
fn is_compact_date(digits: &str) -> bool {
    let part = |range: std::ops::Range<usize>| digits.get(range).unwrap_or_default();
    digits.len() == 8
        && ((is_year(part(0..4)) && number_in(part(4..6), 1, 12) && number_in(part(6..8), 1, 31))
            || (is_year(part(4..8)) && is_day_and_month(part(0..2), part(2..4))))
}

fn number_in(digits: &str, least: u16, most: u16) -> bool {
    digits.parse().is_ok_and(|number: u16| (least..=most).contains(&number))
}

/// Names of months in English, German, French, Spanish and Italian.
const MONTHS: &[&str] = &[
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
    "jan",
    "feb",
    "mar",
    "apr",
    "jun",
    "jul",
    "aug",
    "sep",
    "sept",
    "oct",
    "nov",
    "dec",
    "januar",
    "februar",
    "märz",
    "mai",
    "juni",
    "juli",
    "oktober",
    "dezember",
    "janvier",
    "février",
    "mars",
    "avril",
    "juin",
    "juillet",
    "août",
    "septembre",
    "octobre",
    "novembre",
    "décembre",
    "enero",
    "febrero",
    "marzo",
    "abril",
    "mayo",
    "junio",
    "julio",
    "agosto",
    "septiembre",
    "octubre",
    "noviembre",
    "diciembre",
    "gennaio",
    "febbraio",
    "aprile",
    "maggio",
    "giugno",
    "luglio",
    "settembre",
    "dicembre",
];
