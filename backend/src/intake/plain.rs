//! Delimited text of any kind: a header and rows, one row in memory at a time.

use super::bounds::{Bounded, Limits};
use super::header::other_delimiter;
use super::trouble::FileTrouble;
use csv::{ErrorKind, Reader, ReaderBuilder, StringRecord};
use std::io::{self, Read};

/// Rows being read.
pub(crate) struct PlainRows<R> {
    reader: Reader<Bounded<R>>,
    header: StringRecord,
    record: StringRecord,
}

/// Why reading stopped.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Stopped {
    /// The text itself is wrong.
    #[error("line {line}: {sentence}")]
    Text { line: u64, sentence: String },
    /// The bytes could not be read.
    #[error("{0}")]
    Broken(io::Error),
}

impl<R: Read> PlainRows<R> {
    /// Reads the header.
    pub(crate) fn open(source: R) -> Result<Self, Stopped> {
        // A field or row may not fill the memory; a file may be as long as it likes.
        let limits = Limits { file: u64::MAX, ..Limits::default() };
        let bounded = Bounded::new(source, b',', limits).map_err(Stopped::Broken)?;
        let mut reader = ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .buffer_capacity(64 * 1024)
            .from_reader(bounded);
        let mut header = StringRecord::new();
        if !reader.read_record(&mut header).map_err(|error| stopped(1, error))? {
            let sentence = "the input is empty; it begins with a header that names the columns".to_owned();
            return Err(Stopped::Text { line: 1, sentence });
        }
        match other_delimiter(&header) {
            Some(name) => Err(Stopped::Text { line: 1, sentence: FileTrouble::Delimiter(name).to_string() }),
            None => Ok(Self { reader, header, record: StringRecord::new() }),
        }
    }

    /// The names of the columns as they stand there.
    pub(crate) fn header(&self) -> &StringRecord {
        &self.header
    }

    /// The next row that is not blank, and its line.
    pub(crate) fn next(&mut self) -> Result<Option<(u64, &StringRecord)>, Stopped> {
        loop {
            let before = self.reader.position().line();
            if !self.reader.read_record(&mut self.record).map_err(|error| stopped(before, error))? {
                return Ok(None);
            }
            // Spreadsheets write rows of nothing but commas below the last one.
            if self.record.iter().any(|field| !field.trim().is_empty()) {
                let line = self.record.position().map_or(before, csv::Position::line);
                return Ok(Some((line, &self.record)));
            }
        }
    }
}

fn stopped(line: u64, error: csv::Error) -> Stopped {
    match error.into_kind() {
        ErrorKind::Utf8 { pos, .. } => {
            let line = pos.map_or(line, |pos| pos.line());
            Stopped::Text { line, sentence: FileTrouble::Utf8.to_string() }
        }
        ErrorKind::Io(error) => match error.downcast::<FileTrouble>() {
            Ok(trouble) => Stopped::Text { line, sentence: trouble.to_string() },
            Err(error) => Stopped::Broken(error),
        },
        other => Stopped::Broken(io::Error::other(format!("{other:?}"))),
    }
}
