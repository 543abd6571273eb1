//! One sheet as delimited text in which a line is a row of the sheet, so that
//! a problem names the row that the person sees.

use super::WorkbookTrouble;
use crate::intake::FileKind;
use crate::intake::bounds::Limits;

/// Widest sheet; the dictionary's tables are far narrower.
pub(super) const WIDEST: u32 = 1_000;
/// Rows of the tallest sheet that any spreadsheet program makes (common practice, no source). A
/// row number beyond it costs a few bytes to write and gigabytes to lay out.
const TALLEST: u32 = 1_048_576;

/// What stands for a day or a time: a spreadsheet that took "5-9" for a day in September must
/// not have it guessed back.
pub(super) const DAY_OR_TIME: &str = "a date or time of day";

/// A sheet that is being filled, row by row downwards.
pub(super) struct Sheet {
    kind: FileKind,
    limit: u64,
    text: Vec<u8>,
    /// The row being filled, counted from 0.
    row: u32,
    fields: Vec<String>,
    /// The width of the header, which is the first row that holds anything.
    width: usize,
    rows: usize,
}

impl Sheet {
    /// An empty sheet of these rows.
    pub(super) fn new(kind: FileKind) -> Self {
        let limit = Limits::default().file;
        Self { kind, limit, text: Vec::new(), row: 0, fields: Vec::new(), width: 0, rows: 0 }
    }

    pub(super) fn kind(&self) -> FileKind {
        self.kind
    }

    /// Writes into a cell, counted from 0.
    ///
    /// # Errors
    /// Where no sound sheet has a cell, and when the sheet grows beyond what is taken.
    pub(super) fn put(&mut self, row: u32, column: u32, text: &str) -> Result<(), WorkbookTrouble> {
        if text.trim().is_empty() {
            return Ok(());
        }
        if column >= WIDEST {
            return Err(WorkbookTrouble::TooWide(self.kind));
        }
        self.go_to(row)?;
        let place = column as usize;
        if self.fields.len() <= place {
            self.fields.resize(place + 1, String::new());
        }
        text.clone_into(&mut self.fields[place]);
        if self.text.len() as u64 > self.limit { Err(WorkbookTrouble::TooLarge) } else { Ok(()) }
    }

    /// The text; `None` when it has nothing but a header, or nothing: an untouched sheet of the
    /// template is no table.
    pub(super) fn text(mut self) -> Option<Vec<u8>> {
        self.end_row();
        (self.rows > 1).then_some(self.text)
    }

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
