//! Fields that a coordinator gets wrong, each with its sentence.

use crate::sheet::{
    assert_line, case, check_cases, check_three, code, complication, follow_up, only, zero_case,
};
use quietbeam::intake::FileKind;
use quietbeam_schema::finding::Weight;
use serde_json::{Value, json};

/// Checks one conventional case with these changes.
#[track_caller]
fn assert_case(changes: Value, line: &str) {
    assert_line(&check_cases(&[case(changes)]), line);
}

#[test]
fn the_samples_are_taken_as_they_are() {
    let report = check_cases(&[case(json!({})), zero_case(json!({}))]);
    assert!(report.all_accepted() && report.problems.is_empty(), "{:#?}", report.problems);
    assert_eq!(report.counts(FileKind::Cases).accepted, 2);
}

#[test]
fn minutes_in_the_dose_column_are_asked_about() {
    let report = check_cases(&[case(json!({ "air_kerma": 9.0, "kap": 81.0 }))]);
    assert_line(
        &report,
        "to answer: cases row 1 (line 2), air_kerma: Air kerma is given as 9 mGy, which is also the fluoroscopy time in minutes. If minutes were typed as dose, correct it; minutes are never a dose.",
    );
    let counts = report.counts(FileKind::Cases);
    assert_eq!((counts.accepted, counts.with_query, counts.refused), (1, 1, 0));
}

#[test]
fn minutes_as_the_unit_of_a_dose_are_refused() {
    assert_case(
        json!({ "air_kerma_unit": "min" }),
        "refused: cases row 1 (line 2), air_kerma_unit: Air kerma has a unit that this quantity does not take; use one of: mGy, Gy, cGy, uGy.",
    );
}

#[test]
fn gray_typed_as_milligray_is_refused_by_the_field_size() {
    let report = check_cases(&[case(json!({ "air_kerma": 0.0252 }))]);
    let hard: Vec<String> =
        report.problems.iter().filter(|p| p.weight == Weight::Hard).map(ToString::to_string).collect();
    assert_eq!(
        hard,
        [
            "refused: cases row 1 (line 2), kap: Kerma-area product divided by air kerma is a field of 90000.0 cm²; 20 to 250 is usual and outside 3 to 1,500 impossible. One of the two units is wrong: compare both with the console."
        ]
    );
    assert!(report.problems.iter().any(|problem| problem.rule == "dose_rate_unusual"));
}

#[test]
fn a_unit_of_effective_dose_is_refused() {
    assert_case(
        json!({ "air_kerma_unit": "mSv" }),
        "refused: cases row 1 (line 2), air_kerma_unit: Air kerma is given in a unit of effective or equivalent dose; kerma is read from the console in mGy or Gy.",
    );
}

/// "mGy/cm2", "mGy/m2" and "µGy/m2" occur as misprints of the kerma-area unit
/// in published papers (common practice, no source).
#[test]
fn units_per_area_are_refused() {
    for unit in ["mGy/cm2", "mGy/m2", "µGy/m2", "Gy/cm²"] {
        assert_case(
            json!({ "kap_unit": unit }),
            "refused: cases row 1 (line 2), kap_unit: Kerma-area product is given per area; kerma-area product is kerma times area, in a unit such as Gy.cm2.",
        );
    }
}

#[test]
fn a_kerma_area_in_a_far_too_large_unit_is_out_of_range() {
    assert_case(
        json!({ "kap_unit": "cGy.m2" }),
        "refused: cases row 1 (line 2), kap: Kerma-area product is 226.8 cGy·m² = 22680 Gy·cm², outside 0 to 2000 Gy·cm²; check the number and its unit.",
    );
}

#[test]
fn a_full_date_is_refused() {
    for date in ["2025-07-14", "14/07/2025", "14.07.2025", "14 July 2025"] {
        assert_case(
            json!({ "period": date }),
            "refused: cases row 1 (line 2), period: Quarter of the procedure is a full date; give the quarter, or days and minutes from the procedure.",
        );
    }
}

#[test]
fn an_age_as_a_number_is_refused() {
    assert_case(
        json!({ "age_band": 95, "bmi": 27.4 }),
        "refused: cases row 1 (line 2), age_band: Age band is not a code of this list; use one of: 0_1, 2_5, 6_11, 12_17, 18_29, 30_39, 40_49, 50_59, 60_69, 70_79, 80_89, 90_plus.",
    );
}

#[test]
fn a_case_code_like_a_hospital_number_is_refused() {
    let sentence = "Case code looks like a hospital number; use the case code that the registry issued and keep the hospital number at your centre.";
    assert_case(
        json!({ "case_code": "0012345678" }),
        &format!("refused: cases row 1 (line 2), case_code: {sentence}"),
    );
    let report = check_three(&[case(json!({}))], &[complication("4711", json!({}))], &[]);
    assert_line(&report, &format!("refused: complications row 1 (line 2), case_code: {sentence}"));
}

#[test]
fn a_name_in_a_comment_is_refused_and_not_repeated() {
    let report = check_cases(&[case(json!({ "comment": "discussed with Dr. Quill" }))]);
    assert_line(
        &report,
        "refused: cases row 1 (line 2), comment: Comment holds what looks like a person's name; write the role instead, such as \"the operator\".",
    );
    assert!(!serde_json::to_string(&report).unwrap().contains("Quill"));
}

#[test]
fn a_reason_for_a_change_is_screened_too() {
    assert_case(
        json!({ "case_code": code(1), "change_reason": "corrected by Dr. Quill" }),
        "refused: cases row 1 (line 2), change_reason: Reason for the change holds what looks like a person's name; write the role instead, such as \"the operator\".",
    );
}

#[test]
fn planned_fluoroscopy_in_a_zero_fluoroscopy_case_is_refused() {
    let report = check_cases(&[case(json!({ "strategy_intended": "zero", "zf_declined_reason": null }))]);
    assert_line(
        &report,
        "refused: cases row 1 (line 2), fluoro_used: Zero-fluoroscopy was intended, yet X-ray is given as planned. If it was needed after all, choose standby_used; if it was planned, the intended strategy was near_zero or conventional.",
    );
}

#[test]
fn detection_before_onset_is_refused_in_the_row_of_the_complication() {
    let affected = zero_case(json!({ "case_code": code(1), "no_complication_confirmed": "no" }));
    let other = complication(&code(2), json!({}));
    let report = check_three(
        &[zero_case(json!({ "case_code": code(2), "no_complication_confirmed": "no" })), affected],
        &[other, complication(&code(1), json!({})), complication(&code(1), json!({ "onset_min": 63 }))],
        &[],
    );
    assert_line(
        &report,
        "refused: complications row 3 (line 4), detect_min: It was detected at minute 62, before it began at minute 63; correct one of the two.",
    );
    // The case and its other complication cannot be taken without it.
    assert_eq!(report.counts(FileKind::Complications).refused, 2);
    assert_eq!(report.counts(FileKind::Cases).refused, 1);
}

#[test]
fn no_events_when_lost_is_refused_in_the_row_of_the_follow_up() {
    let report = check_three(
        &[zero_case(json!({ "case_code": code(1) }))],
        &[],
        &[follow_up(&code(1), json!({ "fu30_status": "lost", "fu30_day": null }))],
    );
    assert_line(
        &report,
        "refused: follow_ups row 1 (line 2), fu30_no_events: \"No new event\" can be said only where someone was contacted or the chart was read; correct the status, or leave it blank.",
    );
}

#[test]
fn a_blank_is_never_read_as_zero() {
    assert_case(
        json!({ "air_kerma": null, "air_kerma_unit": null }),
        "refused: cases row 1 (line 2), air_kerma: Air kerma is not filled in (because fluoro_used is standby_used or planned_used); give a value, or a missing code: nr, unk, na, wh or nd. A blank is never read as zero.",
    );
}

#[test]
fn every_problem_of_a_row_is_told_at_once() {
    let report = check_cases(&[case(json!({ "sex": "q", "kap_unit": "mGy/m2", "period": "2025" }))]);
    let columns: Vec<_> = report.problems.iter().map(|problem| problem.column.as_deref().unwrap()).collect();
    assert_eq!(columns, ["period", "sex", "kap_unit"]);
    assert_eq!(report.counts(FileKind::Cases).refused, 1);
    assert_eq!(only(&check_cases(&[case(json!({ "period": "2027Q1" }))])).rule, "period_not_in_future");
}
