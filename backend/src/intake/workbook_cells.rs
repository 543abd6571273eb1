//! One sheet as delimited text in which a line is a row of the sheet, so that
//! a problem names the row that the person sees.

use super::FileKind;
use super::bounds::Limits;
use super::workbook::WorkbookTrouble;
use calamine::{DataRef, Xlsx};
use std::io::Cursor;

/// Widest sheet; the dictionary's tables are far narrower.
const WIDEST: u32 = 1_000;
/// Rows of the tallest sheet that any spreadsheet program makes (common practice, no source). A
/// row number beyond it costs a few bytes to write and gigabytes to lay out.
const TALLEST: u32 = 1_048_576;

/// The text of a sheet; `None` when it has nothing but a header, or nothing.
pub(super) fn table(
    workbook: &mut Xlsx<Cursor<&[u8]>>,
    name: &str,
    kind: FileKind,
    limits: Limits,
) -> Result<Option<Vec<u8>>, WorkbookTrouble> {
    let mut cells = workbook.worksheet_cells_reader(name).map_err(|_| WorkbookTrouble::Damaged)?;
    let mut sheet = Sheet::default();
    while let Some(cell) = cells.next_cell().map_err(|_| WorkbookTrouble::Damaged)? {
        let (row, column) = cell.get_position();
        let text = text_of(cell.get_value());
        if text.trim().is_empty() {
            continue;
        }
        if column >= WIDEST {
            return Err(WorkbookTrouble::TooWide(kind));
        }
        sheet.go_to(row)?;
        sheet.put(column, text);
        if sheet.text.len() as u64 > limits.file {
            return Err(WorkbookTrouble::TooLarge);
        }
    }
    sheet.end_row();
    Ok((sheet.rows > 1).then_some(sheet.text))
}

#[derive(Default)]
struct Sheet {
    text: Vec<u8>,
    /// The row being filled, counted from 0.
    row: u32,
    fields: Vec<String>,
    /// The width of the header, which is the first row that holds anything.
    width: usize,
    rows: usize,
}

impl Sheet {
    /// Ends the rows before `row`. Rows of a sound sheet only go down, and not
    /// for ever.
    fn go_to(&mut self, row: u32) -> Result<(), WorkbookTrouble> {
        if row < self.row || row >= TALLEST {
            return Err(WorkbookTrouble::Damaged);
        }
        while self.row < row {
            self.end_row();
        }
        Ok(())
    }

    fn put(&mut self, column: u32, text: String) {
        let place = column as usize;
        if self.fields.len() <= place {
            self.fields.resize(place + 1, String::new());
        }
        self.fields[place] = text;
    }

    fn end_row(&mut self) {
        if self.fields.is_empty() {
            // A line of nothing at all would not be counted by every reader of delimited text.
            self.fields.push(String::new());
        } else {
            self.rows += 1;
            if self.rows == 1 {
                self.width = self.fields.len();
            }
            let width = self.width.max(self.fields.len());
            self.fields.resize(width, String::new());
        }
        for (place, field) in self.fields.drain(..).enumerate() {
            if place > 0 {
                self.text.push(b',');
            }
            self.text.push(b'"');
            // A line break within a cell would shift the number of every line below.
            self.text.extend(field.replace('"', "\"\"").replace(['\r', '\n'], " ").bytes());
            self.text.push(b'"');
        }
        self.text.push(b'\n');
        self.row += 1;
    }
}

/// What a person sees in a cell, as far as it can be a value of the dictionary.
fn text_of(value: &DataRef<'_>) -> String {
    match value {
        DataRef::Int(number) => number.to_string(),
        DataRef::Float(number) => number.to_string(),
        DataRef::String(text) => text.clone(),
        DataRef::SharedString(text) => (*text).to_owned(),
        DataRef::Bool(truth) => truth.to_string(),
        // A spreadsheet that took "5-9" for a day in September must not have it guessed back.
        DataRef::DateTime(_) | DataRef::DateTimeIso(_) | DataRef::DurationIso(_) => {
            "a date or time of day".to_owned()
        }
        DataRef::Error(_) => "an error of the spreadsheet".to_owned(),
        DataRef::Empty => String::new(),
    }
}
