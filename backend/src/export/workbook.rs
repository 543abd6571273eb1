//! The three tables as the sheets of the import template.

use rust_xlsxwriter::Format;
use std::fs::File;

use super::ExportError;
use super::cell::{Cell, Columns};
use crate::intake::{self, FileKind, as_text};
use crate::store::CaseRow;

/// A workbook of more cases unpacks to more than the intake takes.
const MOST_CASES: u64 = 20_000;

pub(super) struct Book {
    book: intake::Book,
    columns: Columns,
    text: Format,
    /// The last row written in each sheet.
    rows: [u32; 3],
    cases: u64,
}

impl Book {
    pub(super) fn new() -> Result<Self, ExportError> {
        let (book, columns, text) = (intake::Book::new()?, Columns::new(), as_text());
        Ok(Self { book, columns, text, rows: [0; 3], cases: 0 })
    }

    pub(super) fn push(&mut self, case: &CaseRow) -> Result<(), ExportError> {
        if self.cases == MOST_CASES {
            return Err(ExportError::TooManyForWorkbook { most: MOST_CASES });
        }
        self.cases += 1;
        for (kind, cells) in self.columns.rows(case)? {
            self.write(kind, cells)?;
        }
        Ok(())
    }

    fn write(&mut self, kind: FileKind, cells: Vec<Cell>) -> Result<(), ExportError> {
        let row = &mut self.rows[kind as usize];
        *row += 1;
        let sheet = self.book.sheet(kind)?;
        for (place, cell) in (0_u16..).zip(cells) {
            match cell {
                Cell::Blank => {}
                Cell::Number(number) => {
                    sheet.write_number(*row, place, number.as_f64().unwrap_or_default())?;
                }
                Cell::Text(text) => {
                    sheet.write_string_with_format(*row, place, text, &self.text)?;
                }
            }
        }
        Ok(())
    }

    pub(super) fn finish(self) -> Result<File, ExportError> {
        let file = tempfile::tempfile()?;
        self.book.save(&file)?;
        Ok(file)
    }
}
