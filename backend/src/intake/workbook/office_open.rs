//! The sheets of an Office Open XML workbook (.xlsx, ISO/IEC 29500).

use super::sheet::{DAY_OR_TIME, Sheet};
use super::{WorkbookTrouble, kind_of};
use crate::intake::Files;
use calamine::{DataRef, Reader, Xlsx};
use std::io::Cursor;

/// Reads the sheets of known names, cell by cell: a sheet that claims a cell in its last corner
/// would, laid out, hold more than memory does.
pub(super) fn read(bytes: &[u8]) -> Result<Files, WorkbookTrouble> {
    let mut workbook = Xlsx::new(Cursor::new(bytes)).map_err(|_| WorkbookTrouble::OtherKind)?;
    let mut files = Files::default();
    for name in workbook.sheet_names() {
        let Some(kind) = kind_of(&name) else { continue };
        let mut sheet = Sheet::new(kind);
        let mut cells = workbook.worksheet_cells_reader(&name).map_err(|_| WorkbookTrouble::Damaged)?;
        while let Some(cell) = cells.next_cell().map_err(|_| WorkbookTrouble::Damaged)? {
            let (row, column) = cell.get_position();
            sheet.put(row, column, &text_of(cell.get_value()))?;
        }
        files.take(sheet)?;
    }
    Ok(files)
}

/// What a person sees in a cell, as far as it can be a value of the dictionary.
fn text_of(value: &DataRef<'_>) -> String {
    match value {
        DataRef::Int(number) => number.to_string(),
        DataRef::Float(number) => number.to_string(),
        DataRef::String(text) => text.clone(),
        DataRef::SharedString(text) => (*text).to_owned(),
        DataRef::Bool(truth) => truth.to_string(),
        DataRef::DateTime(_) | DataRef::DateTimeIso(_) | DataRef::DurationIso(_) => DAY_OR_TIME.to_owned(),
        DataRef::Error(_) => "an error of the spreadsheet".to_owned(),
        DataRef::Empty => String::new(),
    }
}
