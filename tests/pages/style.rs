//! The stylesheet's own promises: contrast, and colours by name only.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

fn sheet(name: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../backend/src/pages/style");
    fs::read_to_string(folder.join(name)).unwrap()
}

/// The tokens with their light and their dark colour.
fn tokens() -> BTreeMap<String, [String; 2]> {
    let mut found = BTreeMap::new();
    for line in sheet("tokens.css").lines() {
        if let Some((name, rest)) = line.trim().split_once(": light-dark(") {
            let (light, dark) = rest.split_once(", ").unwrap();
            let dark = dark.split(')').next().unwrap();
            found.insert(name.trim_start_matches("--").to_owned(), [light.to_owned(), dark.to_owned()]);
        }
    }
    assert!(found.len() >= 18, "{found:?}");
    found
}

/// Relative luminance: Web Content Accessibility Guidelines 2.2, definition "relative
/// luminance" (from memory).
fn luminance(colour: &str) -> f64 {
    let part = |at: usize| {
        let value = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
        if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
}

/// Contrast ratio, from the same guidelines.
fn contrast(one: &str, other: &str) -> f64 {
    let (a, b) = (luminance(one), luminance(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn the_ratio_of_black_and_white_is_21() {
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    assert!((contrast("#777777", "#ffffff") - 4.48).abs() < 0.01);
}

#[test]
fn words_have_a_contrast_of_at_least_4_5_and_marks_of_3() {
    let tokens = tokens();
    let grounds: &[&str] = &["page", "sheet", "lit"];
    let tinted: &[&str] = &["page", "sheet", "lit", "hard-tint", "query-tint"];
    let pairs: &[(&str, &[&str], f64)] = &[
        ("ink", tinted, 7.0),
        ("ink-2", tinted, 4.5),
        ("ink", &["side"], 7.0),
        ("hard", &["page", "sheet", "lit", "hard-tint"], 4.5),
        ("query", &["page", "sheet", "lit", "query-tint"], 4.5),
        ("saved", grounds, 4.5),
        ("on-act", &["act"], 7.0),
        ("edge", grounds, 3.0),
        ("zf", grounds, 3.0),
        ("query-mark", &["page", "sheet", "lit", "query-tint"], 3.0),
        ("saved-mark", grounds, 3.0),
        ("act", grounds, 3.0),
    ];
    for (front, backs, least) in pairs {
        for back in *backs {
            for (one, other) in tokens[*front].iter().zip(&tokens[*back]) {
                let found = contrast(one, other);
                assert!(
                    found >= *least,
                    "{front} on {back}: {one} on {other} has {found:.2}, {least} is needed"
                );
            }
        }
    }
}

#[test]
fn colours_are_named_in_one_place() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../backend/src/pages/style");
    for entry in fs::read_dir(folder).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        if ["tokens.css", "print.css"].contains(&name.as_str()) {
            continue;
        }
        let text = sheet(&name);
        for (number, line) in text.lines().enumerate() {
            let hexadecimal = line.split('#').skip(1).any(|rest| {
                rest.chars().take(3).filter(char::is_ascii_hexdigit).count() == 3 && !line.contains("url(")
            });
            assert!(!hexadecimal && !line.contains("rgb("), "{name}:{}: {line}", number + 1);
            assert!(!line.contains("http"), "{name} loads from elsewhere: {line}");
        }
    }
}
