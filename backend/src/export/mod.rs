//! Cases on their way out: the counterpart of the intake. What goes out can be taken in
//! again and changes nothing. Rows are written to disk one by one, so that memory does not
//! grow with them.

mod cell;
mod delimited;
mod json;
mod pack;
mod rows;
mod workbook;

pub(crate) use pack::{codebook_rows, pack_texts};
pub(crate) use rows::{About, CAUTIONS, Rows};

use clap::ValueEnum;
use serde::Deserialize;
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use thiserror::Error;

use crate::store::{CaseRow, hex};
use delimited::Delimited;
use json::Json;
use workbook::Book;

/// How cases are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, ValueEnum)]
#[serde(rename_all = "snake_case")]
pub enum Format {
    /// The three tables and the codebook as delimited text, packed into one archive (.zip).
    #[default]
    Delimited,
    /// One workbook (.xlsx) with the sheets of the import template.
    Workbook,
    /// The records as the API shows them.
    Json,
}

impl Format {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Delimited, Self::Workbook, Self::Json];

    /// The format in one word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Delimited => "delimited",
            Self::Workbook => "workbook",
            Self::Json => "json",
        }
    }

    /// The format as it is offered.
    pub fn label(self) -> &'static str {
        match self {
            Self::Delimited => "Delimited text (.zip)",
            Self::Workbook => "Workbook (.xlsx)",
            Self::Json => "JSON",
        }
    }

    /// The ending of its file's name.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Delimited => "zip",
            Self::Workbook => "xlsx",
            Self::Json => "json",
        }
    }

    /// Its media type.
    pub fn media_type(self) -> &'static str {
        match self {
            Self::Delimited => "application/zip",
            Self::Workbook => "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
            Self::Json => "application/json",
        }
    }
}

/// Why a file cannot be written.
#[derive(Debug, Error)]
pub enum ExportError {
    /// Too many for one workbook.
    #[error("A workbook holds at most {most} cases; narrow what is taken out, or take delimited text.")]
    TooManyForWorkbook {
        /// How many it takes.
        most: u64,
    },
    /// A stored record is no JSON object.
    #[error("a stored record cannot be read")]
    Unreadable,
    /// The disk does not take it.
    #[error("the file cannot be written: {0}")]
    Disk(#[from] io::Error),
    /// The workbook cannot be written.
    #[error("the workbook cannot be written: {0}")]
    Workbook(#[from] rust_xlsxwriter::XlsxError),
}

impl From<csv::Error> for ExportError {
    fn from(error: csv::Error) -> Self {
        Self::Disk(io::Error::other(error))
    }
}

impl From<zip::result::ZipError> for ExportError {
    fn from(error: zip::result::ZipError) -> Self {
        Self::Disk(io::Error::other(error))
    }
}

impl From<serde_json::Error> for ExportError {
    fn from(error: serde_json::Error) -> Self {
        Self::Disk(io::Error::other(error))
    }
}

/// Cases being written.
pub struct Export {
    writer: Writer,
    cases: u64,
}

enum Writer {
    Delimited(Delimited),
    Workbook(Book),
    Json(Json),
}

/// A file that is written.
pub struct Written {
    /// The file, at its beginning. It has no name and is gone when it is dropped.
    pub file: File,
    /// Its length in bytes.
    pub length: u64,
    /// SHA-256 of its bytes.
    pub sha256: String,
    /// How many cases it holds.
    pub cases: u64,
}

impl Export {
    /// Begins a file without any case.
    ///
    /// # Errors
    /// When the disk does not take it.
    pub fn new(format: Format) -> Result<Self, ExportError> {
        let writer = match format {
            Format::Delimited => Writer::Delimited(Delimited::new()?),
            Format::Workbook => Writer::Workbook(Book::new()?),
            Format::Json => Writer::Json(Json::new()?),
        };
        Ok(Self { writer, cases: 0 })
    }

    /// Writes a case.
    ///
    /// # Errors
    /// When the record cannot be read or the file not be written.
    pub fn push(&mut self, case: &CaseRow) -> Result<(), ExportError> {
        match &mut self.writer {
            Writer::Delimited(tables) => tables.push(case)?,
            Writer::Workbook(book) => book.push(case)?,
            Writer::Json(json) => json.push(case)?,
        }
        self.cases += 1;
        Ok(())
    }

    /// Ends the file.
    ///
    /// # Errors
    /// When the disk does not take it.
    pub fn finish(self) -> Result<Written, ExportError> {
        let file = match self.writer {
            Writer::Delimited(tables) => tables.finish()?,
            Writer::Workbook(book) => book.finish()?,
            Writer::Json(json) => json.finish()?,
        };
        Ok(Written::of(file, self.cases)?)
    }
}

impl Written {
    /// A file that needs nothing more, to be read from its beginning.
    fn of(mut file: File, cases: u64) -> io::Result<Self> {
        file.seek(SeekFrom::Start(0))?;
        let (mut hash, mut length, mut bytes) = (Sha256::new(), 0, [0; 64 * 1024]);
        loop {
            match file.read(&mut bytes)? {
                0 => break,
                read => {
                    hash.update(&bytes[..read]);
                    length += read as u64;
                }
            }
        }
        file.seek(SeekFrom::Start(0))?;
        Ok(Self { file, length, sha256: hex(&hash.finalize()), cases })
    }
}
