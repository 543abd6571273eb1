//! What a comparison counts, claims and refuses to claim.

use crate::arms::{Counts, add, cohort, verdict};
use crate::records::{Kind, Story, case, record};
use proptest::prelude::*;
use quietbeam_analysis::methods::counts::{EventCount, Stratum};
use quietbeam_analysis::methods::interval::Confidence;
use quietbeam_analysis::methods::stratified_score::stratified_miettinen_nurminen_interval;
use quietbeam_analysis::study::arm::Arm;
use quietbeam_analysis::study::cohort::{CaseRow, Cohort, Looked};
use quietbeam_analysis::study::comparison::{Comparison, Warning, compare};
use quietbeam_analysis::study::decision::{Decision, Reason};
use quietbeam_analysis::study::estimate::Estimate;
use quietbeam_analysis::study::request::{ComparisonRequest, RequestForm};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{AcuteSuccess, DetectedBy, FluoroUsed, Strategy};
use quietbeam_tests::sample::{
    case_with_seen_effusion, case_with_tamponade, conventional_case, with, zero_fluoroscopy_case,
};
use serde_json::{Value, json};

fn asked(form: RequestForm) -> ComparisonRequest {
    form.try_into().unwrap()
}

fn compared(cohort: &Cohort) -> Comparison {
    compare(cohort, &asked(RequestForm::default()))
}

fn rows_of(cases: &[Value]) -> Vec<CaseRow> {
    let centre: CentreCode = "S01".parse().unwrap();
    cases.iter().map(|case| CaseRow::read(centre, &record(case.clone()))).collect()
}

fn of(cases: &[Value]) -> Comparison {
    compared(&rows_of(cases).into_iter().collect())
}

/// Every key of an object and of what lies in it.
fn keys(value: &Value) -> Vec<&str> {
    match value {
        Value::Array(items) => items.iter().flat_map(keys).collect(),
        Value::Object(fields) => {
            fields.iter().flat_map(|(key, value)| [vec![key.as_str()], keys(value)].concat()).collect()
        }
        _ => Vec::new(),
    }
}

#[test]
fn without_a_plan_there_is_no_verdict_anywhere() {
    let found = compared(&cohort(Kind::Af, counts(3_000, 2_900, 30), counts(3_000, 2_900, 30)));
    let found = serde_json::to_value(found).unwrap();
    for verdict in ["claim", "decision", "populations_agree", "conclusion", "outcome"] {
        let told = keys(&found).into_iter().find(|key| key.contains(verdict));
        assert_eq!(told, None, "{verdict}");
    }
}

fn counts(cases: u32, successes: u32, major: u32) -> Counts {
    Counts { cases, successes, major, crossed_over: 0 }
}

#[test]
fn large_arms_alike_show_both_claims() {
    let comparison = compared(&cohort(Kind::Af, counts(3_000, 2_900, 30), counts(3_000, 2_900, 30)));
    assert_eq!(verdict(&comparison.acute_success).claim, Decision::Shown);
    assert_eq!(verdict(&comparison.major_within_30_days).claim, Decision::Shown);
    assert_eq!(
        verdict(&comparison.acute_success).in_words,
        "Acute success with zero-fluoroscopy is less than 3 points worse than with conventional fluoroscopy."
    );
    assert_eq!(
        verdict(&comparison.major_within_30_days).in_words,
        "Major complications within 30 days with zero-fluoroscopy are less than 1 point more frequent than with conventional fluoroscopy."
    );
}

#[test]
fn a_clear_loss_is_worse_beyond_the_margin() {
    let comparison = compared(&cohort(Kind::Af, counts(1_000, 850, 80), counts(1_000, 960, 10)));
    assert_eq!(verdict(&comparison.acute_success).claim, Decision::WorseBeyondTheMargin);
    assert_eq!(verdict(&comparison.major_within_30_days).claim, Decision::WorseBeyondTheMargin);
    assert!(verdict(&comparison.acute_success).in_words.contains("is more than 3 points worse"));
}

#[test]
fn a_claim_needs_both_populations() {
    // The failures crossed over, so only the cases without cross-over look good.
    let mut hidden = Cohort::default();
    let zero = Counts { cases: 1_000, successes: 900, major: 0, crossed_over: 100 };
    add(&mut hidden, "S01", Kind::Af, true, zero);
    add(&mut hidden, "S02", Kind::Af, false, counts(1_000, 960, 0));
    let comparison = compared(&hidden);
    let success = verdict(&comparison.acute_success);
    assert_eq!(success.as_intended, Decision::WorseBeyondTheMargin);
    assert_eq!(success.per_protocol, Decision::Shown);
    assert_eq!(success.claim, Decision::NotShown);
}

#[test]
fn without_an_arm_nothing_is_concluded() {
    let comparison = of(&[zero_fluoroscopy_case()]);
    let empty = Decision::CannotConclude { reason: Reason::EmptyArm { arm: Arm::Conventional } };
    assert_eq!(verdict(&comparison.acute_success).claim, empty);
    assert!(matches!(comparison.acute_success.as_intended.difference, Estimate::CannotBeEstimated(_)));
    let nothing = compared(&Cohort::default());
    let json = serde_json::to_string(&nothing).unwrap();
    assert!(json.contains(r#""cannot_be_estimated":"the zero-fluoroscopy arm has no cases""#), "{json}");
    assert!(json.contains(r#""proportion":null"#), "{json}");
}

#[test]
fn lost_patients_forbid_a_conclusion_on_harm() {
    let lost = json!({"follow_up": {"fu30_status": "lost", "death": "unk"}});
    let seen = rows_of(&[zero_fluoroscopy_case(), conventional_case()]);
    let unseen = rows_of(&[with(zero_fluoroscopy_case(), lost)]);
    let mix = |lost: usize| -> Cohort {
        let zero = (0..1_000).map(|n| if n < lost { unseen[0].clone() } else { seen[0].clone() });
        zero.chain((0..1_000).map(|_| seen[1].clone())).collect()
    };
    let reason = Reason::KnownTooRarely { arm: Arm::ZeroFluoroscopy, known: 899, of: 1_000, least: 0.9 };
    let comparison = compared(&mix(101));
    assert_eq!(verdict(&comparison.major_within_30_days).claim, Decision::CannotConclude { reason });
    assert_eq!(verdict(&comparison.acute_success).claim, Decision::Shown);
    assert_eq!(comparison.major_within_30_days.as_intended.arms.zero_fluoroscopy.tally.missing, 101);
    assert_eq!(
        verdict(&compared(&mix(100)).major_within_30_days).claim,
        Decision::Shown,
        "nine in ten is enough"
    );
}

#[test]
fn a_case_without_attempt_is_neither_success_nor_failure() {
    let idle = with(
        zero_fluoroscopy_case(),
        json!({"ablation_attempted": "no", "endpoint_shown": null, "abort_reason": "no_induction",
               "energy": ["none"], "contact_force": null}),
    );
    let comparison = of(&[zero_fluoroscopy_case(), idle, conventional_case()]);
    let arm = comparison.acute_success.as_intended.arms.zero_fluoroscopy.tally;
    assert_eq!((arm.cases, arm.known, arm.events, arm.not_attempted), (2, 1, 1, 1));
    let harm = comparison.major_within_30_days.as_intended.arms.zero_fluoroscopy.tally;
    assert_eq!((harm.cases, harm.known), (2, 2), "harm counts in every case");
}

#[test]
fn near_zero_and_diagnostic_cases_stand_aside() {
    let near_zero = with(conventional_case(), json!({"strategy_intended": "near_zero"}));
    let comparison = of(&[zero_fluoroscopy_case(), conventional_case(), near_zero]);
    assert_eq!(comparison.cases.near_zero, 1);
    assert_eq!(comparison.cases.as_intended.conventional, 1);
    assert_eq!(comparison.cases.as_treated.conventional, 1);
    let only_svt =
        asked(RequestForm { procedure_groups: Some(vec!["svt".to_owned()]), ..RequestForm::default() });
    let rows: Cohort = rows_of(&[zero_fluoroscopy_case(), conventional_case()]).into_iter().collect();
    let none = compare(&rows, &only_svt);
    assert_eq!((none.cases.in_cohort, none.cases.other_groups), (2, 2));
    assert_eq!(none.cases.as_intended.zero_fluoroscopy, 0);
}

#[test]
fn cross_over_counts_both_ways() {
    let story =
        Story { kind: Kind::Svt, zero_intended: true, crossed_over: true, success: true, major: false };
    let comparison = of(&[
        case(story),
        case(Story { crossed_over: false, ..story }),
        case(Story { zero_intended: false, ..story }),
    ]);
    assert_eq!((comparison.cross_over.to_x_ray.count, comparison.cross_over.to_x_ray.of), (1, 2));
    assert_eq!((comparison.cross_over.to_no_x_ray.count, comparison.cross_over.to_no_x_ray.of), (1, 1));
    let flow = &comparison.cases;
    assert_eq!((flow.per_protocol.zero_fluoroscopy, flow.per_protocol.conventional), (1, 0));
    assert_eq!((flow.as_treated.zero_fluoroscopy, flow.as_treated.conventional), (2, 1));
}

#[test]
fn looking_finds_fluid_that_harms_nobody() {
    let unlooked = with(
        conventional_case(),
        json!({"ice_used": "no", "eff_surv_baseline": "none", "eff_surv_intra": "none", "eff_surv_end": ["none"],
               "transseptal_guidance": ["fluoro"]}),
    );
    let comparison =
        of(&[case_with_seen_effusion(), case_with_tamponade(), zero_fluoroscopy_case(), unlooked]);
    let effusion = &comparison.effusion;
    assert_eq!((effusion.any.zero_fluoroscopy.count, effusion.any.conventional.count), (2, 0));
    assert_eq!(effusion.drained.zero_fluoroscopy.count, 1);
    assert_eq!(effusion.by_route.len(), 1);
    assert_eq!(effusion.by_route[0].detected_by, Some(DetectedBy::Ice));
    let looked = effusion.by_look.iter().find(|line| line.looked == Looked::NotWithEcho).unwrap();
    assert_eq!((looked.effusions.conventional.count, looked.effusions.conventional.of), (0, 1));
    assert!(effusion.why_it_differs.contains("100 % of zero-fluoroscopy and 0 % of conventional"));
    let major = comparison.major_within_30_days.as_intended.arms.zero_fluoroscopy.tally;
    assert_eq!(major.events, 1, "only the drained one is major");
}

/// 25.2 and 2.5 mGy: quartiles and ratio of single values by hand.
#[test]
fn dose_is_told_among_the_exposed_and_minutes_are_none() {
    let story =
        Story { kind: Kind::Svt, zero_intended: true, crossed_over: true, success: true, major: false };
    let unrecorded = with(conventional_case(), json!({"air_kerma": "nr", "air_kerma_unit": null}));
    let comparison = of(&[case(story), zero_fluoroscopy_case(), conventional_case(), unrecorded]);
    let kerma = &comparison.dose.air_kerma_mgy;
    assert_eq!((kerma.arms.zero_fluoroscopy.exposed, kerma.arms.zero_fluoroscopy.missing), (1, 0));
    assert_eq!((kerma.arms.conventional.exposed, kerma.arms.conventional.missing), (2, 1));
    assert_eq!(kerma.arms.conventional.quartiles.unwrap().median, 25.2);
    assert_eq!(kerma.arms.zero_fluoroscopy.quartiles.unwrap().median, 2.5);
    assert!(matches!(kerma.ratio_of_geometric_means, Estimate::CannotBeEstimated(_)));
    assert_eq!(comparison.dose.no_x_ray.zero_fluoroscopy.count, 1);
    let time = comparison.dose.fluoro_time_s.conventional.quartiles.unwrap();
    assert_eq!(time.median, 540.0, "nine minutes");
}

#[test]
fn one_centre_with_more_than_half_of_an_arm_is_named() {
    let mut cohort = Cohort::default();
    for (centre, zero, conventional) in [("S01", 51, 40), ("S02", 49, 40), ("S03", 0, 20)] {
        add(&mut cohort, centre, Kind::Svt, true, counts(zero, zero, 0));
        add(&mut cohort, centre, Kind::Svt, false, counts(conventional, conventional, 0));
    }
    let comparison = compared(&cohort);
    let centre = "S01".parse().unwrap();
    let expected = Warning::OneCentreDominates { arm: Arm::ZeroFluoroscopy, centre, cases: 51, of: 100 };
    assert_eq!(comparison.warnings, [expected]);
    assert_eq!(comparison.by_centre.len(), 3);
}

#[test]
fn strategies_declared_afterwards_are_named() {
    let late = with(zero_fluoroscopy_case(), json!({"intended_declared": "retrospective"}));
    let comparison = of(&[late, zero_fluoroscopy_case(), conventional_case()]);
    assert!(comparison.warnings.contains(&Warning::DeclaredAfterwards {
        arm: Arm::ZeroFluoroscopy,
        cases: 1,
        of: 2
    }));
}

/// The method itself is checked in the numbers tests; here the strata must be the centres.
#[test]
fn centres_are_the_strata() {
    let strata = [("S04", (18, 20), (33, 40)), ("S09", (45, 50), (28, 30)), ("S11", (9, 9), (7, 11))];
    let mut cohort = Cohort::default();
    for (centre, (x1, n1), (x2, n2)) in strata {
        add(&mut cohort, centre, Kind::Svt, true, counts(n1, x1, 0));
        add(&mut cohort, centre, Kind::Svt, false, counts(n2, x2, 0));
    }
    add(&mut cohort, "S12", Kind::Svt, false, counts(5, 5, 0));
    let count = |(events, total)| EventCount::new(events, total).ok();
    let strata: Vec<Stratum> =
        strata.into_iter().map(|(_, a, b)| Stratum { first: count(a), second: count(b) }).collect();
    let expected = stratified_miettinen_nurminen_interval(&strata, Confidence::NINETY_FIVE).unwrap();
    let comparison = compared(&cohort);
    let difference = comparison.acute_success.as_intended.difference;
    let within = difference.estimated().unwrap().within_centres;
    let within = within.estimated().unwrap();
    assert_eq!(within.interval, expected.interval);
    assert_eq!((within.strata_used, within.strata_left_out), (3, 1));
}

fn any_row() -> impl Strategy_<Value = (u8, u8, u8, u8, u8, u16)> {
    (0..5_u8, 0..3_u8, 0..4_u8, 0..5_u8, 0..3_u8, 1..999_u16)
}

use proptest::strategy::Strategy as Strategy_;

fn row(base: &CaseRow, drawn: (u8, u8, u8, u8, u8, u16)) -> CaseRow {
    let (centre, intended, used, success, major, dose) = drawn;
    let fluoro_used =
        [FluoroUsed::None, FluoroUsed::StandbyNotUsed, FluoroUsed::StandbyUsed, FluoroUsed::PlannedUsed];
    let results = [AcuteSuccess::Yes, AcuteSuccess::Partial, AcuteSuccess::No, AcuteSuccess::NotAttempted];
    let fluoro_used = fluoro_used[usize::from(used)];
    let dose = f64::from(dose) / 7.0;
    CaseRow {
        centre: CentreCode::from_random(centre),
        intended: [Strategy::Zero, Strategy::NearZero, Strategy::Conventional][usize::from(intended)],
        fluoro_used,
        acute_success: results.get(usize::from(success)).copied(),
        major_within_30_days: [Some(true), Some(false), None][usize::from(major)],
        air_kerma_mgy: if fluoro_used.beam_on() { (major > 0).then_some(dose) } else { Some(0.0) },
        ..base.clone()
    }
}

fn no_number_is_lost(value: &Value) {
    match value {
        Value::Array(items) => items.iter().for_each(no_number_is_lost),
        Value::Object(fields) => fields.values().for_each(no_number_is_lost),
        Value::Number(number) => assert!(number.as_f64().unwrap().is_finite()),
        _ => {}
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// No order of cases changes a byte, and no estimate is lost as null.
    #[test]
    fn the_order_of_cases_does_not_matter(drawn in prop::collection::vec(any_row(), 0..120), turn in 0..120_usize) {
        let base = &rows_of(&[zero_fluoroscopy_case()])[0];
        let mut rows: Vec<CaseRow> = drawn.into_iter().map(|drawn| row(base, drawn)).collect();
        let first = serde_json::to_value(compared(&rows.iter().cloned().collect())).unwrap();
        rows.reverse();
        let middle = turn.min(rows.len());
        rows.rotate_left(middle);
        let again = compared(&rows.into_iter().collect());
        prop_assert_eq!(serde_json::to_string(&first).unwrap(), serde_json::to_string(&again).unwrap());
        no_number_is_lost(&first);
        let tally = |claim: &str| first.pointer(&format!("/acute_success/as_intended/arms/zero_fluoroscopy/{claim}")).unwrap().as_u64().unwrap();
        prop_assert_eq!(tally("cases"), tally("known") + tally("missing") + tally("not_attempted"));
    }
}
