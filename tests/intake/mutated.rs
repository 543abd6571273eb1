//! Tables that were right and had a few bytes changed, as a bad disk, a bad program or a bad
//! person changes them.

use crate::sheet::{case, code, complication, follow_up, sheet, zero_case};
use proptest::prelude::*;
use quietbeam::intake::{FileKind, Files, WorkbookTrouble, workbook_template};
use quietbeam_tests::{intake_laws, open_document};
use rust_xlsxwriter::Workbook;
use serde_json::json;
use std::sync::LazyLock;

fn table(kind: FileKind) -> Vec<u8> {
    let rows = match kind {
        FileKind::Cases => vec![
            zero_case(json!({ "case_code": code(1), "follow_up": null, "no_complication_confirmed": "no" })),
            case(json!({ "case_code": code(2), "air_kerma": 25.25, "follow_up": null })),
            case(json!({ "follow_up": null })),
        ],
        FileKind::Complications => vec![complication(&code(1), json!({}))],
        FileKind::FollowUps => vec![follow_up(&code(2), json!({})), follow_up(&code(1), json!({}))],
    };
    sheet(kind, &rows)
}

static TABLES: LazyLock<[(FileKind, Vec<u8>); 3]> =
    LazyLock::new(|| FileKind::ALL.map(|kind| (kind, table(kind))));

static WORKBOOKS: LazyLock<[Vec<u8>; 3]> = LazyLock::new(|| {
    let mut workbook = Workbook::new();
    for (kind, text) in TABLES.iter() {
        let sheet = workbook.add_worksheet().set_name(kind.to_string()).unwrap();
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_slice());
        for (row, record) in (0..).zip(reader.records()) {
            for (column, field) in (0..).zip(record.unwrap().iter()) {
                match field.parse::<f64>() {
                    Ok(number) => sheet.write_number(row, column, number).unwrap(),
                    Err(_) => sheet.write_string(row, column, field).unwrap(),
                };
            }
        }
    }
    let sheets = TABLES.each_ref().map(|(kind, text)| (kind.to_string(), open_document::rows(text)));
    let sheets = sheets.each_ref().map(|(name, rows)| (name.as_str(), rows.as_str()));
    let other = open_document::workbook(&sheets);
    [workbook.save_to_buffer().unwrap(), workbook_template().unwrap(), other]
});

/// One change of some bytes.
#[derive(Debug, Clone)]
pub(crate) enum Change {
    Put(usize, u8),
    Insert(usize, Vec<u8>),
    Cut(usize, usize),
    Repeat(usize, usize),
}

impl Change {
    fn to(&self, bytes: &mut Vec<u8>) {
        let length = bytes.len();
        let part =
            |place: usize, long: usize| place % (length + 1)..(place % (length + 1) + long).min(length);
        match self {
            Self::Put(place, byte) if length > 0 => bytes[place % length] = *byte,
            Self::Put(..) => {}
            Self::Insert(place, some) => {
                bytes.splice(part(*place, 0), some.iter().copied());
            }
            Self::Cut(place, long) => {
                bytes.drain(part(*place, *long));
            }
            Self::Repeat(place, long) => {
                let copy = bytes[part(*place, *long)].to_vec();
                bytes.splice(part(*place, 0), copy);
            }
        }
    }
}

/// Bytes that mean something to one reader or another.
const TELLING: [&[u8]; 21] = [
    b",",
    b";",
    b"\t",
    b"\"",
    b"\n",
    b"\r",
    b"\"\"",
    b"\0",
    b"\xEF\xBB\xBF",
    b"\xFF\xFE",
    b"\xB5",
    b"=1+1",
    b"4294967295",
    b"-0.0",
    b"1e999",
    b"<",
    b"/>",
    b"&#0;",
    b"&quot;",
    b"A4294967295",
    b"table:number-rows-repeated=\"4294967295\" ",
];

pub(crate) fn change() -> impl Strategy<Value = Change> {
    let place = || 0..2_000_000_usize;
    prop_oneof![
        (place(), any::<u8>()).prop_map(|(place, byte)| Change::Put(place, byte)),
        (place(), prop::collection::vec(any::<u8>(), 1..6))
            .prop_map(|(place, some)| Change::Insert(place, some)),
        (place(), prop::sample::select(&TELLING[..]))
            .prop_map(|(place, some)| Change::Insert(place, some.to_vec())),
        (place(), 1..300_usize).prop_map(|(place, long)| Change::Cut(place, long)),
        (place(), 1..300_usize).prop_map(|(place, long)| Change::Repeat(place, long)),
    ]
}

pub(crate) fn changed(mut bytes: Vec<u8>, changes: &[Change]) -> Vec<u8> {
    changes.iter().for_each(|change| change.to(&mut bytes));
    bytes
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn changed_text_gets_an_answer(which in 0..3_usize, changes in prop::collection::vec(change(), 1..8)) {
        let (kind, text) = &TABLES[which];
        intake_laws::delimited(*kind, &changed(text.clone(), &changes));
    }
}

proptest! {
    // Each is unpacked and packed again.
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn a_changed_workbook_gets_an_answer(
        which in 0..2_usize, part in 0..8_usize, changes in prop::collection::vec(change(), 1..6),
    ) {
        let parts = [
            "sheet1.xml", "sheet2.xml", "sheet3.xml", "sharedStrings.xml", "styles.xml", "workbook.xml",
            "workbook.xml.rels", "[Content_Types].xml",
        ];
        let of = |name: &str, bytes: Vec<u8>| match name.ends_with(parts[part]) {
            true => changed(bytes, &changes),
            false => bytes,
        };
        intake_laws::workbook(&intake_laws::with_parts(&WORKBOOKS[which], of));
    }

    #[test]
    fn a_changed_open_document_gets_an_answer(changes in prop::collection::vec(change(), 1..6)) {
        let of = |name: &str, bytes: Vec<u8>| match name {
            "content.xml" => changed(bytes, &changes),
            _ => bytes,
        };
        intake_laws::workbook(&intake_laws::with_parts(&WORKBOOKS[2], of));
    }

    /// The archive itself, with its lengths and checksums.
    #[test]
    fn a_changed_archive_gets_an_answer(
        which in prop::sample::select(&[0_usize, 2][..]), changes in prop::collection::vec(change(), 1..4),
    ) {
        intake_laws::workbook(&changed(WORKBOOKS[which].clone(), &changes));
    }
}

/// The last row that a 32-bit number names: laid out as lines it would be thirteen gigabytes.
#[test]
fn a_row_below_every_sheet_is_refused_and_not_laid_out() {
    let far = |name: &str, bytes: Vec<u8>| match name.ends_with("sheet1.xml") {
        false => bytes,
        true => {
            let text = String::from_utf8(bytes).unwrap();
            assert!(text.contains("\"A2\"") && text.contains("<row r=\"2\""), "{text:.600}");
            text.replace("<row r=\"2\"", "<row r=\"4294967295\"")
                .replace("\"A2\"", "\"A4294967295\"")
                .into_bytes()
        }
    };
    let bytes = intake_laws::with_parts(&WORKBOOKS[0], far);
    assert!(Files::of_workbook(&bytes).is_err());
}

/// 2^32 + 2: counted in 32 bits it would be the second row again.
#[test]
fn an_address_beyond_32_bits_is_no_other_cell() {
    let far = |name: &str, bytes: Vec<u8>| match name.ends_with("sheet1.xml") {
        false => bytes,
        true => String::from_utf8(bytes).unwrap().replace("\"A2\"", "\"A4294967298\"").into_bytes(),
    };
    let bytes = intake_laws::with_parts(&WORKBOOKS[0], far);
    assert!(Files::of_workbook(&WORKBOOKS[0]).is_ok());
    assert_eq!(Files::of_workbook(&bytes).err(), Some(WorkbookTrouble::Damaged));
}

/// Found by the fuzz target: what the sheet says of its size ends before it begins.
#[test]
fn a_size_below_nothing_is_damage() {
    let backwards = |name: &str, bytes: Vec<u8>| match name.ends_with("sheet1.xml") {
        false => bytes,
        true => {
            let text = String::from_utf8(bytes).unwrap();
            let (before, after) = text.split_once("<sheetData>").unwrap();
            let before = match before.split_once("<dimension ref=\"") {
                Some((head, rest)) => {
                    format!("{head}<dimension ref=\"A2:AC1{}", &rest[rest.find('"').unwrap()..])
                }
                None => format!("{before}<dimension ref=\"A2:AC1\"/>"),
            };
            format!("{before}<sheetData>{after}").into_bytes()
        }
    };
    let bytes = intake_laws::with_parts(&WORKBOOKS[0], backwards);
    assert_eq!(Files::of_workbook(&bytes).err(), Some(WorkbookTrouble::Damaged));
}
