//! A file as it is kept while its centre decides: the same rows as plain text under the
//! dictionary's own column names. Columns without a field, and cells that could point to a
//! person, are left out before anything is kept.

use quietbeam_schema::case::CASE_CODE;
use quietbeam_schema::dictionary::column;
use serde::{Deserialize, Serialize};

use super::FileKind;
use super::bounds::Limits;
use super::header::{CHANGE_REASON, Header, variables};
use super::labels::key_of;
use super::layout::Encoding;
use super::marked::{PROBLEMS, as_it_was};
use super::problem::At;
use super::source::{Files, Source};
use super::table::{plain_rows, stopped};
use super::trouble::{FileRefused, FileTrouble, IntakeError, RowTrouble};
use super::withheld::{Holds, NOT_KEPT, refusal};
use csv::{StringRecord, WriterBuilder};

/// A file that is kept for a while.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Staged {
    /// How it came.
    pub layout: FileLayout,
    /// Its rows, separated by commas, under the keys of [`FileLayout::columns`].
    pub text: String,
}

/// How a file came.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FileLayout {
    /// What its rows are.
    pub kind: FileKind,
    /// Its name at the centre.
    pub name: String,
    /// Whether it was a sheet of a workbook.
    pub workbook: bool,
    /// What separated its columns.
    pub delimiter: char,
    /// How its letters were written.
    pub encoding: Encoding,
    /// The columns that are kept, in order.
    pub columns: Vec<GivenColumn>,
    /// The headers of columns for which the record has no field; nothing else is kept of them.
    pub without_field: Vec<String>,
    /// Cells that are not kept.
    pub withheld: Vec<Withheld>,
    /// How many rows there are.
    pub rows: u64,
}

/// A column that is kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct GivenColumn {
    /// Its header in the file.
    pub given: String,
    /// The key of the dictionary.
    pub key: String,
}

/// A cell, or with an empty key a whole row, that does not stand in the text as it came.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Withheld {
    /// Its row.
    pub row: u64,
    /// Its column.
    pub key: String,
    /// Why, and how to mend it.
    pub sentence: String,
}

impl Staged {
    /// Takes in a file.
    ///
    /// # Errors
    /// When it is refused whole, or cannot be read.
    pub fn of(kind: FileKind, name: &str, source: &Source, limits: Limits) -> Result<Self, IntakeError> {
        let (layout, mut rows) = plain_rows(kind, source, limits)?;
        let header = Columns::read(kind, rows.header())?;
        let mut kept = Keeping::new(kind, &header);
        while let Some((at, record)) = rows.next().map_err(|error| stopped(kind, error))? {
            kept.row(at, record).map_err(|error| IntakeError::Unreadable(kind, error))?;
        }
        if kept.rows == 0 && kind == FileKind::Cases {
            return Err(FileTrouble::HeaderOnly.at(kind, At::HEADER).into());
        }
        let layout = FileLayout {
            kind,
            name: name.to_owned(),
            workbook: false,
            delimiter: char::from(layout.delimiter),
            encoding: layout.encoding,
            columns: header.kept.iter().map(|(_, column, _)| column.clone()).collect(),
            without_field: header.without_field.clone(),
            withheld: std::mem::take(&mut kept.withheld),
            rows: kept.rows,
        };
        Ok(Self { layout, text: kept.text().map_err(|error| IntakeError::Unreadable(kind, error))? })
    }

    /// The files to be checked or stored.
    pub fn files(staged: &[Self]) -> Files {
        let mut files = Files::default();
        for one in staged {
            files.put(one.layout.kind, Source::Bytes(one.text.as_bytes().into()));
        }
        files
    }

    /// Why what stood at a place is not kept, if it is not.
    pub fn withheld_at(&self, row: u64, key: &str) -> Option<&Withheld> {
        self.layout.withheld.iter().find(|cell| cell.row == row && cell.key == key)
    }
}

/// The columns of a file as it came.
struct Columns {
    /// Place in the file, column, and what it holds.
    kept: Vec<(usize, GivenColumn, Holds)>,
    without_field: Vec<String>,
    width: usize,
}

impl Columns {
    fn read(kind: FileKind, record: &StringRecord) -> Result<Self, IntakeError> {
        // Spreadsheets write empty columns to the right of the last one.
        let named = record.iter().enumerate().filter(|(_, name)| !name.trim().is_empty());
        let width = named.last().map_or(0, |(last, _)| last + 1);
        let known = variables(kind);
        let mut columns = Self { kept: Vec::new(), without_field: Vec::new(), width };
        let mut problems = Vec::new();
        for (place, name) in record.iter().take(width).enumerate() {
            let name = name.trim();
            let key = key_of(&known, name);
            match holds(kind, &key) {
                Some(holds) => {
                    columns.kept.push((place, GivenColumn { given: name.to_owned(), key }, holds));
                }
                None if name.is_empty() => {
                    problems.push(FileTrouble::Nameless(place + 1).at(kind, At::HEADER));
                }
                // The marks of an earlier look come back with the file.
                None if name == PROBLEMS => {}
                None => columns.without_field.push(name.chars().take(60).collect()),
            }
        }
        let keys = columns.kept.iter().map(|(_, column, _)| column.key.as_str()).collect::<StringRecord>();
        problems.extend(Header::read(kind, &keys).err().unwrap_or_default());
        if problems.is_empty() { Ok(columns) } else { Err(FileRefused { problems }.into()) }
    }
}

impl From<FileRefused> for IntakeError {
    fn from(refused: FileRefused) -> Self {
        Self::Refused(refused)
    }
}

/// What a column of this key holds; `None` when the record has no such field.
pub(super) fn holds(kind: FileKind, key: &str) -> Option<Holds> {
    if key == CASE_CODE.key {
        return Some(Holds::CaseCode);
    }
    if kind == FileKind::Cases && key == CHANGE_REASON {
        return Some(Holds::Reason);
    }
    let (variable, is_unit) = column(&variables(kind), key)?;
    Some(if is_unit { Holds::Unit(variable) } else { Holds::Value(variable) })
}

/// Writes the rows that are kept.
struct Keeping<'c> {
    kind: FileKind,
    columns: &'c Columns,
    out: csv::Writer<Vec<u8>>,
    withheld: Vec<Withheld>,
    rows: u64,
    /// The row written last.
    at: u64,
}

impl<'c> Keeping<'c> {
    fn new(kind: FileKind, columns: &'c Columns) -> Self {
        let out = WriterBuilder::new().flexible(true).from_writer(Vec::new());
        Self { kind, columns, out, withheld: Vec::new(), rows: 0, at: 0 }
    }

    fn row(&mut self, at: At, record: &StringRecord) -> std::io::Result<()> {
        if self.rows == 0 {
            self.out.write_record(self.columns.kept.iter().map(|(_, column, _)| column.key.as_str()))?;
        }
        // A row keeps its number, so that it is found again in the file.
        while self.at + 1 < at.row {
            self.out.write_record(std::iter::repeat_n("", self.columns.kept.len()))?;
            self.at += 1;
        }
        (self.at, self.rows) = (at.row, self.rows + 1);
        let (found, expected) = (record.len(), self.columns.width);
        let whole = found >= expected && record.iter().skip(expected).all(|field| field.trim().is_empty());
        for (place, column, holds) in &self.columns.kept {
            let text = as_it_was(*holds, record.get(*place).unwrap_or_default());
            match refusal(*holds, &text) {
                None => self.out.write_field(text.as_bytes())?,
                Some(sentence) => {
                    self.out.write_field(NOT_KEPT)?;
                    self.withheld.push(Withheld { row: at.row, key: column.key.clone(), sentence });
                }
            }
        }
        if !whole {
            // One field too many keeps the row refused, whatever was left out of it.
            self.out.write_field(NOT_KEPT)?;
            let sentence = RowTrouble::Ragged { found, expected }.to_string();
            self.withheld.push(Withheld { row: at.row, key: String::new(), sentence });
        }
        Ok(self.out.write_record(None::<&[u8]>)?)
    }

    fn text(mut self) -> std::io::Result<String> {
        if self.rows == 0 {
            self.out.write_record(self.columns.kept.iter().map(|(_, column, _)| column.key.as_str()))?;
        }
        let bytes = self.out.into_inner().map_err(|error| std::io::Error::other(error.to_string()))?;
        String::from_utf8(bytes)
            .map_err(|_| std::io::Error::other(format!("the {} file became no text", self.kind)))
    }
}
