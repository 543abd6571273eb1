//! Bytes that cannot be text, and text of hostile size.

use crate::sheet::{assert_line, bytes, case, cases_file, check, only, sheet, today};
use quietbeam::intake::{FileKind, Files, IntakeError, Limits, Parts, Source, Tally, check_files};
use serde_json::json;
use std::io::Write;

/// A good cases file of three rows with `bytes` in place of the sex of the second.
fn with_cell(cell: &[u8]) -> Vec<u8> {
    let rows = [case(json!({})), case(json!({ "sex": "MARK" })), case(json!({}))];
    let text = sheet(FileKind::Cases, &rows);
    let mark = text.windows(4).position(|window| window == b"MARK").unwrap();
    [&text[..mark], cell, &text[mark + 4..]].concat()
}

#[test]
fn invalid_utf_8_names_its_row() {
    assert_line(
        &check(&cases_file(with_cell(b"caf\xC3\xA9 caf\xE9"))),
        "refused: cases row 2 (line 3): The text is not valid UTF-8 here; the file mixes encodings or is damaged, so save it again in UTF-8, which any spreadsheet offers.",
    );
}

#[test]
fn a_nul_byte_names_its_row() {
    assert_line(
        &check(&cases_file(with_cell(b"f\0"))),
        "refused: cases row 2 (line 3): The file holds a NUL byte here, so it is damaged or no text; export it again.",
    );
}

#[test]
fn a_field_of_ten_megabytes_names_its_row() {
    let sentence = "A field is longer than 65536 bytes, which no field of the dictionary takes; look for a quotation mark that is never closed.";
    for huge in [vec![b'x'; 10_000_000], [b"\"".as_slice(), &vec![b'\n'; 10_000_000], b"\""].concat()] {
        let report = check(&cases_file(with_cell(&huge)));
        assert_eq!(only(&report).sentence, sentence);
        assert_eq!(only(&report).at.row, 2);
    }
}

#[test]
fn a_field_at_the_bound_is_no_longer_than_the_bound() {
    let report = check(&cases_file(with_cell(&vec![b'x'; 64 * 1024 - 1])));
    assert!(!report.refused_whole);
    assert_eq!(only(&report).rule, "value");
}

#[test]
fn a_row_of_nothing_but_commas_without_end_is_bounded() {
    let report = check(&cases_file(with_cell(&vec![b','; 1_000_000])));
    assert_eq!(
        only(&report).sentence,
        "A row is longer than 262144 bytes; look for a quotation mark that is never closed."
    );
}

#[test]
fn a_quotation_mark_that_is_never_closed_is_told() {
    assert_line(
        &check(&cases_file(with_cell(b"\"f"))),
        "refused: cases row 2 (line 3): A quotation mark is opened in this row and never closed; close it, or take it out.",
    );
}

#[test]
fn a_quotation_mark_within_a_plain_field_opens_nothing() {
    let report = check(&cases_file(with_cell(b"f\"")));
    assert!(!report.refused_whole);
    assert_eq!((only(&report).at.row, only(&report).column.as_deref()), (2, Some("sex")));
}

#[test]
fn a_file_beyond_the_limit_is_refused() {
    let mut files = cases_file(sheet(FileKind::Cases, &[case(json!({})), case(json!({}))]));
    files.limits = Limits { file: 2_000, ..Limits::default() };
    let report = check(&files);
    assert_eq!(
        only(&report).sentence,
        "The file is longer than 2000 bytes, the most this registry takes at once; send it in parts."
    );
}

#[test]
fn a_file_on_disk_reads_like_one_in_memory() {
    let text = sheet(FileKind::Cases, &[case(json!({})), case(json!({ "sex": "q" }))]);
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(&text).unwrap();
    let on_disk = Files { cases: Some(Source::Path(file.path().to_owned())), ..Files::default() };
    assert_eq!(check_files(&on_disk, today()).unwrap(), check(&cases_file(text)));
}

#[test]
fn the_report_of_a_hopeless_file_stays_small() {
    let row = "x\n".repeat(20_000);
    let mut text = sheet(FileKind::Complications, &[]);
    text.extend_from_slice(row.as_bytes());
    let files = Files { complications: Some(bytes(text)), ..Files::default() };
    let report = check(&files);
    assert_eq!((report.problems.len(), report.problems_left_out), (10_000, 10_000));
    assert_eq!(report.counts(FileKind::Complications).refused, 20_000);
}

#[test]
fn parts_are_refused_whole_too() {
    let files = Files { follow_ups: Some(bytes("a;b\n")), ..Files::default() };
    let outcome = Parts::read(&files, &mut Tally::default());
    assert!(matches!(outcome, Err(IntakeError::Refused(_))));
}
