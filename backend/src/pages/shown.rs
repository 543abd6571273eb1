//! Values of the record as people read them: labels for codes, signs for units, words for
//! what is missing.

use quietbeam_analysis::study::numerals::count;
use quietbeam_schema::dictionary::Variable;
use quietbeam_schema::entries::Entries;
use quietbeam_schema::finding::Part;
use quietbeam_schema::reported::{MissingCode, Reported};
use quietbeam_schema::value::{FieldValue, Kind};
use quietbeam_schema::vocabulary::CodeList;

/// A reported value in words.
pub(super) fn reported<T: FieldValue>(value: &Reported<T>) -> String {
    match value {
        Reported::Value(value) => in_words(&T::KIND, &value.text()),
        Reported::Missing(code) => code.label().to_owned(),
    }
}

/// What stands under a variable, in words; `None` where nothing does.
pub(super) fn entered(variable: &Variable, entries: &Entries) -> Option<String> {
    let text = entries.given(variable.key)?;
    if variable.missing_allowed
        && let Some(code) = MissingCode::from_code(text)
    {
        return Some(code.label().to_owned());
    }
    let words = in_words(&variable.kind, text);
    let unit = variable.unit_key().and_then(|key| entries.given(&key));
    let unit = match (&variable.kind, unit) {
        (Kind::Quantity(dimension), Some(ucum)) => dimension.unit(ucum).map_or(ucum, |unit| unit.label),
        _ => unit_sign(variable.unit),
    };
    Some(if unit.is_empty() { words } else { format!("{words}\u{a0}{unit}") })
}

/// A field's label, with the part of the record that it stands in.
pub(super) fn place_label(part: Part, variable: &Variable) -> String {
    match part {
        Part::Case => variable.label.to_owned(),
        Part::Complication(position) => format!("Complication {}: {}", position + 1, variable.label),
        Part::FollowUp => format!("Follow-up: {}", variable.label),
    }
}

/// A unit of the dictionary as people write it.
pub(super) fn unit_sign(ucum: &'static str) -> &'static str {
    match ucum {
        // The label says "on day", or which days are counted.
        "d" => "",
        "/s" => "per second",
        "kg/m2" => "kg/m²",
        other => other,
    }
}

fn in_words(kind: &Kind, text: &str) -> String {
    match kind {
        Kind::Code(list) | Kind::Codes(list) => {
            text.split(';').map(|code| label(list, code.trim())).collect::<Vec<_>>().join(", ")
        }
        Kind::Whole { .. } => text.parse::<u64>().map_or_else(|_| minus(text), count),
        _ => minus(text),
    }
}

fn label(list: &CodeList, code: &str) -> String {
    list.codes.iter().find(|known| known.code == code).map_or(code, |known| known.label).to_owned()
}

/// A number with a true minus; any other text as it is.
fn minus(text: &str) -> String {
    match text.strip_prefix('-') {
        Some(rest) if rest.starts_with(|c: char| c.is_ascii_digit()) => format!("−{rest}"),
        _ => text.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use quietbeam_schema::case::{case_variables, complication_variables};

    use super::*;

    fn said(variables: &[&'static Variable], key: &str, pairs: &[(&str, &str)]) -> Option<String> {
        let mut entries = Entries::default();
        for (key, text) in pairs {
            entries.put(*key, *text);
        }
        entered(variables.iter().find(|variable| variable.key == key).unwrap(), &entries)
    }

    #[test]
    fn codes_become_labels_and_quantities_keep_their_unit() {
        let case = case_variables();
        let check = |key: &str, pairs: &[(&str, &str)], expected: Option<&str>| {
            assert_eq!(said(&case, key, pairs).as_deref(), expected, "{key}");
        };
        check("strategy_intended", &[("strategy_intended", "zero")], Some("Zero fluoroscopy"));
        check("air_kerma", &[("air_kerma", "0.212"), ("air_kerma_unit", "Gy")], Some("0.212\u{a0}Gy"));
        check("kap", &[("kap", "636.7"), ("kap_unit", "uGy.m2")], Some("636.7\u{a0}µGy·m²"));
        check("kap", &[("kap", "nr")], Some("not recorded"));
        check("fluoro_time", &[], None);
    }

    #[test]
    fn a_list_of_codes_is_read_one_by_one() {
        let done = said(
            &complication_variables(),
            "intervention",
            &[("intervention", "pericardiocentesis;surgery")],
        );
        let done = done.unwrap();
        assert!(done.contains(", ") && !done.contains('_'), "{done}");
        assert_eq!(minus("-4"), "−4");
        assert_eq!(minus("-"), "-");
    }
}
