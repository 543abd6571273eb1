#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::case::sample::{
    case_with_seen_effusion, case_with_tamponade, conventional_case, with, zero_fluoroscopy_case,
};
use crate::case::tests::record;
use crate::vocabulary::Coded;
use serde_json::{Value, json};

/// A case of one procedure type in which `shown` (codes after each other) was
/// demonstrated.
fn case_of(procedure: ProcedureType, shown: &str) -> Value {
    let shown: Value = if shown == "nr" { json!("nr") } else { shown.split(' ').collect() };
    let mut changes =
        json!({"proc_primary": procedure.code(), "endpoint_shown": shown, "substrate_detail": "other"});
    if !procedure.is_af() {
        changes["veins_targeted"] = Value::Null;
        changes["veins_isolated"] = Value::Null;
    }
    with(zero_fluoroscopy_case(), changes)
}

fn success(case: &Value) -> Option<AcuteSuccess> {
    acute_success(&record(case)).used()
}

/// What counts as success, as part of it, and as none, by type; the neighbours
/// are what another type would count. Nodal tachycardia, pathways and focal
/// tachycardia after a published method paper on ablation of supraventricular
/// tachycardia (Authorea 331509), veins after the 2017 expert consensus on
/// ablation of atrial fibrillation, ventricular endpoints after the 2019 expert
/// consensus on ventricular arrhythmias (from memory); isthmus, node and the
/// rest common practice, no source.
const GRADES: &[(&[ProcedureType], &str, &str, &str)] = &[
    (&[ProcedureType::Avnrt], "non_inducible, non_inducible_one_echo", "", "none, termination_only"),
    (
        &[ProcedureType::AvrtAp],
        "ap_block_both, ap_block_both ap_block_one_way",
        "ap_block_one_way",
        "none, non_inducible",
    ),
    (&[ProcedureType::CtiFlutter], "bidir_block", "oneway_block", "none, non_inducible, termination_only"),
    (
        &[ProcedureType::AtypicalFlutter, ProcedureType::FocalAt],
        "termination_non_inducible",
        "termination_only",
        "none, non_inducible",
    ),
    (
        &[
            ProcedureType::AfParoxysmalFirst,
            ProcedureType::AfPersistentFirst,
            ProcedureType::AfLongStandingFirst,
            ProcedureType::AfRedo,
        ],
        "pvi_entrance, pvi_entrance_exit, pvi_entrance non_inducible",
        "",
        "none, non_inducible, bidir_block",
    ),
    (&[ProcedureType::Pvc], "pvc_abolished", "pvc_reduced", "none, non_inducible"),
    (
        &[ProcedureType::VtIdiopathic, ProcedureType::VtEndocardial, ProcedureType::VtEpicardial],
        "vt_clinical_non_inducible, vt_all_non_inducible",
        "",
        "none, non_inducible",
    ),
    (&[ProcedureType::AvNode], "avb_complete", "", "none, bidir_block"),
    (
        &[ProcedureType::OtherAtrial, ProcedureType::Other, ProcedureType::DiagnosticOnly],
        "other_planned_endpoint",
        "",
        "none, bidir_block",
    ),
];

#[test]
fn success_follows_from_the_type_and_what_was_shown() {
    let mut seen = 0;
    for (procedures, yes, partial, no) in GRADES {
        for procedure in *procedures {
            seen += 1;
            for (list, expected) in
                [(yes, AcuteSuccess::Yes), (partial, AcuteSuccess::Partial), (no, AcuteSuccess::No)]
            {
                for shown in list.split(", ").filter(|shown| !shown.is_empty()) {
                    let found = success(&case_of(*procedure, shown));
                    assert_eq!(found, Some(expected), "{}: {shown}", procedure.code());
                }
            }
            assert_eq!(success(&case_of(*procedure, "nr")), None, "{}: not said", procedure.code());
            let not_attempted = with(
                case_of(*procedure, "none"),
                json!({"ablation_attempted": "no", "endpoint_shown": null, "abort_reason": "anatomy"}),
            );
            assert_eq!(success(&not_attempted), Some(AcuteSuccess::NotAttempted), "{}", procedure.code());
        }
    }
    assert_eq!(seen, ProcedureType::all().len(), "a type has no row");
}

#[test]
fn fibrillation_needs_every_targeted_vein() {
    let check = |targeted: Value, isolated: Value, expected| {
        let veins = json!({"veins_targeted": targeted, "veins_isolated": isolated});
        let case = with(zero_fluoroscopy_case(), veins.clone());
        assert_eq!(success(&case), expected, "{veins}");
    };
    check(json!(4), json!(4), Some(AcuteSuccess::Yes));
    check(json!(4), json!(3), Some(AcuteSuccess::Partial));
    check(json!(4), json!(1), Some(AcuteSuccess::Partial));
    check(json!(4), json!(0), Some(AcuteSuccess::No));
    check(json!(1), json!(1), Some(AcuteSuccess::Yes));
    check(json!(0), json!(0), Some(AcuteSuccess::No));
    check(json!("nr"), json!(4), None);
    check(json!(4), json!("unk"), None);
}

#[test]
fn an_override_of_success_keeps_both() {
    let case = with(
        zero_fluoroscopy_case(),
        json!({"acute_success_override": "partial", "acute_success_override_reason": "recovered early"}),
    );
    let judged = acute_success(&record(&case));
    assert_eq!(judged.derived, Some(AcuteSuccess::Yes));
    assert_eq!(judged.overridden, Some(AcuteSuccess::Partial));
    assert_eq!(judged.used(), Some(AcuteSuccess::Partial));
    let case = with(case, json!({"endpoint_shown": "nr"}));
    let judged = acute_success(&record(&case));
    assert_eq!((judged.derived, judged.used()), (None, Some(AcuteSuccess::Partial)));
}

/// A case with one bruise at the access site that needed nothing, changed, and
/// no follow-up.
fn case_with(event: &Value) -> Value {
    let bruise = json!({
        "ae_code": "haematoma", "event_phase": "recovery", "onset_day": 0, "detect_day": 0,
        "detect_method": "clinical_sign", "symptomatic": "yes", "intervention": ["observe"],
        "los_extra_days": 0, "hct_fall_pct": 0, "permanent_injury": "no", "serious": ["none"],
        "relatedness_proc": "definite", "outcome": "resolved"
    });
    with(
        zero_fluoroscopy_case(),
        json!({
            "no_complication_confirmed": "no", "follow_up": null,
            "complications": [with(bruise, event.clone())]
        }),
    )
}

fn tier(case: &Value) -> HarmTier {
    let record = record(case);
    harm_tier(&record.complications()[0], &record).used().unwrap()
}

fn check_tier(event: Value, expected: HarmTier) {
    assert_eq!(tier(&case_with(&event)), expected, "{event}");
}

#[test]
fn some_kinds_are_major_by_themselves() {
    use ComplicationKind as K;
    let by_kind = [
        K::Death,
        K::Arrest,
        K::Stroke,
        K::Tia,
        K::AtrioOesophagealFistula,
        K::PhrenicPersistent,
        K::CoronaryInjury,
        K::ValveInjury,
        K::PulmonaryEmbolism,
        K::SystemicEmbolism,
    ];
    for kind in ComplicationKind::all() {
        let fluid = matches!(kind, K::Effusion | K::Tamponade);
        let event = json!({
            "ae_code": kind.code(),
            "outcome": if *kind == K::Death { "fatal" } else { "resolved" },
            "haemo_change": if fluid && *kind == K::Tamponade { "yes" } else { "no" },
            "effusion_mm_max": 12, "effusion_baseline": "none"
        });
        let major = by_kind.contains(kind) || *kind == K::Tamponade;
        check_tier(event, if major { HarmTier::Major } else { HarmTier::Minor });
    }
}

/// The definition of a major complication in the 2017 expert consensus on
/// ablation of atrial fibrillation: permanent injury or death, an intervention,
/// or more than 48 hours of extra stay; transfusion or a fall of the haematocrit
/// by 20 % or more for bleeding (partly from memory).
#[test]
fn harm_is_major_at_its_edge_and_minor_beside() {
    let major = |event| check_tier(event, HarmTier::Major);
    let minor = |event| check_tier(event, HarmTier::Minor);
    minor(json!({}));
    minor(json!({"los_extra_days": 2}));
    major(json!({"los_extra_days": 3}));
    minor(json!({"los_extra_days": 3, "stay_for_image_only": "yes"}));
    major(json!({"los_extra_days": 3, "stay_for_image_only": "no"}));
    minor(json!({"los_extra_days": "unk"}));
    minor(json!({"hct_fall_pct": 19}));
    major(json!({"hct_fall_pct": 20}));
    major(json!({"permanent_injury": "yes"}));
    minor(json!({"permanent_injury": "unk"}));
    // The excuse of an image reaches the stay only.
    major(json!({"permanent_injury": "yes", "stay_for_image_only": "yes"}));
    major(json!({"intervention": ["surgery"], "stay_for_image_only": "yes"}));
    major(json!({"outcome": "fatal", "serious": ["death"]}));
    major(json!({"outcome": "nr", "serious": ["death"]}));
    minor(json!({"outcome": "sequelae", "serious": ["life_threat", "hospital"]}));
    for done in Intervention::all() {
        let gentle = ["none", "observe", "reversal", "fluid_pressor", "other"].contains(&done.code());
        let expected = if gentle { HarmTier::Minor } else { HarmTier::Major };
        check_tier(json!({"intervention": [done.code()]}), expected);
    }
    major(json!({"intervention": ["observe", "transfusion"]}));
}

#[test]
fn block_after_ablation_of_the_node_was_meant() {
    let block = json!({"ae_code": "avb_permanent", "detect_method": "ecg", "intervention": ["pacemaker"]});
    assert_eq!(tier(&case_with(&block)), HarmTier::Major);
    let node = with(
        case_with(&block),
        json!({"proc_primary": "avn", "endpoint_shown": ["avb_complete"], "veins_targeted": null, "veins_isolated": null}),
    );
    assert_eq!(tier(&node), HarmTier::Minor);
    // Only that complication is meant: any other in the same procedure counts.
    let mut other = node.clone();
    other["complications"][0]["ae_code"] = json!("lead_dislodged");
    assert_eq!(tier(&other), HarmTier::Major);
    let mut fatal = node;
    fatal["complications"][0]["outcome"] = json!("fatal");
    fatal["complications"][0]["serious"] = json!(["death"]);
    assert_eq!(tier(&fatal), HarmTier::Major);
}

/// The typical effusion, seen on intracardiac echo and left alone, changed.
fn effusion(event: Value) -> Value {
    let mut case = case_with_seen_effusion();
    let changed = with(case["complications"][0].clone(), event);
    case["complications"] = json!([changed]);
    case
}

#[test]
fn what_was_only_seen_is_not_harm() {
    let check = |event: Value, expected| assert_eq!(tier(&effusion(event.clone())), expected, "{event}");
    check(json!({}), HarmTier::ImagingOnly);
    // Up to 50 mL is physiological (BMJ Best Practice, as quoted).
    check(json!({"effusion_ml_est": 50, "effusion_mm_max": 9}), HarmTier::ImagingOnly);
    check(json!({"intervention": ["none"]}), HarmTier::ImagingOnly);
    check(json!({"los_extra_days": 4, "stay_for_image_only": "yes"}), HarmTier::ImagingOnly);
    check(json!({"los_extra_days": 4}), HarmTier::Major);
    check(json!({"symptomatic": "yes"}), HarmTier::Minor);
    check(json!({"symptomatic": "unk"}), HarmTier::Minor);
    check(json!({"intervention": ["reversal"]}), HarmTier::Minor);
    check(json!({"intervention": "nr"}), HarmTier::Minor);
    check(json!({"haemo_change": "yes"}), HarmTier::Major);
    check(json!({"intervention": ["pericardiocentesis"], "drained_ml": 300}), HarmTier::Major);
    check(json!({"intervention": ["surgery"], "drained_ml": 300}), HarmTier::Major);
    let looking = ["ice", "tte", "tee", "ct", "mri", "routine_fu_test"];
    for by in DetectedBy::all().iter().filter(|by| **by != DetectedBy::FluoroSilhouette) {
        let only_seen = looking.contains(&by.code());
        let expected = if only_seen { HarmTier::ImagingOnly } else { HarmTier::Minor };
        check(json!({"detect_method": by.code()}), expected);
    }
    // Looking at the heart border needs the beam.
    let border = with(
        conventional_case(),
        json!({
            "no_complication_confirmed": "no",
            "complications": effusion(json!({"detect_method": "fluoro_silhouette"}))["complications"]
        }),
    );
    assert_eq!(tier(&border), HarmTier::ImagingOnly);
}

#[test]
fn an_override_of_a_tier_keeps_both() {
    let reasoned = json!({"severity_override": "minor", "severity_override_reason": "drained by choice"});
    let mut case = case_with_tamponade();
    let event = with(case["complications"][0].clone(), reasoned);
    case["complications"] = json!([event]);
    let record = record(&case);
    let judged = harm_tier(&record.complications()[0], &record);
    assert_eq!(judged.derived, Some(HarmTier::Major));
    assert_eq!(judged.overridden, Some(HarmTier::Minor));
    assert_eq!(judged.used(), Some(HarmTier::Minor));
    assert_eq!(major_within_30_days(&record), Some(false), "the judgement that counts is used");
}

#[test]
fn the_thirtieth_day_counts_and_the_next_does_not() {
    let major_on = |day: Value| {
        let mut case = case_with(&json!({
            "event_phase": "post_discharge", "onset_day": day, "detect_day": "nr", "intervention": ["surgery"]
        }));
        case["follow_up"] = zero_fluoroscopy_case()["follow_up"].clone();
        case["follow_up"]["fu30_no_events"] = json!("no");
        major_within_30_days(&record(&case))
    };
    assert_eq!(major_on(json!(0)), Some(true));
    assert_eq!(major_on(json!(30)), Some(true));
    assert_eq!(major_on(json!(31)), Some(false));
    // A complication whose day nobody knows is not argued away.
    assert_eq!(major_on(json!("unk")), Some(true));
}

#[test]
fn without_a_contact_nobody_knows_that_nothing_happened() {
    let check = |base: Value, follow_up: Value, expected| {
        let case = with(base, json!({"follow_up": follow_up}));
        assert_eq!(major_within_30_days(&record(&case)), expected, "{follow_up}");
    };
    let seen =
        |status: &str| json!({"fu30_status": status, "fu30_day": 30, "fu30_no_events": "yes", "death": "no"});
    let unseen = |status: &str| json!({"fu30_status": status, "death": "unk"});
    let dead =
        |day: Value| json!({"fu30_status": "dead", "death": "yes", "death_day": day, "death_cause": "unk"});
    let quiet = zero_fluoroscopy_case;
    check(quiet(), Value::Null, None);
    check(quiet(), seen("contacted"), Some(false));
    check(quiet(), seen("chart_only"), Some(false));
    for status in ["lost", "withdrawn", "pending"] {
        check(quiet(), unseen(status), None);
        check(case_with_tamponade(), unseen(status), Some(true));
    }
    check(case_with_tamponade(), Value::Null, Some(true));
    check(case_with_seen_effusion(), seen("contacted"), Some(false));
    check(case_with_seen_effusion(), unseen("lost"), None);
    check(quiet(), dead(json!(30)), Some(true));
    check(quiet(), dead(json!(31)), Some(false));
    check(quiet(), dead(json!("nr")), None);
}

#[test]
fn crossing_over_is_zero_intended_and_the_beam_on() {
    let unplanned = json!({
        "strategy_intended": "zero", "zf_declined_reason": null,
        "fluoro_used": "standby_used", "fluoro_reason": ["phrenic"]
    });
    assert!(crossed_over(&record(&with(conventional_case(), unplanned))));
    assert!(!crossed_over(&record(&conventional_case())));
    for used in ["none", "standby_not_used"] {
        assert!(!crossed_over(&record(&with(zero_fluoroscopy_case(), json!({"fluoro_used": used})))));
    }
}

/// 5 Gy: AAPM Medical Physics Practice Guideline 12.a, as quoted.
#[test]
fn five_gray_is_a_substantial_dose() {
    let dose = |gray: f64| {
        let exposed = json!({"air_kerma": gray, "air_kerma_unit": "Gy", "kap": 500, "kap_unit": "Gy.cm2", "fluoro_time": 200});
        substantial_dose(&record(&with(conventional_case(), exposed)))
    };
    assert!(!dose(4.999));
    assert!(dose(5.0));
    assert!(!substantial_dose(&record(&zero_fluoroscopy_case())));
    assert!(!substantial_dose(&record(&with(conventional_case(), json!({"air_kerma": "nr"})))));
}

#[test]
fn all_that_is_derived_is_told_together() {
    let derived = serde_json::to_value(derive(&record(&case_with_tamponade()))).unwrap();
    assert_eq!(
        derived,
        json!({
            "acute_success": {"derived": "yes", "overridden": null},
            "harm_tiers": [{"derived": "major", "overridden": null}],
            "major_within_30_days": true,
            "crossed_over": false,
            "air_kerma_mgy": 0.0,
            "kap_gy_cm2": 0.0,
            "fluoro_time_s": 0.0,
            "substantial_dose": false
        })
    );
    let derived = derive(&record(&conventional_case()));
    assert_eq!(derived.air_kerma_mgy, Some(25.2));
    assert_eq!(derived.fluoro_time_s, Some(540.0));
    assert!((derived.kap_gy_cm2.unwrap() - 2.268).abs() < 1e-12);
}

#[test]
fn a_field_that_decides_is_a_field_of_the_record() {
    use crate::case::{case_variables, follow_up_variables};
    for pointer in DECIDING {
        let (variables, key) = match pointer.strip_prefix("/follow_up/") {
            Some(key) => (follow_up_variables(), key),
            None => (case_variables(), &pointer[1..]),
        };
        assert!(variables.iter().any(|variable| variable.key == key), "{pointer}");
        assert!(decides(pointer));
    }
    assert!(decides("/complications/0/outcome") && !decides("/bmi") && !decides("/follow_up/fu30_day"));
}

/// Until discharge the record itself says what happened, and no contact is needed.
#[test]
fn harm_before_discharge_needs_no_contact() {
    let check = |case: Value, expected| {
        assert_eq!(major(&record(&case), HarmWindow::BeforeDischarge), expected, "{case}");
    };
    let quiet = with(zero_fluoroscopy_case(), json!({ "follow_up": null }));
    check(quiet.clone(), Some(false));
    check(case_with_tamponade(), Some(true));
    // Announced and not told: nobody knows what it was.
    check(with(quiet, json!({ "no_complication_confirmed": "no" })), None);
    let operated = |phase: &str, day: Value| {
        case_with(&json!({
            "event_phase": phase, "onset_day": day, "detect_day": "nr", "intervention": ["surgery"]
        }))
    };
    check(operated("recovery", json!(2)), Some(true));
    check(operated("post_discharge", json!(2)), Some(false));
    // Where it began is not known, so it counts.
    let mut unknown = operated("recovery", json!(2));
    unknown["complications"][0]["event_phase"] = json!("unk");
    check(unknown, Some(true));
}

#[test]
fn of_a_death_that_the_follow_up_tells_the_place_is_known_on_the_first_day_only() {
    let dead = |day: Value| {
        let follow_up = json!({
            "fu30_status": "dead", "death": "yes", "death_day": day, "death_cause": "unk"
        });
        record(&with(zero_fluoroscopy_case(), json!({ "follow_up": follow_up })))
    };
    let before_discharge = |day| major(&dead(day), HarmWindow::BeforeDischarge);
    assert_eq!(before_discharge(json!(0)), Some(true));
    assert_eq!(before_discharge(json!(1)), None);
    assert_eq!(before_discharge(json!(30)), None);
    assert_eq!(before_discharge(json!("nr")), None);
    assert_eq!(before_discharge(json!(31)), Some(false));
    // Where judges say that the death was no harm of the procedure, it is none.
    let none = |window| major_by(&dead(json!(3)), window, |_, _| true, false);
    assert_eq!(none(HarmWindow::BeforeDischarge), Some(false));
    assert_eq!(none(HarmWindow::Within30Days), Some(false));
}
