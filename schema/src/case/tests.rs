#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::sample::{
    case_with_seen_effusion, case_with_tamponade, conventional_case, with, zero_fluoroscopy_case,
};
use super::*;
use crate::endpoint;
use crate::entries::StrictJson;
use crate::finding::{Finding, Weight};
use crate::period::Quarter;
use crate::value::Kind;
use proptest::prelude::*;
use serde_json::json;

/// The quarter in which these tests take place.
pub(crate) fn today() -> Quarter {
    Quarter::new(2026, 4).unwrap()
}

/// A case's JSON as the form that every way in produces.
pub(crate) fn form(case: &Value) -> CaseForm {
    CaseForm::from_json(serde_json::from_str(&case.to_string()).unwrap())
}

/// The record of a case that must be accepted.
pub(crate) fn record(case: &Value) -> CaseRecord {
    match form(case).check(today()) {
        Ok(checked) => checked.record,
        Err(findings) => panic!("refused: {findings:#?}"),
    }
}

/// Everything found in a form, refused or not.
pub(crate) fn found_in(form: &CaseForm) -> Vec<Finding> {
    match form.check(today()) {
        Ok(checked) => checked.queries,
        Err(findings) => findings,
    }
}

/// Everything found in a case, refused or not.
pub(crate) fn findings(case: &Value) -> Vec<Finding> {
    found_in(&form(case))
}

pub(crate) fn samples() -> [Value; 4] {
    [zero_fluoroscopy_case(), conventional_case(), case_with_seen_effusion(), case_with_tamponade()]
}

#[test]
fn the_samples_leave_nothing_to_ask() {
    for case in samples() {
        assert_eq!(findings(&case), [], "{case:#}");
    }
}

#[test]
fn a_beam_that_was_never_on_gives_zero_dose() {
    for used in ["none", "standby_not_used"] {
        // Left out, given as zero, or given as missing: the fact decides.
        for dose in [json!({}), json!({"air_kerma": 0, "air_kerma_unit": "mGy"}), json!({"air_kerma": "nr"})]
        {
            let case = with(with(zero_fluoroscopy_case(), json!({"fluoro_used": used})), dose);
            assert_eq!(findings(&case), [], "{case:#}");
            let record = record(&case);
            assert!(matches!(record.beam(), Beam::Off));
            assert_eq!(record.air_kerma_mgy(), Reported::Value(0.0));
            assert_eq!(record.kap_gy_cm2(), Reported::Value(0.0));
            assert_eq!(record.fluoro_time_s(), Reported::Value(0.0));
            let written = record.to_json();
            for (key, zero) in [
                ("fluoro_time", json!(0)),
                ("fluoro_time_unit", json!("s")),
                ("air_kerma", json!(0)),
                ("air_kerma_unit", json!("mGy")),
                ("kap", json!(0)),
                ("kap_unit", json!("Gy.cm2")),
                ("cine_runs", json!(0)),
                ("cine_time", json!(0)),
                ("cine_time_unit", json!("s")),
            ] {
                assert_eq!(written[key], zero, "{key}");
            }
            let derived = endpoint::derive(&record);
            assert_eq!((derived.air_kerma_mgy, derived.kap_gy_cm2), (Some(0.0), Some(0.0)));
        }
    }
}

#[test]
fn an_exposure_without_a_beam_is_refused() {
    let exposed = conventional_case();
    for variable in Exposure::VARIABLES {
        let Some(given) = exposed.get(variable.key) else { continue };
        let mut changes = json!({variable.key: given});
        if let Some(key) = variable.unit_key() {
            changes[key.as_str()] = exposed[key.as_str()].clone();
        }
        let found = findings(&with(zero_fluoroscopy_case(), changes));
        assert_eq!(found.len(), 1, "{}: {found:#?}", variable.key);
        assert_eq!(found[0].rule, "beam_off_means_zero");
        assert!(found[0].sentence.contains(variable.label), "{}", found[0].sentence);
    }
}

/// The quantities that must be answered once the beam was on.
const MEASURED: [&str; 5] = ["fluoro_time", "air_kerma", "kap", "cine_runs", "contrast_ml"];

#[test]
fn a_blank_is_never_zero_when_the_beam_was_on() {
    for key in MEASURED {
        for blank in [Value::Null, json!("")] {
            let mut case = with(conventional_case(), json!({key: null}));
            if blank.is_string() {
                // A blank cell of a file reaches the form as blank text.
                let mut form = form(&case);
                form.case.put(key, " ");
                let found = found_in(&form);
                assert_eq!(found[0].rule, "required", "{key}");
                continue;
            }
            case = with(case, json!({format!("{key}_unit"): null}));
            let found = findings(&case);
            assert_eq!(found.len(), 1, "{key}: {found:#?}");
            assert_eq!((found[0].rule, found[0].weight), ("required", Weight::Hard), "{key}");
            assert!(found[0].sentence.contains("never read as zero"), "{}", found[0].sentence);
        }
    }
}

#[test]
fn each_missing_code_stands_for_a_quantity_and_is_no_number() {
    for code in MISSING_CODES {
        for text in [code.code().to_owned(), code.code().to_uppercase()] {
            let case = with(conventional_case(), json!({"air_kerma": text, "air_kerma_unit": null}));
            let record = record(&case);
            assert_eq!(record.air_kerma_mgy(), Reported::Missing(code));
            assert_eq!(endpoint::derive(&record).air_kerma_mgy, None);
            let written = record.to_json();
            assert_eq!(written["air_kerma"], json!(code.code()));
            assert_eq!(written.get("air_kerma_unit"), None, "a missing value has no unit");
        }
    }
}

#[test]
fn not_applicable_is_questioned_where_the_field_applies() {
    let found = findings(&with(conventional_case(), json!({"air_kerma": "na"})));
    assert_eq!(found.iter().map(|finding| finding.rule).collect::<Vec<_>>(), ["applies_here"]);
    assert_eq!(found[0].weight, Weight::Query);
    assert_eq!(findings(&with(conventional_case(), json!({"air_kerma": "nr"}))), []);
    // Where it does not apply, saying so is right.
    assert_eq!(findings(&with(zero_fluoroscopy_case(), json!({"zf_declined_reason": "na"}))), []);
}

#[test]
fn a_number_and_a_missing_code_cannot_stand_together() {
    for (given, rule) in [
        (json!("25.2 nr"), "json_type"),
        (json!("nr 25.2"), "json_type"),
        (json!(["nr", 25.2]), "json_type"),
        (json!("nr:5"), "value"),
    ] {
        let found = findings(&with(conventional_case(), json!({"air_kerma": given})));
        assert_eq!(found.iter().map(|finding| finding.rule).collect::<Vec<_>>(), [rule], "{given}");
        let mut form = form(&conventional_case());
        form.case.put("air_kerma", given.as_str().unwrap_or("nr;25.2"));
        assert_eq!(found_in(&form)[0].rule, "value", "{given}");
    }
    let found = findings(&with(zero_fluoroscopy_case(), json!({"energy": ["rf", "nr"]})));
    assert_eq!(found[0].rule, "value");
}

#[test]
fn a_field_that_decides_the_comparison_takes_no_missing_code() {
    let mut bare = 0;
    for (part, variables) in [
        ("", case_variables()),
        ("/complications/0", complication_variables()),
        ("/follow_up", follow_up_variables()),
    ] {
        for variable in variables {
            if variable.missing_allowed || variable.key == CASE_CODE.key {
                continue;
            }
            bare += 1;
            // A bare field that did not always apply would be dropped without a word.
            assert_eq!(variable.need, Need::Always, "{}", variable.key);
            for code in MISSING_CODES {
                let mut case = case_with_tamponade();
                *case.pointer_mut(&format!("{part}/{}", variable.key)).unwrap() = json!(code.code());
                let found = findings(&case);
                let place = format!("{part}/{}", variable.key);
                let about = found.iter().find(|finding| finding.places[0].pointer() == place);
                let about = about.unwrap_or_else(|| panic!("{place}: {found:#?}"));
                assert_eq!(about.weight, Weight::Hard, "{place}");
            }
        }
    }
    assert_eq!(bare, 9, "fields without a missing code");
}

/// Checks that a case with some fields changed is refused with one finding.
fn check_refused(changes: Value, place: &str, words: &str) {
    let found = findings(&with(zero_fluoroscopy_case(), changes.clone()));
    let hard: Vec<_> = found.iter().filter(|finding| finding.weight == Weight::Hard).collect();
    assert_eq!(hard.len(), 1, "{changes}: {found:#?}");
    assert_eq!(hard[0].places[0].pointer(), place, "{changes}");
    assert!(hard[0].sentence.contains(words), "{changes}: {}", hard[0].sentence);
    assert!(hard[0].sentence.ends_with('.'), "{}", hard[0].sentence);
}

#[test]
fn what_could_identify_is_refused() {
    check_refused(json!({"age_band": 95}), "/age_band", "80_89, 90_plus");
    check_refused(json!({"age_band": "95"}), "/age_band", "80_89, 90_plus");
    check_refused(json!({"period": "2025-03-14"}), "/period", "Quarter of the procedure is a full date");
    check_refused(json!({"comment": "redo planned on 14 March 2025"}), "/comment", "looks like a date");
    check_refused(json!({"comment": "seen by Dr Miller"}), "/comment", "a person's name");
    check_refused(json!({"comment": "MRN 4711 0815"}), "/comment", "hospital or personal number");
    check_refused(json!({"case_code": "0048123977"}), "/case_code", "looks like a hospital number");
    check_refused(json!({"earlier_case_code": "0048123977"}), "/earlier_case_code", "hospital number");
    check_refused(json!({"date_of_birth": "1950"}), "/date_of_birth", "could identify a person");
    check_refused(json!({"MRN": 5}), "/MRN", "could identify a person");
    check_refused(json!({"op_code": "Miller"}), "/op_code", "not an operator code");
}

#[test]
fn a_field_of_the_wrong_shape_is_refused_with_what_it_takes() {
    check_refused(json!({"bmi": "27.4"}), "/bmi", "takes a number, or a missing code");
    check_refused(json!({"lvef": "65"}), "/lvef", "takes a number");
    check_refused(json!({"lvef": 58.5}), "/lvef", "not a whole number");
    check_refused(json!({"lvef": true}), "/lvef", "takes a number");
    check_refused(json!({"lvef": [58]}), "/lvef", "takes a number");
    check_refused(json!({"lvef": 1e300}), "/lvef", "not a whole number");
    check_refused(json!({"sex": {"code": "f"}}), "/sex", "one of these codes as text: f, m, x");
    check_refused(json!({"energy": 1}), "/energy", "takes a list of codes");
    check_refused(json!({"energy": [1]}), "/energy", "takes a list of codes");
    check_refused(json!({"energy": []}), "/energy", "is not filled in");
    check_refused(json!({"energy": ["rf", "rf"]}), "/energy", "names rf twice");
    check_refused(json!({"energy": ["none", "rf"]}), "/energy", "none beside other codes");
    check_refused(json!({"energy": ["steam"]}), "/energy", "use one of: rf,");
    check_refused(json!({"complications": {}}), "/complications", "a list of objects");
    check_refused(json!({"complications": [4]}), "/complications/0/", "are JSON objects");
    check_refused(json!({"follow_up": []}), "/follow_up/", "are JSON objects");
    check_refused(json!({"ejection": 58}), "/ejection", "\"ejection\" is not a field of this record");
    check_refused(json!({"<b>x": 1}), "/bx", "\"bx\" is not a field");
    check_refused(json!({"comment": "a".repeat(301)}), "/comment", "301 characters; 300 at the most");
}

#[test]
fn null_is_no_way_to_leave_a_field_out() {
    let mut case = zero_fluoroscopy_case();
    case["bmi"] = Value::Null;
    let found = findings(&case);
    assert_eq!(found.len(), 1, "{found:#?}");
    assert!(found[0].sentence.contains("leave the field out if it is blank"), "{}", found[0].sentence);
}

#[test]
fn a_key_that_stands_twice_is_refused_by_name() {
    for text in [r#"{"bmi": 20, "bmi": 30}"#, r#"{"follow_up": {"bmi": 20, "bmi": 30}}"#] {
        let error = serde_json::from_str::<StrictJson>(text).unwrap_err().to_string();
        assert!(error.contains("the field \"bmi\" stands twice"), "{error}");
    }
    let error = serde_json::from_str::<StrictJson>("{\"<\\n\": 1, \"<\\n\": 1}").unwrap_err().to_string();
    assert!(error.contains("the field \"\" stands twice"), "{error}");
}

#[test]
fn all_that_must_be_mended_is_told_at_once() {
    let case = with(
        conventional_case(),
        json!({"bmi": "x", "lvef": 4, "air_kerma_unit": "mSv", "kap_unit": null, "mrn": "1", "sex": null}),
    );
    let mut places: Vec<_> = findings(&case).iter().map(|finding| finding.places[0].pointer()).collect();
    places.sort();
    assert_eq!(places, ["/air_kerma_unit", "/bmi", "/kap_unit", "/lvef", "/mrn", "/sex"]);
}

#[test]
fn twenty_complications_are_the_most() {
    let event = case_with_seen_effusion()["complications"][0].clone();
    let with_events =
        |n: usize| with(case_with_seen_effusion(), json!({"complications": vec![event.clone(); n]}));
    assert_eq!(findings(&with_events(20)), []);
    assert_eq!(findings(&with_events(21))[0].rule, "too_many_complications");
}

/// Record → JSON → form → record → JSON gives the same bytes and asks the same.
fn check_round_trip(case: &CaseForm) -> bool {
    let Ok(first) = case.check(today()) else { return false };
    let written = first.record.to_json();
    let second = match form(&written).check(today()) {
        Ok(second) => second,
        Err(findings) => panic!("its own JSON is refused: {findings:#?}\n{written:#}"),
    };
    assert_eq!(second.record.to_json().to_string(), written.to_string());
    let same_doses = |a: &CaseRecord, b: &CaseRecord| {
        a.air_kerma_mgy() == b.air_kerma_mgy()
            && a.kap_gy_cm2() == b.kap_gy_cm2()
            && a.fluoro_time_s() == b.fluoro_time_s()
    };
    assert!(same_doses(&first.record, &second.record), "{written:#}");
    true
}

#[test]
fn a_record_survives_being_written_and_read() {
    for case in samples() {
        assert!(check_round_trip(&form(&case)), "{case:#}");
    }
    let clock = with(conventional_case(), json!({"fluoro_time": "9:05"}));
    assert!(check_round_trip(&form(&clock)));
    assert_eq!(record(&clock).to_json()["fluoro_time"], json!("9:05"), "the typed pair is kept");
}

/// A valid text for a variable, chosen by `seed`, with that of its unit.
pub(crate) fn valid_texts(variable: &Variable, seed: u64) -> Vec<(String, String)> {
    let key = || variable.key.to_owned();
    if variable.missing_allowed && seed.is_multiple_of(7) {
        return vec![(key(), MISSING_CODES[(seed / 7 % 5) as usize].code().to_owned())];
    }
    let among = |min: f64, max: f64| min + (max - min) * (seed % 1009) as f64 / 1008.0;
    let text = match variable.kind {
        Kind::Code(list) => list.codes[(seed % list.codes.len() as u64) as usize].code.to_owned(),
        Kind::Codes(list) => {
            let several = list.codes.iter().enumerate().filter(|(n, _)| seed >> (8 + n) & 1 == 1);
            let several: Vec<_> = several.map(|(_, code)| code.code).filter(|code| *code != "none").collect();
            if several.is_empty() { list.codes[0].code.to_owned() } else { several.join(";") }
        }
        Kind::Whole { min, max } => (min + (seed % (max - min + 1) as u64) as i64).to_string(),
        Kind::Decimal { min, max } => format!("{:.3}", among(min, max)),
        Kind::Quantity(dimension) => {
            let unit = &dimension.units[(seed / 1009 % dimension.units.len() as u64) as usize];
            let small = if seed.is_multiple_of(2) { 0.02 } else { 1.0 };
            let largest = crate::quantity::tests::typed_maximum(dimension, unit);
            let typed = (among(0.0, largest) * small).to_string();
            return vec![(key(), typed), (variable.unit_key().unwrap(), unit.label.to_owned())];
        }
        Kind::Quarter => format!("{}Q{}", 2010 + seed % 16, 1 + seed % 4),
        Kind::CaseCode => CaseCode::from_random(u128::from(seed).to_be_bytes()).as_str().to_owned(),
        Kind::OperatorCode => format!("O{:02}", seed % 100),
        Kind::RoomCode => format!("R{}", 1 + seed % 99),
        Kind::Text { .. } => {
            ["Long sheath changed twice", "ünïcödé remark; with \"marks\""][(seed % 2) as usize].to_owned()
        }
    };
    vec![(key(), text)]
}

/// A sample with some fields of the case, its complication and its follow-up
/// set to other valid values.
pub(crate) fn varied_form(sample: usize, changes: &[(usize, u64)]) -> CaseForm {
    let mut form = form(&samples()[sample]);
    let (own, events, later) = (case_variables(), complication_variables(), follow_up_variables());
    for (position, seed) in changes {
        let mut position = position % (own.len() + events.len() + later.len());
        let (variable, entries) = if position < own.len() {
            (own[position], Some(&mut form.case))
        } else {
            position -= own.len();
            match events.get(position) {
                Some(variable) => (*variable, form.complications.first_mut()),
                None => (later[position - events.len()], form.follow_up.as_mut()),
            }
        };
        let Some(entries) = entries else { continue };
        for (key, text) in valid_texts(variable, *seed) {
            entries.put(key, text);
        }
    }
    form
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, max_global_rejects: 4000, ..ProptestConfig::default() })]

    #[test]
    fn varied_records_survive_being_written_and_read(
        sample in 0_usize..4,
        changes in prop::collection::vec((any::<usize>(), any::<u64>()), 1..6),
    ) {
        prop_assume!(check_round_trip(&varied_form(sample, &changes)));
    }

    #[test]
    fn no_text_in_any_field_makes_the_check_fail(
        sample in 0_usize..4,
        position in any::<usize>(),
        text in "\\PC{0,30}",
    ) {
        let mut form = form(&samples()[sample]);
        let own = case_variables();
        form.case.put(own[position % own.len()].key, text.clone());
        for (n, variable) in complication_variables().iter().enumerate() {
            if let Some(entries) = form.complications.first_mut().filter(|_| n == position % 29) {
                entries.put(variable.key, text.clone());
            }
        }
        for finding in found_in(&form) {
            prop_assert!(finding.sentence.ends_with('.'), "{}", finding.sentence);
        }
    }
}
