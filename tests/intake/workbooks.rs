//! Spreadsheet workbooks: the same rows as text or as a workbook give the same report.

use crate::sheet::{bytes, case, check, code, complication, follow_up, sheet, zero_case};
use quietbeam::intake::{FileKind, Files, WorkbookTrouble, header, workbook_template};
use quietbeam_tests::open_document::{self, rows};
use rust_xlsxwriter::{Format, Workbook};
use serde_json::json;
use std::io::{Cursor, Write};

/// A workbook with one sheet for each table; numbers are numbers, as a person types them.
fn workbook(tables: &[(&str, Vec<u8>)]) -> Vec<u8> {
    let mut workbook = Workbook::new();
    for (name, text) in tables {
        let sheet = workbook.add_worksheet().set_name(*name).unwrap();
        let mut reader =
            csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_slice());
        for (row, record) in (0_u32..).zip(reader.records()) {
            for (column, field) in (0_u16..).zip(record.unwrap().iter()) {
                match field.parse::<f64>() {
                    Ok(number) => sheet.write_number(row, column, number).unwrap(),
                    Err(_) => sheet.write_string(row, column, field).unwrap(),
                };
            }
        }
    }
    workbook.save_to_buffer().unwrap()
}

fn trouble(bytes: &[u8]) -> WorkbookTrouble {
    match Files::of_workbook(bytes) {
        Err(trouble) => trouble,
        Ok(_) => panic!("the workbook was taken"),
    }
}

#[test]
fn a_workbook_says_the_same_as_the_same_tables_as_text() {
    let codes = [code(1), code(2)];
    let cases = sheet(
        FileKind::Cases,
        &[
            zero_case(json!({ "case_code": codes[0], "follow_up": null, "no_complication_confirmed": "no" })),
            case(json!({ "case_code": codes[1], "follow_up": null, "air_kerma": 25.25 })),
            case(json!({ "sex": "q", "follow_up": null })),
        ],
    );
    let events = sheet(FileKind::Complications, &[complication(&codes[0], json!({}))]);
    let seen = sheet(FileKind::FollowUps, &[follow_up(&codes[1], json!({ "fu30_day": 60 }))]);
    let mut files = Files::default();
    files.put(FileKind::Cases, bytes(cases.clone()));
    files.put(FileKind::Complications, bytes(events.clone()));
    files.put(FileKind::FollowUps, bytes(seen.clone()));
    let wanted = check(&files);
    assert!(
        wanted.problems.len() >= 2 && wanted.counts(FileKind::Cases).accepted == 2,
        "{:?}",
        wanted.problems
    );
    let open = [("Cases", rows(&cases)), ("complications ", rows(&events)), ("Follow-ups", rows(&seen))];
    let open = open_document::workbook(&open.each_ref().map(|(name, rows)| (*name, rows.as_str())));
    let of_workbook = workbook(&[
        ("Cases", cases),
        ("complications ", events),
        ("Follow-ups", seen),
        ("notes", Vec::new()),
    ]);
    assert_eq!(check(&Files::of_workbook(&of_workbook).unwrap()), wanted);
    assert_eq!(check(&Files::of_workbook(&open).unwrap()), wanted);
}

#[test]
fn a_problem_names_the_row_that_the_person_sees() {
    let mut workbook = Workbook::new();
    let sheet = workbook.add_worksheet().set_name("cases").unwrap();
    let row = crate::sheet::sheet(FileKind::Cases, &[case(json!({ "sex": "q" }))]);
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(row.as_slice());
    // The header in row 3 and the case in row 7 of the sheet, with nothing between them.
    for (row, record) in [2, 6].into_iter().zip(reader.records()) {
        for (column, field) in (0..).zip(record.unwrap().iter()) {
            sheet.write_string(row, column, field).unwrap();
        }
    }
    let report = check(&Files::of_workbook(&workbook.save_to_buffer().unwrap()).unwrap());
    let problem = crate::sheet::only(&report);
    assert_eq!((problem.at.line, problem.column.as_deref()), (7, Some("sex")), "{problem}");
}

#[test]
fn a_cell_that_became_a_day_is_not_guessed_back() {
    let mut workbook = Workbook::new();
    let sheet = workbook.add_worksheet().set_name("cases").unwrap();
    let row = crate::sheet::sheet(FileKind::Cases, &[case(json!({}))]);
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(row.as_slice());
    let day = Format::new().set_num_format("yyyy-mm-dd");
    let place = header(FileKind::Cases).iter().position(|key| key == "op_experience_band").unwrap();
    for (row, record) in (0..).zip(reader.records()) {
        for (column, field) in (0..).zip(record.unwrap().iter()) {
            if row == 1 && usize::from(column) == place {
                sheet.write_number_with_format(row, column, 45_905.0, &day).unwrap();
            } else {
                sheet.write_string(row, column, field).unwrap();
            }
        }
    }
    let report = check(&Files::of_workbook(&workbook.save_to_buffer().unwrap()).unwrap());
    assert_eq!(
        crate::sheet::only(&report).column.as_deref(),
        Some("op_experience_band"),
        "{:?}",
        report.problems
    );
}

#[test]
fn other_files_and_hostile_ones_get_a_sentence() {
    assert_eq!(trouble(b"\xD0\xCF\x11\xE0\xA1\xB1"), WorkbookTrouble::OldOrLocked);
    assert_eq!(trouble(b"period,sex\n"), WorkbookTrouble::OtherKind);
    assert_eq!(trouble(b"PK\x03\x04rest"), WorkbookTrouble::OtherKind);
    assert_eq!(trouble(&workbook(&[("Sheet1", b"a,b\n1,2\n".to_vec())])), WorkbookTrouble::NoSheet);
    assert_eq!(trouble(&workbook(&[("cases", b"period\n".to_vec())])), WorkbookTrouble::NoSheet);
    let twice = [("follow_ups", b"a\nb\n".to_vec()), ("Follow ups", b"a\nb\n".to_vec())];
    assert_eq!(trouble(&workbook(&twice)), WorkbookTrouble::SheetTwice(FileKind::FollowUps));
    assert_eq!(trouble(&vec![b'P'; 17 << 20]), WorkbookTrouble::TooLarge);
    let wide = workbook(&[("cases", format!("a{}b\nx\n", ",".repeat(2_000)).into_bytes())]);
    assert_eq!(trouble(&wide), WorkbookTrouble::TooWide(FileKind::Cases));
    assert_eq!(trouble(&bomb()), WorkbookTrouble::TooLarge);
    let whole = workbook(&[("cases", b"period\n2025Q1\n".to_vec())]);
    for end in (0..whole.len()).step_by(97) {
        assert!(Files::of_workbook(&whole[..end]).is_err(), "cut at {end}");
    }
}

/// Some kilobytes that unpack to half a gigabyte.
fn bomb() -> Vec<u8> {
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    archive.start_file("xl/workbook.xml", zip::write::SimpleFileOptions::default()).unwrap();
    let spaces = vec![b' '; 1 << 20];
    for _ in 0..512 {
        archive.write_all(&spaces).unwrap();
    }
    let bytes = archive.finish().unwrap().into_inner();
    assert!(bytes.len() < 2 << 20);
    bytes
}

/// A sheet that claims a cell in its last corner would, laid out as a table, hold 17 thousand
/// million cells.
#[test]
fn a_far_corner_costs_nothing() {
    let mut workbook = Workbook::new();
    let sheet = workbook.add_worksheet().set_name("cases").unwrap();
    sheet.write_string(0, 0, "period").unwrap();
    sheet.write_string(1_048_575, 999, "x").unwrap();
    let files = Files::of_workbook(&workbook.save_to_buffer().unwrap()).unwrap();
    assert!(check(&files).refused_whole, "a header without the columns that every row needs");
}

#[test]
fn the_template_is_read_back_and_is_the_same_each_time() {
    let template = workbook_template().unwrap();
    assert!(template == workbook_template().unwrap(), "two templates differ");
    assert_eq!(trouble(&template), WorkbookTrouble::NoSheet, "nothing is filled in yet");
}
