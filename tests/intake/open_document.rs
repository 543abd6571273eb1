//! OpenDocument workbooks: made by an independent library and saved again by an office suite
//! (`open_document/make.py`), and hostile ones made here.

use crate::sheet::{case, check, only, sheet};
use quietbeam::intake::{FileKind, Files, Source, WorkbookTrouble};
use quietbeam_tests::open_document::{of_content, of_parts, rows, workbook};
use serde_json::json;

fn read(name: &str) -> Files {
    let path = format!("{}/intake/open_document/{name}", env!("CARGO_MANIFEST_DIR"));
    Files::of_workbook(&std::fs::read(&path).unwrap()).unwrap_or_else(|trouble| panic!("{path}: {trouble}"))
}

fn text(files: &Files, kind: FileKind) -> &str {
    match files.of(kind) {
        Some(Source::Bytes(text)) => std::str::from_utf8(text).unwrap(),
        _ => panic!("no sheet of {kind}"),
    }
}

fn trouble(bytes: &[u8]) -> WorkbookTrouble {
    match Files::of_workbook(bytes) {
        Err(trouble) => trouble,
        Ok(files) => {
            panic!("the workbook was taken: {:?}", FileKind::ALL.map(|kind| files.of(kind).is_some()))
        }
    }
}

/// What `make.py` puts into the cells, with the note as `note` shows it.
fn cases(note: &str) -> String {
    let rows = [
        r#""""#.to_owned(),
        r#""""#.to_owned(),
        r#""period","bmi","lead","when","note","left","right""#.to_owned(),
        format!(r#""2025Q3","27.4","true","a date or time of day","{note}","0.125","0.125""#),
        r#""""#.to_owned(),
        r#""""#.to_owned(),
        r#""""#.to_owned(),
        r#""2025Q4","","","a date or time of day","","","-0.0015""#.to_owned(),
        r#""2025Q4","","","a date or time of day","","","-0.0015""#.to_owned(),
    ];
    rows.map(|row| row + "\n").concat()
}

#[test]
fn a_sheet_made_by_another_library_is_read_as_it_is_seen() {
    let files = read("messy.ods");
    let note = r#"two   spans & <a link> ""quoted"" second paragraph"#;
    assert_eq!(text(&files, FileKind::Cases), cases(note));
    assert_eq!(
        text(&files, FileKind::Complications),
        "\"case_code\",\"event\",\"detected_by\"\n\"merged\",\"\",\"after\"\n"
    );
    assert_eq!(text(&files, FileKind::FollowUps), "\"case_code\",\"fu30_day\"\n\"of no type\",\"30\"\n");
}

/// The suite that saved it drops tabs and line breaks within a paragraph.
#[test]
fn a_sheet_saved_by_an_office_suite_says_the_same_in_both_formats() {
    let (open_document, office_open) = (read("saved_again.ods"), read("saved_again.xlsx"));
    let note = r#"two   spans& <a link>""quoted"" second paragraph"#;
    assert_eq!(text(&open_document, FileKind::Cases), cases(note));
    for kind in [FileKind::Cases, FileKind::FollowUps] {
        assert_eq!(text(&open_document, kind), text(&office_open, kind), "{kind}");
    }
}

/// Rows below a header.
fn below_a_header(rest: &str) -> Vec<u8> {
    workbook(&[("cases", &(rows(b"period\n") + rest))])
}

/// A row of one cell, with these attributes of the row and of the cell.
fn row(of_row: &str, of_cell: &str) -> String {
    format!(
        "<table:table-row {of_row}><table:table-cell {of_cell}><text:p>x</text:p></table:table-cell></table:table-row>"
    )
}

#[test]
fn other_documents_get_a_sentence() {
    let letter = std::fs::read(format!("{}/intake/open_document/letter.odt", env!("CARGO_MANIFEST_DIR")));
    assert_eq!(trouble(&letter.unwrap()), WorkbookTrouble::OtherKind);
    assert_eq!(trouble(&workbook(&[("Sheet1", &rows(b"a\nb\n"))])), WorkbookTrouble::NoSheet);
    assert_eq!(trouble(&below_a_header("")), WorkbookTrouble::NoSheet, "nothing but a header");
    let twice = rows(b"a\nb\n");
    assert_eq!(
        trouble(&workbook(&[("follow_ups", &twice), ("Follow ups", &twice)])),
        WorkbookTrouble::SheetTwice(FileKind::FollowUps)
    );
    // A locked part is noise, and the list of parts says how it was locked.
    let manifest = b"<manifest:file-entry><manifest:encryption-data/></manifest:file-entry>";
    let locked = of_parts(&[("content.xml", b"\x01\x02"), ("META-INF/manifest.xml", manifest)]);
    assert_eq!(trouble(&locked), WorkbookTrouble::OldOrLocked);
    assert_eq!(trouble(&of_content("no document")), WorkbookTrouble::OtherKind);
    assert_eq!(trouble(&of_content("<a><b></a>")), WorkbookTrouble::Damaged);
}

#[test]
fn what_no_program_writes_is_damage() {
    let deep = "<table:table-row-group>".repeat(200) + &"</table:table-row-group>".repeat(200);
    let open = "<table:table-row>".to_owned();
    let entity =
        "<table:table-row><table:table-cell><text:p>&whatever;</text:p></table:table-cell></table:table-row>";
    let beyond_64_bits = "99999999999999999999";
    for rest in [
        row("", "table:number-columns-repeated=\"-1\""),
        row("", &format!("table:number-columns-repeated=\"{beyond_64_bits}\"")),
        row(&format!("table:number-rows-repeated=\"{beyond_64_bits}\""), ""),
        row("", "table:number-columns-repeated=\"0\""),
        row("table:number-rows-repeated=\"0\"", ""),
        row("", "office:value-type=\"float\""),
        row("", "office:value-type=\"float\" office:value=\"many\""),
        row("", "a=\"1\" a=\"2\""),
        deep,
        open,
        entity.to_owned(),
    ] {
        assert_eq!(trouble(&below_a_header(&rest)), WorkbookTrouble::Damaged, "{rest:.200}");
    }
    let whole = below_a_header(&row("", ""));
    Files::of_workbook(&whole).unwrap();
    for end in (0..whole.len()).step_by(31) {
        assert!(Files::of_workbook(&whole[..end]).is_err(), "cut at {end}");
    }
}

/// Laid out, each of these would fill many gigabytes.
#[test]
fn a_few_bytes_do_not_claim_memory() {
    let most = u32::MAX;
    let wide = row("", &format!("table:number-columns-repeated=\"{most}\""));
    assert_eq!(trouble(&below_a_header(&wide)), WorkbookTrouble::TooWide(FileKind::Cases));
    let tall = row(&format!("table:number-rows-repeated=\"{most}\""), "");
    assert_eq!(trouble(&below_a_header(&tall)), WorkbookTrouble::Damaged);
    let both = row("table:number-rows-repeated=\"1000000\"", "table:number-columns-repeated=\"1000\"");
    let both = both.replace(">x<", &format!(">{}<", "x".repeat(1_000)));
    assert_eq!(trouble(&below_a_header(&both)), WorkbookTrouble::TooLarge);
    let empty = format!(
        "<table:table-row table:number-rows-repeated=\"{most}\"><table:table-cell/></table:table-row>"
    );
    assert_eq!(trouble(&below_a_header(&(empty.repeat(3) + &row("", "")))), WorkbookTrouble::Damaged);
    let files = Files::of_workbook(&below_a_header(&(row("", "") + &empty.repeat(3)))).unwrap();
    assert_eq!(text(&files, FileKind::Cases), "\"period\"\n\"x\"\n");
}

/// Spaces are written as their number: a cell of some bytes is longer than any field may be, and
/// who reads the table says so.
#[test]
fn spaces_beyond_a_field_are_told_with_their_row() {
    let spaces = "<text:s text:c=\"4000000000\"/>".repeat(1_000);
    let cases = rows(&sheet(FileKind::Cases, &[case(json!({ "sex": "aSPACESb", "follow_up": null }))]));
    let files = Files::of_workbook(&workbook(&[("cases", &cases.replace("SPACES", &spaces))]));
    let report = check(&files.unwrap());
    let problem = only(&report);
    assert_eq!((problem.at.row, problem.rule), (1, "field_too_long"), "{problem:?}");
}
