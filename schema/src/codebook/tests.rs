#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::case::{case_variables, complication_variables, follow_up_variables};
use std::collections::BTreeSet;

/// What a file may hold, by the declarations of the record itself.
fn declared() -> Vec<(&'static str, &'static Variable)> {
    let mut all: Vec<_> = case_variables().into_iter().map(|variable| ("cases", variable)).collect();
    for (file, variables) in
        [("complications", complication_variables()), ("follow_ups", follow_up_variables())]
    {
        all.push((file, &CASE_CODE));
        all.extend(variables.into_iter().map(|variable| (file, variable)));
    }
    all
}

#[test]
fn the_codebook_holds_every_variable_as_declared() {
    let book = codebook();
    let rows: Vec<_> =
        book.groups.iter().flat_map(|group| group.variables.iter().map(|row| (group.file, row))).collect();
    assert_eq!(rows.len(), declared().len());
    for ((file, row), (declared_file, variable)) in rows.iter().zip(declared()) {
        let key = variable.key;
        assert_eq!((*file, row.key), (declared_file, key));
        assert_eq!((row.label, row.help), (variable.label, variable.help.trim()), "{key}");
        assert_eq!(row.missing_codes, variable.missing_allowed, "{key}");
        assert_eq!(row.query_limits, variable.query, "{key}");
        assert_eq!(row.tier, variable.tier.word(), "{key}");
        let codes: Vec<_> = row.codes.iter().map(|code| (code.code, code.label, code.definition)).collect();
        let list = variable.codes().map_or(&[][..], |list| list.codes);
        assert_eq!(codes, list.iter().map(|c| (c.code, c.label, c.definition)).collect::<Vec<_>>(), "{key}");
        let limits = match variable.kind {
            Kind::Whole { min, max } => Some((min as f64, max as f64)),
            Kind::Decimal { min, max } => Some((min, max)),
            Kind::Quantity(dimension) => {
                assert!(dimension.units.iter().all(|unit| row.unit.contains(unit.ucum)), "{key}");
                assert!(row.unit.contains(&variable.unit_key().unwrap()), "{key}");
                Some((dimension.min, dimension.max))
            }
            _ => None,
        };
        assert_eq!(row.limits, limits, "{key}");
        let required = match variable.need {
            Need::Always => "always".to_owned(),
            Need::Optional => "no".to_owned(),
            Need::When(condition) => format!("when {}", condition.words()),
        };
        assert_eq!(row.required, required, "{key}");
    }
}

#[test]
fn the_rows_for_spreadsheets_are_the_codebook() {
    let book = codebook();
    let rows: Vec<_> = book.rows().collect();
    assert_eq!(rows.len(), declared().len());
    let column = |name: &str| Codebook::ROW_HEADER.iter().position(|header| *header == name).unwrap();
    for (row, (file, variable)) in rows.iter().zip(declared()) {
        assert_eq!((row[column("file")].as_str(), row[column("key")].as_str()), (file, variable.key));
        let codes = variable.codes().map(|list| list.codes.iter().map(|c| c.code).collect::<Vec<_>>());
        assert_eq!(row[column("codes")], codes.unwrap_or_default().join(";"), "{}", variable.key);
    }
    let limits = |key: &str| {
        let row = rows.iter().find(|row| row[column("key")] == key).unwrap();
        (row[column("limits")].clone(), row[column("query_limits")].clone())
    };
    assert_eq!(limits("bmi"), ("10..80".to_owned(), "15..55".to_owned()));
    assert_eq!(limits("pulse_rate_fps"), ("0.5..60".to_owned(), "0.5..15".to_owned()));
    assert_eq!(limits("onset_min"), ("-30..900".to_owned(), String::new()));
    assert_eq!(limits("sex"), (String::new(), String::new()));
}

#[test]
fn the_text_for_people_names_every_key_code_and_rule() {
    let book = codebook();
    let text = book.to_markdown();
    for (_, variable) in declared() {
        assert!(text.contains(&format!("### `{}` {}", variable.key, variable.label)), "{}", variable.key);
        for code in variable.codes().map_or(&[][..], |list| list.codes) {
            assert!(text.contains(&format!("- `{}` {}: {}", code.code, code.label, code.definition)));
        }
    }
    for code in MissingCode::ALL {
        assert!(text.contains(&format!("`{}` {};", code.code(), code.label())));
    }
    for rule in &book.rules {
        assert!(text.contains(&format!("- `{}` ", rule.id)), "{}", rule.id);
    }
}

#[test]
fn the_codebook_lists_every_rule_once() {
    let listed: Vec<_> = codebook().rules.iter().map(|rule| rule.id).collect();
    let case_rules = CASE_RULES.iter().copied().flatten().map(|rule| rule.id);
    let declared: BTreeSet<_> = case_rules
        .chain(COMPLICATION_RULES.iter().map(|rule| rule.id))
        .chain(FOLLOW_UP_RULES.iter().map(|rule| rule.id))
        .collect();
    assert_eq!(listed.len(), declared.len());
    assert_eq!(listed.into_iter().collect::<BTreeSet<_>>(), declared);
}

#[test]
fn the_codebook_as_json_can_be_read_by_a_program() {
    let json = serde_json::to_value(codebook()).unwrap();
    assert_eq!(json["form_version"], FORM_VERSION);
    assert_eq!(json["missing_codes"].as_array().unwrap().len(), 5);
    let bmi = json["groups"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|group| group["variables"].as_array().unwrap())
        .find(|variable| variable["key"] == "bmi")
        .unwrap();
    assert_eq!(bmi["type"], "number");
    assert_eq!(bmi["unit"], "kg/m2");
    assert_eq!(bmi["limits"], serde_json::json!([10.0, 80.0]));
}
