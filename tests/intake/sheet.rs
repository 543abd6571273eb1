//! Writes the samples as delimited text, and checks it.

use quietbeam::intake::{FileKind, Files, Problem, Report, Source, check_files, header};
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::period::Quarter;
use quietbeam_tests::sample;
use serde_json::{Value, json};

pub(crate) fn today() -> Quarter {
    Quarter::new(2026, 4).unwrap()
}

/// The case code number `n` of the tests.
pub(crate) fn code(n: u8) -> String {
    CaseCode::from_random([n; 16]).to_string()
}

/// A file as text: the full header, and a row for each object.
pub(crate) fn sheet(kind: FileKind, rows: &[Value]) -> Vec<u8> {
    let columns = header(kind);
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(&columns).unwrap();
    for row in rows {
        let known =
            |key: &String| columns.contains(key) || ["complications", "follow_up"].contains(&key.as_str());
        assert!(row.as_object().unwrap().keys().all(known), "a column that the file does not have");
        writer.write_record(columns.iter().map(|column| cell(&row[column]))).unwrap();
    }
    writer.into_inner().unwrap()
}

fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Array(codes) => codes.iter().map(cell).collect::<Vec<_>>().join(";"),
        other => other.to_string(),
    }
}

/// A conventional case with some fields changed.
pub(crate) fn case(changes: Value) -> Value {
    sample::with(sample::conventional_case(), changes)
}

/// A zero-fluoroscopy case with some fields changed.
pub(crate) fn zero_case(changes: Value) -> Value {
    sample::with(sample::zero_fluoroscopy_case(), changes)
}

/// The complication of the sample, of the case with this code.
pub(crate) fn complication(code: &str, changes: Value) -> Value {
    let event = sample::case_with_seen_effusion()["complications"][0].clone();
    sample::with(sample::with(event, json!({ "case_code": code })), changes)
}

/// The follow-up of the sample, of the case with this code.
pub(crate) fn follow_up(code: &str, changes: Value) -> Value {
    let seen = sample::zero_fluoroscopy_case()["follow_up"].clone();
    sample::with(sample::with(seen, json!({ "case_code": code })), changes)
}

pub(crate) fn bytes(text: impl Into<Vec<u8>>) -> Source {
    Source::Bytes(text.into().into())
}

pub(crate) fn cases_file(text: impl Into<Vec<u8>>) -> Files {
    Files { cases: Some(bytes(text)), ..Files::default() }
}

pub(crate) fn check(files: &Files) -> Report {
    check_files(files, today()).unwrap_or_else(|(file, error)| panic!("{file}: {error}"))
}

/// Checks the rows as a cases file.
pub(crate) fn check_cases(rows: &[Value]) -> Report {
    check(&cases_file(sheet(FileKind::Cases, rows)))
}

/// Checks three files made of these rows.
pub(crate) fn check_three(cases: &[Value], complications: &[Value], follow_ups: &[Value]) -> Report {
    let mut files = Files::default();
    for (kind, rows) in [
        (FileKind::Cases, cases),
        (FileKind::Complications, complications),
        (FileKind::FollowUps, follow_ups),
    ] {
        if !rows.is_empty() {
            files.put(kind, bytes(sheet(kind, rows)));
        }
    }
    check(&files)
}

/// The only problem of a report.
pub(crate) fn only(report: &Report) -> &Problem {
    match report.problems.as_slice() {
        [problem] => problem,
        problems => panic!("one problem was expected, found {}: {problems:#?}", problems.len()),
    }
}

/// Asserts that the report is one line, and which.
#[track_caller]
pub(crate) fn assert_line(report: &Report, line: &str) {
    assert_eq!(only(report).to_string(), line);
}
