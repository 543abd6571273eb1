//! A small workbook of which one part is anything.

use std::io::{Cursor, Write};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

const TYPES: &str = r#"<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/></Types>"#;
const RELS: &str = r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>"#;
const BOOK: &str = r#"<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="cases" sheetId="1" r:id="rId1"/><sheet name="follow_ups" sheetId="2" r:id="rId2"/></sheets></workbook>"#;
const BOOK_RELS: &str = r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet2.xml"/><Relationship Id="rId3" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/sharedStrings" Target="sharedStrings.xml"/><Relationship Id="rId4" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/styles" Target="styles.xml"/></Relationships>"#;
const STRINGS: &str = r#"<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" count="3" uniqueCount="3"><si><t>period</t></si><si><t>2025Q3</t></si><si><r><t>case</t></r><r><t>_code</t></r></si></sst>"#;
const STYLES: &str = r#"<styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><cellXfs count="2"><xf numFmtId="0"/><xf numFmtId="14"/></cellXfs></styleSheet>"#;
const CASES: &str = r#"<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><dimension ref="A1:C2"/><sheetData><row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" t="inlineStr"><is><t>bmi</t></is></c></row><row r="2"><c r="A2" t="s"><v>1</v></c><c r="B2"><v>27.4</v></c><c r="C2" s="1"><v>45000</v></c></row></sheetData></worksheet>"#;
const FOLLOW_UPS: &str = r#"<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData><row r="1"><c r="A1" t="s"><v>2</v></c></row><row r="2"><c r="A2" t="b"><v>1</v></c><c r="B2" t="e"><v>#N/A</v></c></row></sheetData></worksheet>"#;

/// The parts and what usually stands in them.
pub const PARTS: [(&str, &str); 8] = [
    ("xl/worksheets/sheet1.xml", CASES),
    ("xl/worksheets/sheet2.xml", FOLLOW_UPS),
    ("xl/sharedStrings.xml", STRINGS),
    ("xl/workbook.xml", BOOK),
    ("xl/_rels/workbook.xml.rels", BOOK_RELS),
    ("xl/styles.xml", STYLES),
    ("_rels/.rels", RELS),
    ("[Content_Types].xml", TYPES),
];

/// The workbook with these bytes as the part of this number. Packing them here lets them reach
/// the reader past the checksum.
pub fn workbook(part: usize, bytes: &[u8]) -> Vec<u8> {
    let mut out = ZipWriter::new(Cursor::new(Vec::new()));
    let stored = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    for (place, (name, usual)) in PARTS.iter().enumerate() {
        out.start_file(*name, stored).unwrap();
        out.write_all(if place == part { bytes } else { usual.as_bytes() }).unwrap();
    }
    out.finish().unwrap().into_inner()
}
