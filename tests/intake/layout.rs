//! Files that are no table of the dictionary's columns.

use crate::sheet::{
    assert_line, bytes, case, cases_file, check, check_cases, code, complication, only, sheet, today,
};
use quietbeam::intake::{FileKind, Files, check_files, header};
use quietbeam_schema::case::case_variables;
use quietbeam_schema::dictionary::column;
use serde_json::json;

fn header_line(kind: FileKind) -> String {
    header(kind).join(",")
}

#[track_caller]
fn assert_refused(text: impl Into<Vec<u8>>, line: &str) {
    let report = check(&cases_file(text));
    assert_line(&report, line);
    assert!(report.refused_whole && !report.all_accepted());
}

#[test]
fn an_empty_file_is_refused() {
    let line = "refused: cases header: The file is empty; send a header and at least one row, or leave the file out.";
    assert_refused("", line);
    assert_refused("\r\n\r\n", line);
    assert_refused("\u{feff}", line);
}

#[test]
fn a_header_alone_is_refused() {
    let line = "refused: cases header: The file has a header and no rows; add the rows, or leave the file out if there are none.";
    let header = header_line(FileKind::Cases);
    assert_refused(header.clone(), line);
    let blank_row = ",".repeat(header.matches(',').count());
    assert_refused(format!("{header}\n{blank_row}\n"), line);
    // A centre without complications sends the empty table with its cases.
    let mut files = cases_file(sheet(FileKind::Cases, &[case(json!({}))]));
    files.put(FileKind::Complications, bytes(header_line(FileKind::Complications)));
    files.put(FileKind::FollowUps, bytes(header_line(FileKind::FollowUps) + "\r\n"));
    let report = check(&files);
    assert!(report.all_accepted(), "{:?}", report.problems);
    assert_eq!(report.counts(FileKind::Complications).read, 0);
}

#[test]
fn another_delimiter_is_named() {
    assert_refused(
        format!("{}\n", header(FileKind::Cases).join("|")),
        "refused: cases header: The columns are separated by vertical bars; save the file with commas, semicolons or tabs between the columns.",
    );
}

#[test]
fn an_unknown_column_is_refused_and_not_ignored() {
    assert_refused(
        format!("{},shoe_size\n", header_line(FileKind::Cases)),
        "refused: cases header, shoe_size: \"shoe_size\" is not a field of this record; remove it, or use the key that the dictionary gives.",
    );
    // A column of another file is unknown here.
    assert_refused(
        format!("{},ae_code\n", header_line(FileKind::Cases)),
        "refused: cases header, ae_code: \"ae_code\" is not a field of this record; remove it, or use the key that the dictionary gives.",
    );
}

#[test]
fn a_column_for_identifiers_is_refused_with_its_own_sentence() {
    assert_refused(
        format!("Hospital_Number,{}\n", header_line(FileKind::Cases)),
        "refused: cases header, Hospital_Number: \"Hospital_Number\" could identify a person and is never taken; remove it before you send the record.",
    );
}

#[test]
fn a_column_that_stands_twice_is_refused() {
    assert_refused(
        format!("{},age_band\n", header_line(FileKind::Cases)),
        "refused: cases header, age_band: The column age_band stands twice in the header; keep one of the two.",
    );
}

#[test]
fn a_column_without_name_is_refused_unless_it_stands_empty_at_the_right() {
    let columns = header(FileKind::Cases).len();
    assert_refused(
        format!(",{}\n", header_line(FileKind::Cases)),
        "refused: cases header: Column 1 of the header has no name; name it, or delete the column.",
    );
    let text = String::from_utf8(sheet(FileKind::Cases, &[case(json!({}))])).unwrap();
    let wider: String = text.lines().map(|line| format!("{line},,,\n")).collect();
    let report = check(&cases_file(wider.clone()));
    assert!(report.all_accepted(), "{:?}", report.problems);
    assert_eq!(report.counts(FileKind::Cases).accepted, 1);
    let report = check(&cases_file(wider.trim_end().to_owned() + "x\n"));
    assert!(only(&report).sentence.contains(&format!("the header has {columns}")), "{:?}", report.problems);
}

/// The same two cases, as spreadsheets of several countries and years write them.
#[test]
fn however_a_spreadsheet_writes_it_the_cases_are_the_same() {
    let rows = [case(json!({ "air_kerma": 25.2, "bmi": 27.4 })), case(json!({ "sex": "m" }))];
    let text = String::from_utf8(sheet(FileKind::Cases, &rows)).unwrap();
    let wanted = check(&cases_file(text.clone()));
    assert!(wanted.all_accepted(), "{:?}", wanted.problems);
    let again = |delimiter: u8, change: fn(&str) -> String| {
        let mut writer = csv::WriterBuilder::new().delimiter(delimiter).from_writer(Vec::new());
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
        for record in reader.records() {
            writer.write_record(record.unwrap().iter().map(change)).unwrap();
        }
        writer.into_inner().unwrap()
    };
    let comma = |field: &str| match field.parse::<f64>() {
        Ok(_) => field.replace('.', ","),
        Err(_) => field.to_owned(),
    };
    let micro = |field: &str| field.replace("uGy.m2", "µGy·m²");
    let one_byte: Vec<u8> = String::from_utf8(again(b';', micro))
        .unwrap()
        .chars()
        .map(|c| u8::try_from(u32::from(c)).unwrap())
        .collect();
    assert!(std::str::from_utf8(&one_byte).is_err(), "the file is not in one byte a letter");
    for (what, bytes) in [
        ("semicolons", again(b';', str::to_owned)),
        ("semicolons and decimal commas", again(b';', comma)),
        ("tabs and decimal commas", again(b'\t', comma)),
        ("commas and quoted decimal commas", again(b',', comma)),
        ("UTF-8 units", again(b',', micro)),
        ("one byte a letter", one_byte),
    ] {
        let report = check(&cases_file(bytes));
        assert_eq!(report, wanted, "{what}");
    }
}

#[test]
fn labels_are_taken_beside_keys_and_codes() {
    let text = String::from_utf8(sheet(FileKind::Cases, &[case(json!({}))])).unwrap();
    let wanted = check(&cases_file(text.clone()));
    let known = case_variables();
    let words = |key: &str, value: &str| -> (String, String) {
        let Some((variable, unit)) = column(&known, key) else { return (key.to_owned(), value.to_owned()) };
        let label = |code: &str| {
            let code = code.trim();
            let found = variable.codes().and_then(|list| list.codes.iter().find(|of| of.code == code));
            found.map_or(code.to_owned(), |of| of.label.to_owned())
        };
        let values =
            if unit { value.to_owned() } else { value.split(';').map(label).collect::<Vec<_>>().join("; ") };
        (format!("{}{}", variable.label, if unit { ", unit" } else { "" }), values)
    };
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let columns = reader.headers().unwrap().clone();
    let row = reader.records().next().unwrap().unwrap();
    let (labels, values): (Vec<String>, Vec<String>) =
        columns.iter().zip(&row).map(|(key, value)| words(key, value)).unzip();
    assert!(values.iter().any(|value| value.contains(' ')), "no label was put in");
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(&labels).unwrap();
    writer.write_record(&values).unwrap();
    let report = check(&cases_file(writer.into_inner().unwrap()));
    assert_eq!(report, wanted);
}

#[test]
fn the_case_code_is_needed_where_rows_belong_to_cases() {
    for (kind, text) in [(FileKind::Complications, "complications"), (FileKind::FollowUps, "follow_ups")] {
        let mut files = Files::default();
        files.put(kind, bytes(header(kind)[1..].join(",") + "\n"));
        let sentence = "The header lacks case_code, without which no row can be taken; add what is missing.";
        assert_line(&check(&files), &format!("refused: {text} header: {sentence}"));
    }
}

#[test]
fn a_column_that_every_row_needs_is_missed_once() {
    let without: Vec<String> = header(FileKind::Cases)
        .into_iter()
        .filter(|key| !["period", "age_band"].contains(&key.as_str()))
        .collect();
    assert_refused(
        without.join(",") + "\n",
        "refused: cases header: The header lacks period, age_band, without which no row can be taken; add what is missing.",
    );
}

#[test]
fn everything_wrong_with_a_header_is_told_at_once() {
    let report = check(&cases_file(format!("{},shoe_size,surname,sex\n", header_line(FileKind::Cases))));
    let rules: Vec<&str> = report.problems.iter().map(|problem| problem.rule).collect();
    assert_eq!(rules, ["unknown_field", "identifier_field", "duplicate_column"]);
}

#[test]
fn optional_columns_may_be_left_out_and_letters_be_large() {
    let row = case(json!({ "follow_up": null }));
    let all = String::from_utf8(sheet(FileKind::Cases, &[row])).unwrap();
    let mut reader = csv::Reader::from_reader(all.as_bytes());
    let columns = reader.headers().unwrap().clone();
    let cells = reader.records().next().unwrap().unwrap();
    let filled: Vec<(&str, &str)> = columns.iter().zip(&cells).filter(|(_, cell)| !cell.is_empty()).collect();
    let names: Vec<String> = filled.iter().map(|(name, _)| name.to_uppercase()).collect();
    let values: Vec<&str> = filled.iter().map(|(_, value)| *value).collect();
    let report = check(&cases_file(format!("{}\n{}\n", names.join(" , "), values.join(","))));
    assert!(report.all_accepted(), "{:?}", report.problems);
    assert_eq!(report.counts(FileKind::Cases).accepted, 1);
}

#[test]
fn a_byte_order_mark_and_either_line_end_are_taken() {
    let text =
        String::from_utf8(sheet(FileKind::Cases, &[case(json!({})), case(json!({ "sex": "m" }))])).unwrap();
    for text in [
        text.clone(),
        format!("\u{feff}{text}"),
        text.replace('\n', "\r\n"),
        format!("\u{feff}{}", text.replace('\n', "\r\n")),
    ] {
        let report = check(&cases_file(text));
        assert!(report.all_accepted(), "{:?}", report.problems);
        assert_eq!(report.counts(FileKind::Cases).read, 2);
    }
}

#[test]
fn a_line_break_within_quotation_marks_does_not_end_the_row() {
    let broken = case(json!({ "proc_additional": "cti_afl;\nfocal_at" }));
    let report = check_cases(&[broken, case(json!({ "sex": "q" }))]);
    let problem = only(&report);
    assert_eq!((problem.at.row, problem.at.line), (2, 4), "{problem}");
    assert_eq!(report.counts(FileKind::Cases).accepted, 1);
}

#[test]
fn a_ragged_row_is_refused_alone() {
    let text = String::from_utf8(sheet(FileKind::Cases, &[case(json!({}))])).unwrap();
    let width = header(FileKind::Cases).len();
    let row = text.lines().nth(1).unwrap();
    let report = check(&cases_file(format!("{text}{row},x\n2025Q3,zero\n{row}\n")));
    let lines: Vec<String> = report.problems.iter().map(ToString::to_string).collect();
    let mend = "a text with the separator in it needs quotation marks around it.";
    assert_eq!(
        lines,
        [
            format!(
                "refused: cases row 2 (line 3): The row has {} fields where the header has {width}; {mend}",
                width + 1
            ),
            format!(
                "refused: cases row 3 (line 4): The row has 2 fields where the header has {width}; {mend}"
            ),
        ]
    );
    let counts = report.counts(FileKind::Cases);
    assert_eq!((counts.read, counts.accepted, counts.refused), (4, 2, 2));
    assert!(!report.refused_whole);
}

#[test]
fn rows_of_nothing_but_commas_are_passed_over() {
    let text = String::from_utf8(sheet(FileKind::Cases, &[case(json!({}))])).unwrap();
    let commas = ",".repeat(header(FileKind::Cases).len() - 1);
    let report = check(&cases_file(format!("{text}{commas}\n\n{commas}\n")));
    assert!(report.all_accepted());
    assert_eq!(report.counts(FileKind::Cases).read, 1);
}

#[test]
fn a_workbook_and_utf_16_are_told_from_text() {
    assert_refused(
        b"PK\x03\x04rest".to_vec(),
        "refused: cases header: The file is a spreadsheet workbook; save the sheet as comma-separated text (CSV, UTF-8) and send that.",
    );
    let utf_16: Vec<u8> = "\u{feff}period".encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert_refused(
        utf_16,
        "refused: cases header: The file is written in UTF-16; save it as comma-separated text in UTF-8.",
    );
}

#[test]
fn a_file_that_cannot_be_opened_is_no_finding() {
    let mut files = cases_file(sheet(FileKind::Cases, &[case(json!({}))]));
    files.put(FileKind::Complications, quietbeam::intake::Source::Path("/nowhere/complications.csv".into()));
    let (kind, error) = check_files(&files, today()).unwrap_err();
    assert_eq!((kind, error.kind()), (FileKind::Complications, std::io::ErrorKind::NotFound));
}

#[test]
fn nothing_is_taken_beside_a_file_refused_whole() {
    let mut files = cases_file("period|sex\n");
    files.put(
        FileKind::Complications,
        bytes(sheet(FileKind::Complications, &[complication(&code(1), json!({}))])),
    );
    let report = check(&files);
    assert_eq!(only(&report).rule, "wrong_delimiter");
    assert_eq!(report.counts(FileKind::Complications).accepted, 0);
}
