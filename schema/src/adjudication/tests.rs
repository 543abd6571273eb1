#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::case::sample::{case_with_seen_effusion, case_with_tamponade, conventional_case, with};
use crate::entries::StrictJson;
use proptest::prelude::*;
use serde_json::{Value, json};

fn form(case: &Value) -> CaseForm {
    CaseForm::from_json(serde_json::from_value::<StrictJson>(case.clone()).unwrap())
}

fn identity_in(code: u8, case: &Value) -> String {
    blinded(CaseCode::from_random([code; 16]), &form(case)).remove(0).unwrap().identity
}

fn identity(case: &Value) -> String {
    identity_in(1, case)
}

/// What a judge may not see, with why; with what is shown this is all there is, so that a new
/// variable of a complication has to be put on one side.
const HIDDEN: [&str; 12] = [
    // Imaging: what saw it, when, and what was measured on it.
    "detect_method",
    "detect_also",
    "detect_min",
    "detect_day",
    "effusion_ml_est",
    "effusion_mm_max",
    "effusion_baseline",
    // The dose.
    "relatedness_xray",
    // What somebody else judged before.
    "ctcae_grade",
    "clavien",
    "severity_override",
    "severity_override_reason",
];

#[test]
fn every_variable_of_a_complication_is_shown_or_hidden() {
    for variable in complication_variables() {
        let (shown, hidden) = (OF_EVENT.contains(&variable.key), HIDDEN.contains(&variable.key));
        assert!(shown != hidden, "{}: shown {shown}, hidden {hidden}", variable.key);
    }
    for key in OF_EVENT {
        assert!(complication_variables().iter().any(|variable| variable.key == key), "{key}");
    }
    for key in OF_CASE {
        assert!(case_variables().iter().any(|variable| variable.key == key), "{key}");
    }
}

/// The arm, the dose and what imaging saw may be anything: the judge sees the same.
#[test]
fn nothing_that_tells_the_arm_changes_what_is_shown() {
    let zero = case_with_tamponade();
    let mut other = conventional_case();
    for key in OF_CASE {
        other[key] = zero[key].clone();
    }
    other["complications"] = zero["complications"].clone();
    for key in ["detect_method", "detect_also", "effusion_baseline"] {
        other["complications"][0][key] = json!("nr");
    }
    let shown = identity(&zero);
    assert_eq!(shown, identity(&other));
    for never in ["zero", "ice", "fluoro", "detect", "kerma", "centre"] {
        assert!(!shown.contains(never), "{never}: {shown}");
    }
}

#[test]
fn a_correction_of_what_is_shown_makes_another_event() {
    let before = case_with_tamponade();
    let mut after = before.clone();
    after["complications"][0] = with(after["complications"][0].clone(), json!({ "los_extra_days": 9 }));
    assert_ne!(identity(&before), identity(&after));
    assert_ne!(identity(&before), identity_in(2, &before), "the same event of another case");
}

#[test]
fn an_injury_by_x_ray_cannot_be_shown() {
    let mut case = case_with_seen_effusion();
    case["complications"][0]["ae_code"] = json!("skin_radiation");
    assert!(blinded(CaseCode::from_random([1; 16]), &form(&case))[0].is_none());
}

fn ruling() -> impl Strategy<Value = HarmRuling> {
    prop::sample::select(HarmRuling::all())
}

proptest! {
    #[test]
    fn two_that_agree_need_no_third(first in ruling(), second in ruling(), third in ruling()) {
        prop_assert_eq!(Settled::of(&[]), Settled::Open);
        prop_assert_eq!(Settled::of(&[first]), Settled::Open);
        let two = Settled::of(&[first, second]);
        prop_assert_eq!(two.ruling(), (first == second).then_some(first));
        prop_assert_eq!(two, Settled::of(&[second, first]));
        let three = Settled::of(&[first, second, third]);
        if first == second {
            prop_assert_eq!(three, two);
        } else {
            prop_assert_eq!(three, Settled::ByThird(third));
        }
    }
}

fn died(change: Value) -> Value {
    let follow_up = json!({
        "fu30_status": "dead", "death": "yes", "death_day": 12, "death_cause": "cardiac_proc"
    });
    with(conventional_case(), json!({ "follow_up": with(follow_up, change) }))
}

fn death(case: &Value) -> Option<BlindedEvent> {
    blinded_death(CaseCode::from_random([1; 16]), &form(case))
}

#[test]
fn a_death_that_the_follow_up_alone_tells_is_an_event() {
    let event = death(&died(json!({}))).unwrap();
    assert_eq!(event.kind, ComplicationKind::Death);
    let shown: Vec<&str> = event.of_event.iter().map(|fact| fact.variable.key).collect();
    assert_eq!(shown, ["death_day", "death_cause"]);
    for never in ["zero", "conventional", "fluoro", "kerma", "centre"] {
        assert!(!event.identity.contains(never), "{never}: {}", event.identity);
    }
    assert!(death(&died(json!({ "death_day": 30 }))).is_some());
    // A day that nobody knows is asked about; a later one says nothing about the procedure.
    assert!(death(&died(json!({ "death_day": "nr" }))).is_some());
    assert!(death(&died(json!({ "death_day": 31 }))).is_none());
    assert!(death(&conventional_case()).is_none());
    let one = |day: i64| death(&died(json!({ "death_day": day }))).unwrap().identity;
    assert_ne!(one(12), one(13), "a correction of the day makes another event");
}

#[test]
fn a_death_that_a_complication_tells_is_judged_there() {
    let told = [
        json!({ "outcome": "fatal" }),
        json!({ "serious": ["death", "hospital"] }),
        json!({ "ae_code": "death", "outcome": "fatal" }),
    ];
    for change in told {
        let mut case = case_with_tamponade();
        case["follow_up"] = died(json!({}))["follow_up"].clone();
        assert!(death(&case).is_some(), "the tamponade was survived");
        case["complications"][0] = with(case["complications"][0].clone(), change.clone());
        assert!(death(&case).is_none(), "{change}");
    }
}
