#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::case::sample::{case_with_tamponade, conventional_case, with, zero_fluoroscopy_case};
use crate::case::tests::{record, samples, today, varied_form};
use crate::case::{complication_variables, follow_up_variables};
use proptest::prelude::*;

/// What a value breaks of a schema, by the keywords that this document uses
/// (JSON Schema 2020-12). An unknown keyword is an error, so that none is left
/// out by mistake.
fn broken(schema: &Value, value: &Value) -> Vec<String> {
    let mut wrong = Vec::new();
    for (keyword, bound) in schema.as_object().unwrap() {
        let holds = match keyword.as_str() {
            "title" | "description" | "$comment" | "examples" => true,
            "type" => type_holds(bound, value),
            "enum" => bound.as_array().unwrap().contains(value),
            "minimum" => value.as_f64().is_none_or(|number| number >= bound.as_f64().unwrap()),
            "maximum" => value.as_f64().is_none_or(|number| number <= bound.as_f64().unwrap()),
            "minLength" => {
                value.as_str().is_none_or(|text| text.chars().count() as u64 >= bound.as_u64().unwrap())
            }
            "maxLength" => {
                value.as_str().is_none_or(|text| text.chars().count() as u64 <= bound.as_u64().unwrap())
            }
            "pattern" => value.as_str().is_none_or(|text| pattern_holds(bound.as_str().unwrap(), text)),
            "minItems" => value.as_array().is_none_or(|items| items.len() as u64 >= bound.as_u64().unwrap()),
            "maxItems" => value.as_array().is_none_or(|items| items.len() as u64 <= bound.as_u64().unwrap()),
            "uniqueItems" => value
                .as_array()
                .is_none_or(|items| items.iter().enumerate().all(|(n, item)| !items[..n].contains(item))),
            "anyOf" => bound.as_array().unwrap().iter().any(|one| broken(one, value).is_empty()),
            "required" => value.as_object().is_none_or(|object| {
                bound.as_array().unwrap().iter().all(|key| object.contains_key(key.as_str().unwrap()))
            }),
            "items" => {
                value.as_array().into_iter().flatten().for_each(|item| wrong.extend(broken(bound, item)));
                true
            }
            "properties" => {
                for (key, part) in value.as_object().into_iter().flatten() {
                    if let Some(known) = bound.get(key) {
                        wrong.extend(broken(known, part).into_iter().map(|text| format!("{key}: {text}")));
                    }
                }
                true
            }
            "additionalProperties" => value
                .as_object()
                .is_none_or(|object| object.keys().all(|key| schema["properties"].get(key).is_some())),
            other => panic!("{other} is not checked"),
        };
        if !holds {
            wrong.push(format!("{value} against {keyword} {bound}"));
        }
    }
    wrong
}

fn type_holds(bound: &Value, value: &Value) -> bool {
    let is = |name: &str| match name {
        "object" => value.is_object(),
        "array" => value.is_array(),
        "string" => value.is_string(),
        "number" => value.is_number(),
        "integer" => value.as_f64().is_some_and(|number| number.fract() == 0.0),
        other => panic!("{other} is no type"),
    };
    match bound {
        Value::Array(names) => names.iter().any(|name| is(name.as_str().unwrap())),
        name => is(name.as_str().unwrap()),
    }
}

/// The few patterns that the document holds, each read by hand.
fn pattern_holds(pattern: &str, text: &str) -> bool {
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    match pattern {
        "^20[1-9][0-9]Q[1-4]$" => text.split_once('Q').is_some_and(|(year, quarter)| {
            year.len() == 4 && digits(year) && year >= "2010" && ["1", "2", "3", "4"].contains(&quarter)
        }),
        "^O[0-9]{2}$" => text.len() == 3 && text.strip_prefix('O').is_some_and(digits),
        "^R[1-9][0-9]?$" => {
            text.len() <= 3 && !text.starts_with("R0") && text.strip_prefix('R').is_some_and(digits)
        }
        "^[0-9]+:[0-5][0-9]$" => text.split_once(':').is_some_and(|(minutes, seconds)| {
            digits(minutes) && digits(seconds) && seconds.len() == 2 && seconds < "60"
        }),
        other => panic!("{other} is not checked"),
    }
}

#[test]
fn what_is_accepted_fits_the_schema_as_sent_and_as_written() {
    let schema = case_form();
    for case in samples() {
        assert_eq!(broken(&schema, &case), [""; 0]);
        assert_eq!(broken(&schema, &record(&case).to_json()), [""; 0]);
    }
    let clock = with(conventional_case(), json!({"fluoro_time": "7:30", "case_code": "23456789AB"}));
    assert_eq!(broken(&schema, &clock), [""; 0]);
    let follow_up = zero_fluoroscopy_case()["follow_up"].clone();
    assert_eq!(broken(&follow_up_form(), &follow_up), [""; 0]);
}

proptest! {
    #[test]
    fn every_record_fits_the_schema(
        sample in 0_usize..4,
        changes in prop::collection::vec((any::<usize>(), any::<u64>()), 1..4),
    ) {
        let checked = varied_form(sample, &changes).check(today());
        prop_assume!(checked.is_ok());
        let written = checked.map(|checked| checked.record.to_json()).unwrap_or_default();
        prop_assert_eq!(broken(&case_form(), &written), Vec::<String>::new());
    }
}

#[test]
fn what_is_refused_by_its_shape_breaks_the_schema() {
    let schema = case_form();
    for changes in [
        json!({"sex": null}),
        json!({"sex": "female"}),
        json!({"age_band": 95}),
        json!({"age_band": "nr"}),
        json!({"bmi": "27.4"}),
        json!({"bmi": 9.999}),
        json!({"bmi": 80.001}),
        json!({"lvef": 58.5}),
        json!({"lvef": 86}),
        json!({"period": "2025-03-14"}),
        json!({"period": "2025Q5"}),
        json!({"op_code": "O7"}),
        json!({"energy": "rf"}),
        json!({"energy": []}),
        json!({"energy": ["rf", "rf"]}),
        json!({"energy": ["steam"]}),
        json!({"air_kerma": -1}),
        json!({"air_kerma": "7:30"}),
        json!({"fluoro_time": "9 minutes"}),
        json!({"comment": "a".repeat(301)}),
        json!({"case_code": "ABC"}),
        json!({"surname": "x"}),
        json!({"complications": {}}),
        json!({"complications": [{"ae_code": "tia"}]}),
        json!({"complications": vec![case_with_tamponade()["complications"][0].clone(); 21]}),
        json!({"follow_up": {"fu30_status": "seen"}}),
    ] {
        assert!(!broken(&schema, &with(conventional_case(), changes.clone())).is_empty(), "{changes}");
    }
}

#[test]
fn every_variable_is_in_the_schema_with_its_codes_and_limits() {
    let schema = case_form();
    let parts = [
        (&schema, case_variables()),
        (&schema["properties"]["complications"]["items"], complication_variables()),
        (&schema["properties"]["follow_up"], follow_up_variables()),
    ];
    for (part, variables) in parts {
        let mut columns: Vec<_> = variables.iter().flat_map(|variable| variable.columns()).collect();
        let properties = part["properties"].as_object().unwrap();
        if std::ptr::eq(part, &schema) {
            columns.extend(["complications".to_owned(), "follow_up".to_owned()]);
        }
        assert_eq!(properties.keys().cloned().collect::<Vec<_>>(), columns);
        assert_eq!(part["additionalProperties"], json!(false));
        let required: Vec<_> =
            variables.iter().filter(|v| v.need == Need::Always).map(|v| json!(v.key)).collect();
        assert_eq!(part["required"], json!(required));
        variables.into_iter().for_each(|variable| check_property(variable, &properties[variable.key]));
    }
}

fn check_property(variable: &Variable, property: &Value) {
    let key = variable.key;
    assert_eq!(property["title"], variable.label, "{key}");
    assert!(property["description"].as_str().unwrap().starts_with(variable.help.trim()), "{key}");
    let value = if variable.missing_allowed {
        let codes: Vec<_> = MissingCode::ALL.iter().map(|code| code.code()).collect();
        assert_eq!(property["anyOf"][1]["enum"], json!(codes), "{key}");
        &property["anyOf"][0]
    } else {
        assert_eq!(property.get("anyOf"), None, "{key}");
        property
    };
    let codes = variable.codes().map(|list| json!(list.codes.iter().map(|c| c.code).collect::<Vec<_>>()));
    match variable.kind {
        Kind::Code(_) => assert_eq!(Some(&value["enum"]), codes.as_ref(), "{key}"),
        Kind::Codes(_) => assert_eq!(Some(&value["items"]["enum"]), codes.as_ref(), "{key}"),
        Kind::Whole { min, max } => {
            assert_eq!((&value["minimum"], &value["maximum"]), (&json!(min), &json!(max)), "{key}");
        }
        Kind::Decimal { min, max } => {
            assert_eq!((&value["minimum"], &value["maximum"]), (&json!(min), &json!(max)), "{key}");
        }
        Kind::Quantity(dimension) => {
            assert_eq!(value["minimum"].as_f64(), Some(dimension.min), "{key}");
            let limits = value["$comment"].as_str().unwrap();
            assert!(limits.starts_with(&format!("{} to {} ", dimension.min, dimension.max)), "{limits}");
        }
        Kind::Text { max_chars } => assert_eq!(value["maxLength"], json!(max_chars), "{key}"),
        Kind::Quarter | Kind::OperatorCode | Kind::RoomCode | Kind::CaseCode => {
            assert_eq!(value["type"], "string", "{key}")
        }
    }
}
