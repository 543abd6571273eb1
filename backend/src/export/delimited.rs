//! The three tables as delimited text (RFC 4180), packed with the codebook.

use csv::{Terminator, Writer, WriterBuilder};
use std::fs::File;
use std::io::BufWriter;

use super::ExportError;
use super::cell::{Cell, Columns};
use super::pack::{codebook_rows, pack};
use crate::intake::{FileKind, header};
use crate::store::CaseRow;

pub(super) struct Delimited {
    columns: Columns,
    tables: [Writer<BufWriter<File>>; 3],
}

/// Rows on their way into a file without a name.
fn table() -> Result<Writer<BufWriter<File>>, ExportError> {
    Ok(WriterBuilder::new().terminator(Terminator::CRLF).from_writer(BufWriter::new(tempfile::tempfile()?)))
}

fn file_of(table: Writer<BufWriter<File>>) -> Result<File, ExportError> {
    let buffer = table.into_inner().map_err(|error| ExportError::Disk(error.into_error()))?;
    buffer.into_inner().map_err(|error| ExportError::Disk(error.into_error()))
}

impl Delimited {
    pub(super) fn new() -> Result<Self, ExportError> {
        let mut tables = [table()?, table()?, table()?];
        for (table, kind) in tables.iter_mut().zip(FileKind::ALL) {
            table.write_record(header(kind))?;
        }
        Ok(Self { columns: Columns::new(), tables })
    }

    pub(super) fn push(&mut self, case: &CaseRow) -> Result<(), ExportError> {
        for (kind, cells) in self.columns.rows(case)? {
            self.tables[kind as usize].write_record(cells.into_iter().map(Cell::into_text))?;
        }
        Ok(())
    }

    pub(super) fn finish(self) -> Result<File, ExportError> {
        let mut codebook = table()?;
        codebook_rows(&mut codebook)?;
        let mut parts = vec![("codebook.csv".to_owned(), file_of(codebook)?)];
        for (table, kind) in self.tables.into_iter().zip(FileKind::ALL) {
            parts.push((format!("{kind}.csv"), file_of(table)?));
        }
        pack(parts)
    }
}
