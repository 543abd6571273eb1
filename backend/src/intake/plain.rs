//! Delimited text of any kind: a header and rows, one row in memory at a time.

use super::bounds::{Bounded, Limits};
use super::header::other_delimiter;
use super::problem::At;
use super::trouble::FileTrouble;
use csv::{ErrorKind, Reader, ReaderBuilder, StringRecord};
use std::io::{self, Read};

/// Rows being read.
pub(crate) struct PlainRows<R> {
    reader: Reader<Bounded<R>>,
    header: StringRecord,
    record: StringRecord,
    row: u64,
}

/// Why reading stopped.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Stopped {
    /// There is not even a header.
    #[error("line 1: the input is empty; it begins with a header that names the columns")]
    Empty,
    /// The text itself is wrong.
    #[error("line {}: {trouble}", at.line)]
    Text { at: At, trouble: FileTrouble },
    /// The bytes could not be read.
    #[error("{0}")]
    Broken(io::Error),
}

impl<R: Read> PlainRows<R> {
    /// Reads the header of text with commas, of which there may be any number of rows.
    pub(crate) fn open(source: R) -> Result<Self, Stopped> {
        // A field or row may not fill the memory; a file may be as long as it likes.
        let limits = Limits { file: u64::MAX, ..Limits::default() };
        let text = Bounded::new(source, b',', limits).map_err(Stopped::Broken)?;
        Self::of(text, b',', "commas")
    }

    /// Reads the header of text within bounds. Blank rows may stand above it. `taken` names
    /// the separators that are taken there.
    pub(super) fn of(text: Bounded<R>, delimiter: u8, taken: &'static str) -> Result<Self, Stopped> {
        let reader = ReaderBuilder::new()
            .delimiter(delimiter)
            .has_headers(false)
            .flexible(true)
            .buffer_capacity(64 * 1024)
            .from_reader(text);
        let mut rows = Self { reader, header: StringRecord::new(), record: StringRecord::new(), row: 0 };
        match rows.filled(|_| At::HEADER)? {
            None => return Err(Stopped::Empty),
            Some(_) => std::mem::swap(&mut rows.header, &mut rows.record),
        }
        rows.row = 0;
        match other_delimiter(&rows.header) {
            Some(found) => {
                Err(Stopped::Text { at: At::HEADER, trouble: FileTrouble::Delimiter { found, taken } })
            }
            None => Ok(rows),
        }
    }

    /// The names of the columns as they stand there.
    pub(crate) fn header(&self) -> &StringRecord {
        &self.header
    }

    /// The next row that is not blank, and its place.
    pub(crate) fn next(&mut self) -> Result<Option<(At, &StringRecord)>, Stopped> {
        let at = self.filled(|at| at)?;
        Ok(at.map(|at| (at, &self.record)))
    }

    /// Reads on to a row that is not blank; `place` says where trouble is told.
    fn filled(&mut self, place: impl Fn(At) -> At) -> Result<Option<At>, Stopped> {
        loop {
            self.row += 1;
            let before = At { row: self.row, line: self.reader.position().line() };
            let read = self.reader.read_record(&mut self.record);
            if !read.map_err(|error| stopped(place(before), error))? {
                return Ok(None);
            }
            // Spreadsheets write rows of nothing but commas below the last one.
            if self.record.iter().any(|field| !field.trim().is_empty()) {
                let line = self.record.position().map_or(before.line, csv::Position::line);
                return Ok(Some(At { row: self.row, line }));
            }
        }
    }
}

fn stopped(at: At, error: csv::Error) -> Stopped {
    match error.into_kind() {
        ErrorKind::Utf8 { pos, .. } => {
            let line = pos.map_or(at.line, |pos| pos.line());
            Stopped::Text { at: At { line, ..at }, trouble: FileTrouble::Utf8 }
        }
        ErrorKind::Io(error) => match error.downcast::<FileTrouble>() {
            Ok(trouble) => Stopped::Text { at, trouble },
            Err(error) => Stopped::Broken(error),
        },
        other => Stopped::Broken(io::Error::other(format!("{other:?}"))),
    }
}
