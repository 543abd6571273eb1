//! Numbers as a reader expects them: a true minus, grouped thousands, no more
//! digits than the data carry.

use crate::methods::interval::{Interval, Ratio, RatioInterval};

/// The most characters a line of text has.
pub(super) const WIDTH: usize = 100;

/// A count with grouped thousands: 2,215.
pub fn count(number: impl Into<u64>) -> String {
    let digits = number.into().to_string();
    let mut grouped = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    grouped
}

const SMALL: [&str; 21] = [
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
    "twenty",
];

/// A number, up to twenty as a word: no, seven, 2,215.
pub fn in_words(number: usize) -> String {
    SMALL.get(number).map_or_else(|| count(number as u64), |word| (*word).to_owned())
}

/// A proportion in per cent: 95.3 %. What rounds to none or all without being
/// so keeps a digit that tells.
pub fn percent(proportion: f64, decimals: usize) -> String {
    let rounded = format!("{:.decimals$}", 100.0 * proportion);
    let hides = |bound: f64| rounded.parse() == Ok(100.0 * bound) && proportion != bound;
    if decimals < 4 && (hides(0.0) || hides(1.0)) {
        return percent(proportion, decimals + 1);
    }
    format!("{rounded} %")
}

/// A count out of cases: 2,110/2,215 (95.3 %).
pub fn share(events: u32, of: u32, decimals: usize) -> String {
    if of == 0 {
        return "no cases".to_owned();
    }
    let proportion = f64::from(events) / f64::from(of);
    format!("{}/{} ({})", count(events), count(of), percent(proportion, decimals))
}

/// A difference in percentage points with its sign: +0.88, −1.20, 0.00.
pub fn signed_points(difference: f64) -> String {
    let text = format!("{:.2}", 100.0 * difference.abs());
    let nothing = text.chars().all(|c| matches!(c, '0' | '.'));
    match (nothing, difference < 0.0) {
        (true, _) => text,
        (false, true) => format!("−{text}"),
        (false, false) => format!("+{text}"),
    }
}

/// A difference with its limits in points: +0.88 (−0.41 to +2.19).
pub fn difference(interval: &Interval) -> String {
    let limits = (signed_points(interval.lower), signed_points(interval.upper));
    format!("{} ({} to {})", signed_points(interval.estimate), limits.0, limits.1)
}

/// Limits of a proportion: 94.3 to 96.1 %.
pub fn limits(interval: &Interval, decimals: usize) -> String {
    let lower = percent(interval.lower, decimals);
    format!("{} to {}", lower.trim_end_matches(" %"), percent(interval.upper, decimals))
}

/// A measured value or a ratio to two or three digits: 0.071, 1.8, 25, 1,174.
pub fn measured(value: f64) -> String {
    let decimals: usize = match value.abs() {
        size if size >= 99.5 => return count(value.abs().round() as u64),
        size if size >= 9.95 => 0,
        size if size >= 0.995 => 1,
        size if size >= 0.0995 => 2,
        size if size > 0.0 => (2.0 - size.log10().floor() - 1.0).clamp(0.0, 12.0) as usize,
        _ => 0,
    };
    format!("{value:.decimals$}")
}

/// A ratio with its limits: 1.18 (0.82 to 1.71).
pub fn ratio(interval: &RatioInterval) -> String {
    let number = |value: f64| match value {
        value if (0.0995..9.995).contains(&value) => format!("{value:.2}"),
        value => measured(value),
    };
    let bound = |ratio: Ratio| match ratio {
        Ratio::Finite(value) => number(value),
        Ratio::Unbounded => "no bound".to_owned(),
    };
    let estimate = interval.estimate.map_or("not defined".to_owned(), bound);
    format!("{estimate} ({} to {})", number(interval.lower), bound(interval.upper))
}

/// The same with its level: 1.18 (95 % interval 0.82 to 1.71).
pub fn ratio_with_level(interval: &RatioInterval) -> String {
    // A number and its sign stay on one line.
    let level = level(interval.level.level()).replace(' ', "\u{a0}");
    ratio(interval).replacen('(', &format!("({level} interval "), 1)
}

/// A p value: 0.012, or < 0.0001.
pub fn p_value(p: f64) -> String {
    match p {
        p if p < 0.0001 => "< 0.0001".to_owned(),
        p if p < 0.001 => format!("{p:.4}"),
        p if p < 0.9995 => format!("{p:.3}"),
        _ => "> 0.999".to_owned(),
    }
}

/// A two-sided level: 95 %.
pub fn level(level: f64) -> String {
    let percent = (level * 1e6).round() / 1e4;
    format!("{percent} %")
}

/// Breaks a paragraph into lines under an indent.
pub(super) fn paragraph(text: &str, indent: usize) -> String {
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let line = lines.last().map_or(0, |line| line.chars().count());
        if line > 0 && indent + line + 1 + word.chars().count() > WIDTH {
            lines.push(String::new());
        }
        if let Some(line) = lines.last_mut() {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines.into_iter().map(|line| format!("{:indent$}{line}\n", "")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_as_people_write_them() {
        let check = |written: String, expected: &str| assert_eq!(written, expected);
        check(count(0_u32), "0");
        check(count(2_215_u32), "2,215");
        check(count(1_000_000_u32), "1,000,000");
        check(percent(0.953, 1), "95.3 %");
        check(percent(0.0, 1), "0.0 %");
        check(percent(1.0, 1), "100.0 %");
        check(percent(0.9996, 1), "99.96 %");
        check(percent(0.0003, 1), "0.03 %");
        check(signed_points(-0.0124), "−1.24");
        check(signed_points(0.0088), "+0.88");
        check(signed_points(-0.000_01), "0.00");
        check(share(0, 134, 1), "0/134 (0.0 %)");
        check(share(0, 0, 1), "no cases");
        for (value, expected) in [
            (0.071_23, "0.071"),
            (0.123_4, "0.12"),
            (0.996, "1.0"),
            (1.84, "1.8"),
            (9.96, "10"),
            (25.3, "25"),
            (1_174.2, "1,174"),
            (0.000_712, "0.00071"),
            (0.0, "0"),
        ] {
            check(measured(value), expected);
        }
        check(p_value(0.000_01), "< 0.0001");
        check(p_value(0.000_21), "0.0002");
        check(p_value(0.012_3), "0.012");
        check(p_value(0.999_9), "> 0.999");
        check(level(0.95), "95 %");
    }

    #[test]
    fn a_paragraph_stays_within_the_width() {
        let text = paragraph(&"fluoroscopy stays available ".repeat(20), 2);
        assert!(text.lines().count() > 3);
        assert!(text.lines().all(|line| line.chars().count() <= WIDTH && line.starts_with("  f")
            || line.starts_with("  s")
            || line.starts_with("  a")));
    }
}
