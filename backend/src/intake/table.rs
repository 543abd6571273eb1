//! One file as a header and numbered rows, one row in memory at a time.

use super::FileKind;
use super::bounds::{Bounded, Limits};
use super::header::Header;
use super::layout::{Encoding, Layout, Transcoded};
use super::problem::{At, Problem};
use super::source::Source;
use super::trouble::{FileRefused, FileTrouble, IntakeError, RowTrouble};
use csv::{ErrorKind, Reader, ReaderBuilder, StringRecord};
use std::io::Read;

/// The bytes of a file, as UTF-8 and within bounds.
type Text<'a> = Bounded<Box<dyn Read + Send + 'a>>;

/// A file being read.
pub(super) struct Table<'a> {
    kind: FileKind,
    reader: Reader<Text<'a>>,
    header: Header,
    record: StringRecord,
    row: u64,
    any: bool,
}

/// What stood in a row.
pub(super) enum TableRow<'t> {
    /// As many fields as the header has.
    Whole(At, &'t Header, &'t StringRecord),
    /// Another number of fields; what stands where a case code would, and the problem.
    Ragged(Option<&'t str>, Problem),
}

impl<'t> TableRow<'t> {
    /// Which row.
    pub(super) fn at(&self) -> At {
        match self {
            Self::Whole(at, ..) => *at,
            Self::Ragged(_, problem) => problem.at,
        }
    }

    /// What stands where a case code would, if anything does.
    pub(super) fn code(&self) -> Option<&'t str> {
        match self {
            Self::Whole(_, header, record) => header.code(record),
            Self::Ragged(code, _) => *code,
        }
    }
}

impl<'a> Table<'a> {
    /// Opens a file, finds out how it is written, and reads its header.
    pub(super) fn open(kind: FileKind, source: &'a Source, limits: Limits) -> Result<Self, IntakeError> {
        let unreadable = |error| IntakeError::Unreadable(kind, error);
        let layout = Layout::of(source.open().map_err(unreadable)?, limits.file).map_err(unreadable)?;
        let bytes = source.open().map_err(unreadable)?;
        let text: Box<dyn Read + Send> = match layout.encoding {
            Encoding::Utf8 => bytes,
            Encoding::Windows1252 => Box::new(Transcoded::new(bytes)),
        };
        let bounded = Bounded::new(text, layout.delimiter, limits).map_err(unreadable)?;
        let mut reader = ReaderBuilder::new()
            .delimiter(layout.delimiter)
            .has_headers(false)
            .flexible(true)
            .buffer_capacity(64 * 1024)
            .from_reader(bounded);
        let mut record = StringRecord::new();
        // Blank rows may stand above the header.
        loop {
            let any = reader.read_record(&mut record).map_err(|error| stopped(kind, At::HEADER, error))?;
            if !any {
                return Err(FileTrouble::Empty.at(kind, At::HEADER).into());
            }
            if !blank(&record) {
                break;
            }
        }
        let header =
            Header::read(kind, &record).map_err(|problems| IntakeError::Refused(FileRefused { problems }))?;
        Ok(Self { kind, reader, header, record, row: 0, any: false })
    }

    /// The columns, once the rows are no longer needed.
    pub(super) fn into_header(self) -> Header {
        self.header
    }

    /// The next row that is not blank.
    pub(super) fn next(&mut self) -> Result<Option<TableRow<'_>>, IntakeError> {
        loop {
            self.row += 1;
            let before = At { row: self.row, line: self.reader.position().line() };
            let read = self
                .reader
                .read_record(&mut self.record)
                .map_err(|error| stopped(self.kind, before, error))?;
            if !read {
                // A centre without complications may well send the empty table.
                if self.any || self.kind != FileKind::Cases {
                    return Ok(None);
                }
                return Err(FileTrouble::HeaderOnly.at(self.kind, At::HEADER).into());
            }
            // Spreadsheets write rows of nothing but commas below the last one.
            if !blank(&self.record) {
                break;
            }
        }
        self.any = true;
        let line = self.record.position().map_or(0, csv::Position::line);
        let at = At { row: self.row, line };
        let (found, expected) = (self.record.len(), self.header.len());
        // Spreadsheets write empty columns to the right of the last one.
        if found >= expected && self.record.iter().skip(expected).all(|field| field.trim().is_empty()) {
            return Ok(Some(TableRow::Whole(at, &self.header, &self.record)));
        }
        let problem = RowTrouble::Ragged { found, expected }.at(self.kind, at);
        Ok(Some(TableRow::Ragged(self.header.code(&self.record), problem)))
    }
}

fn blank(record: &StringRecord) -> bool {
    record.iter().all(|field| field.trim().is_empty())
}

/// Tells why the csv reader stopped at a row.
fn stopped(kind: FileKind, at: At, error: csv::Error) -> IntakeError {
    match error.into_kind() {
        ErrorKind::Utf8 { pos, .. } => {
            let line = pos.map_or(at.line, |pos| pos.line());
            FileTrouble::Utf8.at(kind, At { line, ..at }).into()
        }
        ErrorKind::Io(error) => match error.downcast::<FileTrouble>() {
            Ok(trouble) => trouble.at(kind, at).into(),
            Err(error) => IntakeError::Unreadable(kind, error),
        },
        other => IntakeError::Unreadable(kind, std::io::Error::other(format!("{other:?}"))),
    }
}
