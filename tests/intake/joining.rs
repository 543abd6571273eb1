//! Three files that belong together.

use crate::sheet::{
    assert_line, bytes, case, check, check_three, code, complication, follow_up, sheet, zero_case,
};
use quietbeam::intake::{CaseRow, CaseRows, FileKind, Files, Parts, Tally};
use serde_json::{Value, json};

fn affected(n: u8) -> Value {
    zero_case(json!({ "case_code": code(n), "no_complication_confirmed": "no" }))
}

#[test]
fn complications_and_follow_up_join_their_case() {
    let mut files = Files::default();
    files.put(
        FileKind::Cases,
        bytes(sheet(FileKind::Cases, &[affected(2), zero_case(json!({})), affected(1)])),
    );
    let events = [
        complication(&code(1), json!({ "effusion_mm_max": 5 })),
        complication(&code(2), json!({ "effusion_mm_max": 7 })),
        complication(&code(1), json!({ "effusion_mm_max": 9 })),
        complication(&code(3), json!({})),
    ];
    files.put(FileKind::Complications, bytes(sheet(FileKind::Complications, &events)));
    files.put(FileKind::FollowUps, bytes(sheet(FileKind::FollowUps, &[follow_up(&code(1), json!({}))])));

    let parts = Parts::read(&files, &mut Tally::default()).unwrap();
    let mut rows = CaseRows::open(&files, &parts).unwrap();
    let mut joined = Vec::new();
    while let Some(row) = rows.next_row().unwrap() {
        let CaseRow::Whole(row) = row else { panic!("no row is refused") };
        let depths: Vec<String> = row
            .form
            .complications
            .iter()
            .map(|event| event.given("effusion_mm_max").unwrap().to_owned())
            .collect();
        joined.push((row.code.map(|code| code.to_string()), depths, row.form.follow_up.is_some()));
    }
    assert_eq!(
        joined,
        [
            (Some(code(2)), vec!["7".to_owned()], false),
            (None, vec![], false),
            (Some(code(1)), vec!["5".to_owned(), "9".to_owned()], true),
        ]
    );
    let left: Vec<String> = rows.leftovers().map(|leftover| leftover.code.to_string()).collect();
    assert_eq!(left, [code(3)]);
}

#[test]
fn a_complication_without_a_case_is_refused() {
    let report = check_three(&[case(json!({}))], &[complication(&code(1), json!({}))], &[]);
    assert_line(
        &report,
        "refused: complications row 1 (line 2), case_code: A complication without a case: no case with this code is in the cases file; correct the code, or send the case too.",
    );
    let report = check_three(&[case(json!({}))], &[], &[follow_up(&code(1), json!({}))]);
    assert_line(
        &report,
        "refused: follow_ups row 1 (line 2), case_code: A follow-up without a case: no case with this code is in the cases file; correct the code, or send the case too.",
    );
}

#[test]
fn a_complication_that_names_no_case_is_refused() {
    assert_line(
        &check_three(&[case(json!({}))], &[complication("", json!({}))], &[]),
        "refused: complications row 1 (line 2), case_code: Case code is not filled in; name the case to which the row belongs.",
    );
}

#[test]
fn a_code_that_stands_twice_refuses_both_rows() {
    let twice = |sex: &str| zero_case(json!({ "case_code": code(1), "sex": sex }));
    let report =
        check_three(&[twice("f"), zero_case(json!({})), twice("m")], &[], &[follow_up(&code(1), json!({}))]);
    let lines: Vec<String> = report.problems.iter().map(ToString::to_string).collect();
    assert_eq!(
        lines,
        [
            "refused: cases row 1 (line 2), case_code: The case code also stands in row 3 (line 4); keep one of the two rows.",
            "refused: cases row 3 (line 4), case_code: The case code also stands in row 1 (line 2); keep one of the two rows.",
        ]
    );
    let counts = report.counts(FileKind::Cases);
    assert_eq!((counts.read, counts.accepted, counts.refused), (3, 1, 2));
    assert_eq!(report.counts(FileKind::FollowUps).refused, 1);
}

#[test]
fn a_second_follow_up_refuses_the_case() {
    let report = check_three(
        &[zero_case(json!({ "case_code": code(1) })), zero_case(json!({ "case_code": code(2) }))],
        &[],
        &[follow_up(&code(1), json!({})), follow_up(&code(2), json!({})), follow_up(&code(1), json!({}))],
    );
    let lines: Vec<String> = report.problems.iter().map(ToString::to_string).collect();
    assert_eq!(
        lines,
        [
            "refused: cases row 1 (line 2): The follow-up of this case, row 3 (line 4), cannot be taken, and a case is never stored without what belongs to it; mend that row first.",
            "refused: follow_ups row 3 (line 4), case_code: The same case already has a follow-up in row 1 (line 2); keep one of the two rows.",
        ]
    );
    assert_eq!(report.counts(FileKind::Cases).accepted, 1);
}

#[test]
fn a_case_is_not_taken_without_its_ragged_complication() {
    let mut events = sheet(FileKind::Complications, &[]);
    events.extend_from_slice(format!("{},tamponade\n", code(1)).as_bytes());
    let mut files = Files::default();
    files.put(FileKind::Cases, bytes(sheet(FileKind::Cases, &[zero_case(json!({ "case_code": code(1) }))])));
    files.put(FileKind::Complications, bytes(events));
    let report = check(&files);
    let rules: Vec<_> = report.problems.iter().map(|problem| (problem.file, problem.rule)).collect();
    assert_eq!(rules, [(FileKind::Cases, "part_refused"), (FileKind::Complications, "row_shape")]);
    assert_eq!(report.counts(FileKind::Cases).accepted, 0);
}

#[test]
fn complications_alone_are_looked_at_by_themselves() {
    let report = check_three(
        &[],
        &[complication(&code(1), json!({})), complication(&code(1), json!({ "ae_code": "fluid" }))],
        &[],
    );
    assert!(report.without_cases);
    let [problem] = report.problems.as_slice() else { panic!("{:#?}", report.problems) };
    assert_eq!(
        (problem.file, problem.at.row, problem.column.as_deref()),
        (FileKind::Complications, 2, Some("ae_code"))
    );
    let counts = report.counts(FileKind::Complications);
    assert_eq!((counts.read, counts.accepted, counts.refused), (2, 1, 1));
}

#[test]
fn too_many_complications_are_told_at_the_case() {
    let events: Vec<Value> = (0..21).map(|_| complication(&code(1), json!({}))).collect();
    let report = check_three(&[affected(1)], &events, &[]);
    assert_line(&report, "refused: cases row 1 (line 2): 21 complications are listed; 20 at the most.");
}
