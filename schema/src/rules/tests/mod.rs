//! Every rule with a case that it stops or asks about, and a neighbour that it
//! lets pass. A rule without a row fails the last test.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
// Tables are long and flat.
#![allow(clippy::too_many_lines)]

mod case_rules;
mod part_rules;

use super::*;
use crate::case::sample::{conventional_case, zero_fluoroscopy_case};
use crate::case::tests::{findings, form, found_in, today};
use crate::case::{case_variables, complication_variables, follow_up_variables};
use crate::dictionary::{Variable, column};
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// One rule with the changes of a case that set it off, and those that do not.
struct Row {
    /// The rule's id.
    id: &'static str,
    base: fn() -> Value,
    /// Where the changes go: the case, or a part of it by its JSON pointer.
    at: &'static str,
    /// Changes that set it off.
    trips: Value,
    /// Words that its sentence must hold.
    words: &'static str,
    /// Other rules that the same changes cannot help but set off.
    also: &'static [&'static str],
    /// Changes just beside, after which it is silent.
    passes: Value,
}

/// The case with some fields of one of its parts changed; `null` removes one.
fn changed(mut case: Value, at: &str, changes: &Value) -> Value {
    let fields = case.pointer_mut(at).unwrap().as_object_mut().unwrap();
    for (key, value) in changes.as_object().unwrap() {
        match value {
            Value::Null => drop(fields.shift_remove(key)),
            value => drop(fields.insert(key.clone(), value.clone())),
        }
    }
    case
}

/// What is wrong with the row, if anything.
fn check(row: &Row) -> Option<String> {
    let found = findings(&changed((row.base)(), row.at, &row.trips));
    let ids: BTreeSet<_> = found.iter().map(|finding| finding.rule).collect();
    let expected: BTreeSet<_> = row.also.iter().copied().chain([row.id]).collect();
    if ids != expected {
        return Some(format!("{} found {ids:?}, not {expected:?}", row.trips));
    }
    let about = found.iter().find(|finding| finding.rule == row.id)?;
    let sentence = &about.sentence;
    if !sentence.contains(row.words) || !sentence.ends_with('.') || sentence.contains("  ") {
        return Some(format!("the sentence without \"{}\": {sentence}", row.words));
    }
    if !about.places[0].pointer().starts_with(if row.at.is_empty() { "/" } else { row.at }) {
        return Some(format!("it points to {}", about.places[0].pointer()));
    }
    let found = findings(&changed((row.base)(), row.at, &row.passes));
    let silent = found.iter().all(|finding| finding.rule != row.id && finding.weight == Weight::Query);
    (!silent).then(|| format!("beside {}: {found:#?}", row.passes))
}

fn rows() -> Vec<Row> {
    case_rules::rows().into_iter().chain(part_rules::rows()).collect()
}

#[test]
fn every_rule_trips_where_it_should_and_only_there() {
    let wrong: Vec<_> =
        rows().iter().filter_map(|row| check(row).map(|wrong| format!("{}: {wrong}", row.id))).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Every rule between fields, with its weight, its fields and the part they are in.
fn declared() -> Vec<(&'static str, Weight, &'static [&'static str], Vec<&'static Variable>)> {
    let own =
        CASE_RULES.iter().copied().flatten().map(|rule| (rule.id, rule.weight, rule.keys, case_variables()));
    let events =
        COMPLICATION_RULES.iter().map(|rule| (rule.id, rule.weight, rule.keys, complication_variables()));
    let later = FOLLOW_UP_RULES.iter().map(|rule| (rule.id, rule.weight, rule.keys, follow_up_variables()));
    own.chain(events).chain(later).collect()
}

#[test]
fn every_rule_has_a_row() {
    let tried: BTreeSet<_> = rows().iter().map(|row| row.id).collect();
    let declared: BTreeSet<_> = declared().iter().map(|(id, ..)| *id).collect();
    assert_eq!(tried, declared);
}

#[test]
fn ids_are_unique_and_name_fields_of_their_part_or_of_the_case() {
    let case = case_variables();
    let mut ids = BTreeSet::new();
    for (id, _, keys, variables) in declared() {
        assert!(ids.insert(id), "{id} stands twice");
        assert!(id.bytes().all(|b| b.is_ascii_lowercase() || b == b'_'), "{id}");
        assert!(!keys.is_empty(), "{id}");
        for key in keys {
            let known = |variables: &[_]| column(variables, key).is_some();
            assert!(*key == "complications" || known(&variables) || known(&case), "{id} names {key}");
        }
    }
    for id in FIELD_RULES.into_iter().chain([PERIOD_NOT_IN_FUTURE]) {
        assert!(ids.insert(id), "{id} stands twice");
    }
}

/// A finding carries the weight and the fields that the rule declares.
#[test]
fn findings_carry_what_their_rule_declares() {
    for row in rows() {
        let found = findings(&changed((row.base)(), row.at, &row.trips));
        let Some(about) = found.iter().find(|finding| finding.rule == row.id) else {
            panic!("{} does not trip", row.id)
        };
        let (_, weight, keys, _) = declared().into_iter().find(|(id, ..)| *id == row.id).unwrap();
        assert_eq!(about.weight, weight, "{}", row.id);
        assert_eq!(
            about.places.iter().map(|place| place.key.as_str()).collect::<Vec<_>>(),
            keys,
            "{}",
            row.id
        );
        let hint = [
            "correct", "check", "confirm", "Confirm", "say", "Say", "give", "Give", "list", "record", "name",
            "choose", "Check", "Compare", "compare",
        ];
        assert!(hint.iter().any(|word| about.sentence.contains(word)), "no mend: {}", about.sentence);
    }
}

#[test]
fn no_case_lies_in_the_future() {
    let ids = |period: &str| {
        let found = findings(&changed(zero_fluoroscopy_case(), "", &json!({"period": period})));
        found.iter().map(|finding| finding.rule).collect::<Vec<_>>()
    };
    assert_eq!(today().to_string(), "2026Q4");
    assert_eq!(ids("2026Q4"), [""; 0], "the current quarter");
    assert_eq!(ids("2027Q1"), [PERIOD_NOT_IN_FUTURE]);
    assert_eq!(ids("2010Q1"), [""; 0]);
    let found = findings(&changed(zero_fluoroscopy_case(), "", &json!({"period": "2027Q1"})));
    assert_eq!(found[0].weight, Weight::Hard);
    assert!(found[0].sentence.contains("2027Q1 has not begun; the current one is 2026Q4."));
}

/// Each rule of single fields, by one change that sets it off.
#[test]
fn every_field_rule_is_exercised() {
    let event = json!({"ae_code": "tia"});
    let beam_on: [(&str, Value); 11] = [
        ("required", json!({"sex": null})),
        ("value", json!({"lvef": 86})),
        ("unit_required", json!({"kap_unit": null})),
        ("unusual_value", json!({"cine_runs": 11})),
        ("applies_here", json!({"kap": "na", "kap_unit": null})),
        ("json_type", json!({"lvef": "58"})),
        ("unknown_field", json!({"colour": "blue"})),
        ("identifier_field", json!({"surname": "blue"})),
        ("case_code", json!({"case_code": "ABC"})),
        ("beam_off_means_zero", json!({"fluoro_used": "standby_not_used", "strategy_intended": "near_zero"})),
        ("too_many_complications", json!({"complications": vec![event; 21]})),
    ];
    let tried: Vec<_> = beam_on.iter().map(|(id, _)| *id).collect();
    assert_eq!(tried, FIELD_RULES);
    for (id, changes) in beam_on {
        let found = findings(&changed(conventional_case(), "", &changes));
        let about = found.iter().find(|finding| finding.rule == id);
        let about = about.unwrap_or_else(|| panic!("{id}: {found:#?}"));
        assert!(about.sentence.ends_with('.'), "{id}: {}", about.sentence);
    }
    assert_eq!(found_in(&form(&conventional_case())), []);
}
