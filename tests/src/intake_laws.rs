//! What holds of any bytes at all that come as a file: there is an answer, and it adds up.
//! The random tests of `tests/intake` and the fuzz targets of `tests/fuzz` hold files to it.

use quietbeam::intake::{
    FileKind, Files, IntakeError, Limits, Marked, Mend, Report, Source, Staged, check_files, dose_report,
};
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::endpoint::derive;
use quietbeam_schema::entries::StrictJson;
use quietbeam_schema::finding::Weight;
use quietbeam_schema::period::Quarter;
use std::io::{Cursor, Write};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

/// Delimited text, alone.
pub fn delimited(kind: FileKind, bytes: &[u8]) {
    let source = Source::Bytes(bytes.into());
    let mut files = Files::default();
    files.put(kind, source.clone());
    checked(&files);
    match Staged::of(kind, "a file", &source, Limits::default()) {
        Ok(staged) => kept(staged),
        Err(IntakeError::Refused(refused)) => assert!(!refused.problems.is_empty(), "refused without a word"),
        Err(IntakeError::Unreadable(file, error)) => panic!("{file}: {error}"),
    }
}

/// A workbook, or what says it is one.
pub fn workbook(bytes: &[u8]) {
    let Ok(files) = Files::of_workbook(bytes) else { return };
    checked(&files);
    for kind in FileKind::ALL {
        let Some(Source::Bytes(text)) = files.of(kind) else { continue };
        delimited(kind, text);
    }
}

/// A dose report, or what says it is one.
pub fn dose_report(bytes: &[u8]) {
    let Ok(report) = dose_report::read(bytes) else { return };
    let numbers = report.planes.iter().flat_map(|plane| plane.totals.values());
    assert!(numbers.clone().all(|number| number.is_finite() && *number >= 0.0), "{report:?}");
    let Ok(offer) = report.offer() else { return };
    for field in offer.fields.iter().filter(|field| field.unit.is_some()) {
        let number: f64 = field.value.parse().unwrap();
        assert!(number.is_finite() && number >= 0.0, "{offer:?}");
    }
}

/// A case as JSON: what is taken reads back as the very same, and what is refused is told.
pub fn case_form(bytes: &[u8]) {
    let Ok(json) = serde_json::from_slice::<StrictJson>(bytes) else { return };
    match CaseForm::from_json(json).check(today()) {
        Ok(checked) => {
            derive(&checked.record);
            let kept = checked.record.to_json().to_string();
            let again = CaseForm::from_json(serde_json::from_str(&kept).unwrap()).check(today());
            let again = again.unwrap_or_else(|findings| panic!("{kept} is refused: {findings:?}"));
            assert_eq!(again.record.to_json().to_string(), kept);
            assert_eq!(again.queries.len(), checked.queries.len(), "{kept}");
        }
        Err(findings) => {
            assert!(findings.iter().any(|finding| finding.weight == Weight::Hard), "refused without a word");
            assert!(findings.iter().all(|finding| !finding.sentence.is_empty()), "{findings:?}");
        }
    }
}

fn today() -> Quarter {
    Quarter::new(2026, 4).unwrap()
}

/// The report on files: every row is taken or refused, and what is refused is told.
fn checked(files: &Files) -> Report {
    let report = check_files(files, today()).unwrap_or_else(|(file, error)| panic!("{file}: {error}"));
    for file in &report.files {
        let counts = file.counts;
        assert_eq!(counts.read, counts.accepted + counts.refused, "{report:?}");
        assert!(counts.with_query <= counts.accepted, "{report:?}");
    }
    let hard = report.problems.iter().any(|problem| problem.weight == Weight::Hard);
    assert_eq!(report.all_accepted(), !hard, "{report:?}");
    assert!(report.problems.iter().all(|problem| !problem.sentence.is_empty()), "{report:?}");
    report
}

/// A file as it is kept: every row that was not blank, under the number it had, also once a
/// cell was mended.
fn kept(mut staged: Staged) {
    let lines = lines_of(&staged);
    let filled = lines.iter().filter(|filled| **filled).count() as u64;
    // A row of nothing but what no field takes is blank once it is kept.
    assert!(filled <= staged.layout.rows && staged.layout.rows <= lines.len() as u64, "{staged:?}");
    read_again(&staged, filled);
    let (columns, question) = staged.understood().unwrap();
    assert_eq!(columns.len(), staged.layout.columns.len() + staged.layout.without_field.len());
    assert!(!staged.marked(&Marked::new()).unwrap().is_empty());
    if let Some(question) = question {
        staged.give_unit(&question.key, &question.units[0].ucum).unwrap();
        assert_eq!(
            staged.understood().unwrap().1.filter(|again| again.key == question.key),
            None,
            "{staged:?}"
        );
    }
    let Some(key) = staged.layout.columns.first().map(|column| column.key.clone()) else { return };
    staged.mend(&[Mend { rows: vec![1], key, text: "2025Q1".to_owned() }]).unwrap();
    let mended = lines_of(&staged);
    assert_eq!(mended.len(), lines.len(), "{staged:?}");
    read_again(&staged, mended.iter().filter(|filled| **filled).count() as u64);
}

fn read_again(staged: &Staged, rows: u64) {
    let report = checked(&Staged::files(std::slice::from_ref(staged)));
    let read = report.counts(staged.layout.kind).read;
    assert!(report.refused_whole || read == rows, "{read} of {rows} rows: {staged:?}");
}

/// The lines of a kept file, and whether anything stands in each.
fn lines_of(staged: &Staged) -> Vec<bool> {
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(staged.text.as_bytes());
    reader.records().map(|record| record.unwrap().iter().any(|field| !field.trim().is_empty())).collect()
}

/// A workbook with some of its parts changed; unpacked and packed again, so that the changes
/// reach the reader and not the checksum.
pub fn with_parts(workbook: &[u8], change: impl Fn(&str, Vec<u8>) -> Vec<u8>) -> Vec<u8> {
    let mut archive = ZipArchive::new(Cursor::new(workbook)).unwrap();
    let mut out = ZipWriter::new(Cursor::new(Vec::new()));
    let stored = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    for place in 0..archive.len() {
        let mut part = archive.by_index(place).unwrap();
        let name = part.name().unwrap().into_owned();
        let mut bytes = Vec::new();
        std::io::copy(&mut part, &mut bytes).unwrap();
        out.start_file(name.as_str(), stored).unwrap();
        out.write_all(&change(&name, bytes)).unwrap();
    }
    out.finish().unwrap().into_inner()
}
