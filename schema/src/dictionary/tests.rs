#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::case::sample::{case_with_tamponade, conventional_case, with};
use crate::case::tests::{form, found_in};
use crate::case::{CaseForm, case_variables, complication_variables, follow_up_variables};
use serde_json::json;
use std::collections::HashSet;

/// The three parts of a record with their variables.
fn parts() -> [(Part, Vec<&'static Variable>); 3] {
    [
        (Part::Case, case_variables()),
        (Part::Complication(0), complication_variables()),
        (Part::FollowUp, follow_up_variables()),
    ]
}

/// A form in which the beam was on, with a complication and a follow-up.
fn full_form() -> CaseForm {
    let complications = case_with_tamponade()["complications"].clone();
    form(&with(
        conventional_case(),
        json!({"no_complication_confirmed": "no", "complications": complications}),
    ))
}

fn entries_of(form: &mut CaseForm, part: Part) -> &mut Entries {
    form.part_mut(part).unwrap()
}

/// A field's key, smallest and largest value accepted, and the usual values.
type Limits = (&'static str, f64, f64, Option<(f64, f64)>);

/// Hard limits, and the limits outside which a value is asked about; quantities
/// in their canonical unit. Common practice, no source, except where a line
/// names one.
const LIMITS: &[Limits] = &[
    ("procedure_seq_for_patient", 1.0, 9.0, Some((1.0, 4.0))),
    ("staff_dose_operator", 0.0, 5_000.0, Some((0.0, 100.0))),
    ("staff_dose_second", 0.0, 5_000.0, Some((0.0, 100.0))),
    ("staff_dose_nurse", 0.0, 5_000.0, Some((0.0, 100.0))),
    ("staff_dose_anaesthesia", 0.0, 5_000.0, Some((0.0, 100.0))),
    ("bmi", 10.0, 80.0, Some((15.0, 55.0))),
    ("lvef", 5.0, 85.0, Some((15.0, 75.0))),
    // The score without a point for sex (European Society of Cardiology, guideline
    // on atrial fibrillation, 2024) ends at 8, the older one at 9.
    ("chads_va", 0.0, 8.0, None),
    ("chads_vasc", 0.0, 9.0, None),
    ("la_diameter", 15.0, 90.0, Some((25.0, 70.0))),
    ("prior_ablation_n", 0.0, 3.0, None),
    ("asa_class", 1.0, 5.0, None),
    ("transseptal_n", 0.0, 6.0, Some((0.0, 2.0))),
    ("skin_to_skin_min", 5.0, 900.0, None),
    ("la_dwell_min", 0.0, 900.0, None),
    ("rf_time_s", 0.0, 14_400.0, None),
    ("applications_n", 0.0, 400.0, None),
    ("heparin_act_max", 80.0, 700.0, Some((250.0, 450.0))),
    ("fluoro_time", 0.0, 18_000.0, Some((0.0, 3_600.0))),
    ("air_kerma", 0.0, 20_000.0, Some((0.05, 2_000.0))),
    ("kap", 0.0, 2_000.0, Some((0.0, 60.0))),
    ("cine_runs", 0.0, 100.0, Some((0.0, 10.0))),
    ("cine_time", 0.0, 1_800.0, Some((0.0, 120.0))),
    ("pulse_rate_fps", 0.5, 60.0, Some((0.5, 15.0))),
    ("contrast_ml", 0.0, 600.0, Some((0.0, 200.0))),
    ("wait_time_min", 0.0, 120.0, None),
    ("veins_targeted", 0.0, 8.0, None),
    ("veins_isolated", 0.0, 8.0, None),
    ("onset_min", -30.0, 900.0, None),
    ("onset_day", 0.0, 730.0, None),
    ("detect_min", -30.0, 900.0, None),
    ("detect_day", 0.0, 730.0, None),
    ("haemo_change_min", -30.0, 900.0, None),
    ("effusion_ml_est", 0.0, 3_000.0, Some((50.0, 3_000.0))),
    ("effusion_mm_max", 0.0, 80.0, None),
    ("drained_ml", 0.0, 10_000.0, Some((0.0, 1_000.0))),
    ("los_extra_days", 0.0, 90.0, None),
    ("hct_fall_pct", 0.0, 60.0, None),
    // Common Terminology Criteria for Adverse Events: grades 1 to 5.
    ("ctcae_grade", 1.0, 5.0, None),
    ("fu30_day", 20.0, 60.0, Some((25.0, 45.0))),
    ("death_day", 0.0, 1_500.0, None),
    ("fu_last_day", 60.0, 1_500.0, None),
    ("recurrence_first_day", 0.0, 1_500.0, None),
    ("redo_day", 0.0, 1_500.0, None),
    ("cardioversion_day", 0.0, 1_500.0, None),
];

/// The hard limits of a numeric variable and the smallest step beyond them.
fn limits_and_step(kind: Kind) -> Option<(f64, f64, f64)> {
    match kind {
        Kind::Whole { min, max } => Some((min as f64, max as f64, 1.0)),
        Kind::Decimal { min, max } => Some((min, max, 0.001)),
        Kind::Quantity(dimension) => Some((dimension.min, dimension.max, 0.001)),
        _ => None,
    }
}

/// The rules that find something in one field when it holds `number`.
fn rules_at(part: Part, variable: &Variable, number: f64) -> Vec<Finding> {
    let mut form = full_form();
    let entries = entries_of(&mut form, part);
    // Three decimals, because 15 − 0.001 is not 14.999 in binary.
    let text = format!("{number:.3}");
    let whole = matches!(variable.kind, Kind::Whole { .. });
    entries.put(variable.key, if whole { format!("{number}") } else { text });
    if let (Some(key), Kind::Quantity(dimension)) = (variable.unit_key(), variable.kind) {
        entries.put(key, dimension.canonical().ucum);
    }
    let place = Place::new(part, variable.key);
    let mut found = found_in(&form);
    found.retain(|finding| {
        finding.places == [place.clone()] && matches!(finding.rule, "value" | "unusual_value")
    });
    found
}

fn check(part: Part, variable: &Variable, number: f64, expected: &[&str]) {
    let found = rules_at(part, variable, number);
    let rules: Vec<_> = found.iter().map(|finding| finding.rule).collect();
    assert_eq!(rules, expected, "{} = {number}: {found:#?}", variable.key);
    for finding in found {
        assert!(finding.sentence.starts_with(variable.label), "{}", finding.sentence);
        let unit = match variable.kind {
            Kind::Quantity(dimension) => dimension.canonical().label,
            _ => variable.unit,
        };
        assert!(finding.rule == "value" || finding.sentence.contains(unit), "{}", finding.sentence);
    }
}

#[test]
fn every_number_keeps_its_limits_at_the_edge_and_just_beyond() {
    let mut numbers = 0;
    for (part, variables) in parts() {
        for variable in variables {
            let Some((min, max, step)) = limits_and_step(variable.kind) else { continue };
            numbers += 1;
            let row = LIMITS.iter().find(|(key, ..)| *key == variable.key);
            let (_, low, high, query) = row.unwrap_or_else(|| panic!("{} has no row", variable.key));
            assert_eq!((min, max), (*low, *high), "{}", variable.key);
            assert_eq!(variable.query, *query, "{}", variable.key);
            let (usual_min, usual_max) = query.unwrap_or((min, max));
            let asked = |outside: bool| if outside { &["unusual_value"][..] } else { &[] };
            check(part, variable, min, asked(min < usual_min));
            check(part, variable, max, asked(max > usual_max));
            check(part, variable, min - step, &["value"]);
            check(part, variable, max + step, &["value"]);
            check(part, variable, usual_min, &[]);
            check(part, variable, usual_max, &[]);
            if usual_min > min {
                check(part, variable, usual_min - step, &["unusual_value"]);
            }
            if usual_max < max {
                check(part, variable, usual_max + step, &["unusual_value"]);
            }
        }
    }
    assert_eq!(numbers, LIMITS.len(), "a row names no field, or a field twice");
}

#[test]
fn a_quantity_without_its_unit_is_refused_and_told_the_units() {
    let mut quantities = 0;
    for (part, variables) in parts() {
        for variable in variables {
            let (Kind::Quantity(dimension), Some(unit_key)) = (variable.kind, variable.unit_key()) else {
                continue;
            };
            quantities += 1;
            let mut form = full_form();
            entries_of(&mut form, part).put(variable.key, "1");
            entries_of(&mut form, part).put(unit_key.clone(), "");
            let found = found_in(&form);
            let about = found.iter().find(|finding| finding.places[0].key == unit_key).unwrap();
            assert_eq!(about.rule, "unit_required");
            assert!(about.sentence.contains(&dimension.units_joined()), "{}", about.sentence);
            entries_of(&mut form, part).put(unit_key.clone(), "furlong");
            let found = found_in(&form);
            let about = found.iter().find(|finding| finding.places[0].key == unit_key).unwrap();
            assert!(about.sentence.contains(&dimension.units_joined()), "{}", about.sentence);
        }
    }
    assert_eq!(quantities, 8);
}

#[test]
fn a_required_field_left_out_is_asked_for_by_name() {
    for (part, variables) in parts() {
        for variable in variables.into_iter().filter(|variable| variable.need == Need::Always) {
            let mut form = full_form();
            entries_of(&mut form, part).put(variable.key, " ");
            let found = found_in(&form);
            let place = Place::new(part, variable.key);
            let about = found.iter().find(|finding| finding.places == [place.clone()]);
            let about = about.unwrap_or_else(|| panic!("{}: {found:#?}", variable.key));
            assert_eq!((about.rule, about.weight), ("required", Weight::Hard));
            assert!(about.sentence.starts_with(&format!("{} is not filled in", variable.label)));
        }
    }
}

#[test]
fn every_condition_names_fields_of_its_part_and_their_codes() {
    let mut conditions = 0;
    for (_, variables) in parts() {
        for variable in &variables {
            let Need::When(condition) = variable.need else { continue };
            conditions += 1;
            assert!(!condition.names().is_empty(), "{}", variable.key);
            for (key, codes) in condition.names() {
                let (named, is_unit) = column(&variables, key)
                    .unwrap_or_else(|| panic!("{}: no field {key} in its part", variable.key));
                assert!(!is_unit);
                match named.codes() {
                    Some(list) => assert!(
                        !codes.is_empty()
                            && codes
                                .iter()
                                .all(|code| { list.codes.iter().any(|known| known.code == *code) }),
                        "{}: {codes:?} of {key}",
                        variable.key
                    ),
                    None => assert!(codes.is_empty() && matches!(named.kind, Kind::Whole { .. })),
                }
            }
            let words = condition.words();
            assert!(condition.names().iter().all(|(key, _)| words.contains(key)), "{words}");
        }
    }
    assert!(conditions > 20, "{conditions}");
}

#[test]
fn a_condition_holds_where_its_words_say() {
    let entries = |pairs: &[(&str, &str)]| {
        let mut entries = Entries::default();
        pairs.iter().for_each(|(key, text)| entries.put(*key, *text));
        entries
    };
    const IS: Condition = Condition::Is("a", &["x", "y"]);
    const NOT: Condition = Condition::IsNot("a", &["x", "y"]);
    const LEAST: Condition = Condition::AtLeast("n", 2);
    let holds = |condition: Condition, pairs: &[(&str, &str)]| condition.holds(&entries(pairs));
    for (text, is) in [("x", true), ("Y", true), (" y ", true), ("z;x", true), ("z", false), ("xy", false)] {
        assert_eq!(holds(IS, &[("a", text)]), is, "{text}");
        assert_eq!(holds(NOT, &[("a", text)]), !is, "{text}");
    }
    // A blank answers neither.
    for pairs in [&[][..], &[("a", " ")]] {
        assert!(!holds(IS, pairs) && !holds(NOT, pairs));
    }
    for (text, least) in [("1", false), ("2", true), ("3", true), ("-3", false), ("nr", false), ("", false)] {
        assert_eq!(holds(LEAST, &[("n", text)]), least, "{text}");
    }
    const ALL: Condition = Condition::All(&[IS, LEAST]);
    const ANY: Condition = Condition::Any(&[IS, LEAST]);
    for (a, n, all, any) in
        [("x", "2", true, true), ("x", "1", false, true), ("z", "2", false, true), ("z", "1", false, false)]
    {
        assert_eq!(
            (holds(ALL, &[("a", a), ("n", n)]), holds(ANY, &[("a", a), ("n", n)])),
            (all, any),
            "{a} {n}"
        );
    }
    assert_eq!(ANY.words(), "a is x or y, or n is at least 2");
}

#[test]
fn a_conditional_field_is_asked_for_exactly_where_it_applies() {
    for (changes, key, asked) in [
        (json!({"age_band": "18_29"}), "weight_band_paed", false),
        (json!({"age_band": "12_17"}), "weight_band_paed", true),
        (json!({"age_band": "12_17", "weight_band_paed": "50_79", "bmi": null, "lvef": null}), "bmi", false),
        (json!({"bmi": null}), "bmi", true),
        (json!({"chads_va": null}), "chads_va", true),
        (json!({"chads_va": null, "proc_primary": "cti_afl"}), "chads_va", true),
        (json!({"chads_va": null, "proc_primary": "avnrt"}), "chads_va", false),
        (json!({"preproc_ct": null, "proc_primary": "vt_idio"}), "preproc_ct", true),
        (json!({"preproc_ct": null, "proc_primary": "pvc"}), "preproc_ct", false),
        (json!({"anticoag": null}), "anticoag", true),
        (json!({"anticoag": null, "transseptal_n": 0, "transseptal_route": "pfo"}), "anticoag", true),
        (json!({"anticoag": null, "transseptal_n": 0, "transseptal_route": "none"}), "anticoag", false),
        (
            json!({"anticoag": null, "transseptal_n": 0, "transseptal_route": "none", "access": ["fem_vein", "fem_art"]}),
            "anticoag",
            true,
        ),
        (json!({"proc_primary": "avrt_ap"}), "substrate_detail", true),
        (json!({"proc_primary": "avnrt"}), "substrate_detail", false),
        (json!({"contact_force": null}), "contact_force", true),
        (json!({"contact_force": null, "energy": ["pfa"]}), "contact_force", false),
        (json!({"fluoro_used": "standby_used"}), "fluoro_reason", true),
        (json!({}), "fluoro_reason", false),
        (json!({"zf_declined_reason": null}), "zf_declined_reason", true),
        (json!({"ablation_attempted": "no", "endpoint_shown": null}), "endpoint_shown", false),
        (json!({"ablation_attempted": "no"}), "abort_reason", true),
        (json!({"acute_success_override": "yes"}), "acute_success_override_reason", true),
        (json!({"acute_success_override": "nr"}), "acute_success_override_reason", false),
    ] {
        let found = found_in(&form(&with(conventional_case(), changes.clone())));
        let found = found.iter().any(|finding| finding.rule == "required" && finding.places[0].key == key);
        assert_eq!(found, asked, "{key} after {changes}");
    }
}

#[test]
fn keys_labels_and_help_are_fit_to_be_read() {
    for (part, variables) in parts() {
        let mut columns = HashSet::new();
        for variable in variables {
            let key = variable.key;
            assert!(key.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_'), "{key}");
            assert!(!variable.label.is_empty() && !variable.label.ends_with('.'), "{key}");
            assert!(variable.help.trim().ends_with('.') && variable.help.trim().len() > 10, "{key}");
            for name in variable.columns() {
                assert!(columns.insert(name.clone()), "{name} stands twice in {part:?}");
            }
            if let (Some((low, high)), Some((min, max, _))) = (variable.query, limits_and_step(variable.kind))
            {
                assert!(
                    min <= low && low < high && high <= max,
                    "{key}: usual values lie within the accepted"
                );
            }
        }
    }
}
