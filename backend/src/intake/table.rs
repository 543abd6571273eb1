//! One file as a header and numbered rows, one row in memory at a time.

use super::FileKind;
use super::bounds::{Bounded, Limits};
use super::header::Header;
use super::layout::{Encoding, Layout, Transcoded};
use super::plain::{PlainRows, Stopped};
use super::problem::{At, Problem};
use super::source::Source;
use super::trouble::{FileRefused, FileTrouble, IntakeError, RowTrouble};
use csv::StringRecord;
use std::io::Read;

/// The rows of a file, whatever they mean.
pub(super) type FileRows<'a> = PlainRows<Box<dyn Read + Send + 'a>>;

/// Finds out how a file is written and reads on to its rows.
pub(super) fn plain_rows<'a>(
    kind: FileKind,
    source: &'a Source,
    limits: Limits,
) -> Result<(Layout, FileRows<'a>), IntakeError> {
    let unreadable = |error| IntakeError::Unreadable(kind, error);
    let layout = Layout::of(source.open().map_err(unreadable)?, limits.file).map_err(unreadable)?;
    let bytes = source.open().map_err(unreadable)?;
    let text: Box<dyn Read + Send> = match layout.encoding {
        Encoding::Utf8 => bytes,
        Encoding::Windows1252 => Box::new(Transcoded::new(bytes)),
    };
    let bounded = Bounded::new(text, layout.delimiter, limits).map_err(unreadable)?;
    let rows = PlainRows::of(bounded, layout.delimiter, "commas, semicolons or tabs");
    Ok((layout, rows.map_err(|error| stopped(kind, error))?))
}

/// A file being read.
pub(super) struct Table<'a> {
    kind: FileKind,
    rows: FileRows<'a>,
    header: Header,
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
        let (_, rows) = plain_rows(kind, source, limits)?;
        let header = Header::read(kind, rows.header());
        let header = header.map_err(|problems| IntakeError::Refused(FileRefused { problems }))?;
        Ok(Self { kind, rows, header, any: false })
    }

    /// The columns, once the rows are no longer needed.
    pub(super) fn into_header(self) -> Header {
        self.header
    }

    /// The next row that is not blank.
    pub(super) fn next(&mut self) -> Result<Option<TableRow<'_>>, IntakeError> {
        let Some((at, record)) = self.rows.next().map_err(|error| stopped(self.kind, error))? else {
            // A centre without complications may well send the empty table.
            if self.any || self.kind != FileKind::Cases {
                return Ok(None);
            }
            return Err(FileTrouble::HeaderOnly.at(self.kind, At::HEADER).into());
        };
        self.any = true;
        let (found, expected) = (record.len(), self.header.len());
        // Spreadsheets write empty columns to the right of the last one.
        if found >= expected && record.iter().skip(expected).all(|field| field.trim().is_empty()) {
            return Ok(Some(TableRow::Whole(at, &self.header, record)));
        }
        let problem = RowTrouble::Ragged { found, expected }.at(self.kind, at);
        Ok(Some(TableRow::Ragged(self.header.code(record), problem)))
    }
}

/// Why reading stopped, as it is told of one of the three files.
pub(super) fn stopped(kind: FileKind, error: Stopped) -> IntakeError {
    match error {
        Stopped::Empty => FileTrouble::Empty.at(kind, At::HEADER).into(),
        Stopped::Text { at, trouble } => trouble.at(kind, at).into(),
        Stopped::Broken(error) => IntakeError::Unreadable(kind, error),
    }
}
