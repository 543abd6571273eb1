//! Writes OpenDocument workbooks by hand, so that they can also say what no program says.

use std::io::{Cursor, Write};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

/// A workbook with these sheets: name, and the rows as they stand in the document.
pub fn workbook(sheets: &[(&str, &str)]) -> Vec<u8> {
    let table = |(name, rows): &(&str, &str)| {
        format!("<table:table table:name=\"{name}\"><table:table-column/>{rows}</table:table>")
    };
    let tables: String = sheets.iter().map(table).collect();
    of_content(format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?><office:document-content \
         xmlns:office=\"urn:oasis:names:tc:opendocument:xmlns:office:1.0\" \
         xmlns:table=\"urn:oasis:names:tc:opendocument:xmlns:table:1.0\" \
         xmlns:text=\"urn:oasis:names:tc:opendocument:xmlns:text:1.0\" office:version=\"1.3\">\
         <office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>"
    ))
}

/// A workbook whose sheets stand in this document.
pub fn of_content(content: impl AsRef<[u8]>) -> Vec<u8> {
    let kind = "application/vnd.oasis.opendocument.spreadsheet";
    let manifest = format!(
        "<manifest:manifest xmlns:manifest=\"urn:oasis:names:tc:opendocument:xmlns:manifest:1.0\">\
         <manifest:file-entry manifest:full-path=\"/\" manifest:media-type=\"{kind}\"/>\
         <manifest:file-entry manifest:full-path=\"content.xml\" manifest:media-type=\"text/xml\"/>\
         </manifest:manifest>"
    );
    of_parts(&[
        ("mimetype", kind.as_bytes()),
        ("content.xml", content.as_ref()),
        ("META-INF/manifest.xml", manifest.as_bytes()),
    ])
}

/// An archive of these parts.
pub fn of_parts(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut out = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in parts {
        out.start_file(*name, SimpleFileOptions::default()).unwrap();
        out.write_all(bytes).unwrap();
    }
    out.finish().unwrap().into_inner()
}

/// The rows of a table that is delimited text; numbers are numbers, as a person types them.
pub fn rows(text: &[u8]) -> String {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text);
    let row = |record: csv::Result<csv::StringRecord>| {
        let cells: String = record.unwrap().iter().map(cell).collect();
        format!("<table:table-row>{cells}</table:table-row>")
    };
    reader.records().map(row).collect()
}

fn cell(field: &str) -> String {
    let typed = match field.parse::<f64>() {
        _ if field.is_empty() => return "<table:table-cell/>".to_owned(),
        Ok(_) => format!(" office:value-type=\"float\" office:value=\"{field}\""),
        Err(_) => " office:value-type=\"string\"".to_owned(),
    };
    let shown = field.replace('&', "&amp;").replace('<', "&lt;");
    format!("<table:table-cell{typed}><text:p>{shown}</text:p></table:table-cell>")
}
