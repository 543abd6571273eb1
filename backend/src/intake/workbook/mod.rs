//! A spreadsheet workbook as the three tables of a centre. Sheets are read cell
//! by cell: what a small file claims to hold can be far larger than what memory
//! holds.

mod office_open;
mod open_document;
mod sheet;

use super::FileKind;
use super::source::{Files, Source};
use sheet::Sheet;
use std::fs::File;
use std::io::{self, Cursor, Read};
use std::panic::catch_unwind;
use std::path::Path;
use thiserror::Error;
use zip::ZipArchive;

/// Largest workbook, in bytes.
pub const LARGEST_WORKBOOK: usize = 16 << 20;
/// Most bytes that all parts of a workbook unpack to.
const MOST_UNPACKED: u64 = 256 << 20;
/// Most parts; a workbook of a few sheets has some twenty.
const MOST_PARTS: usize = 1_000;

/// Why a workbook is not taken.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum WorkbookTrouble {
    /// Old or locked.
    #[error(
        "The workbook is locked with a password or of an old kind (.xls); save it as .xlsx or .ods without a password."
    )]
    OldOrLocked,
    /// Another kind of spreadsheet.
    #[error(
        "The workbook is neither an .xlsx nor an .ods file; save it as one of these, or each sheet as delimited text."
    )]
    OtherKind,
    /// Broken.
    #[error("The workbook is damaged; save it again.")]
    Damaged,
    /// Unpacks beyond any real workbook.
    #[error("The workbook unpacks to more than is taken at once; send it in parts.")]
    TooLarge,
    /// No known sheet.
    #[error(
        "The workbook has no sheet named cases, complications or follow_ups; name the sheets as the template does."
    )]
    NoSheet,
    /// A sheet twice.
    #[error("Two sheets of the workbook hold {0}; keep one of them.")]
    SheetTwice(FileKind),
    /// More columns than any table has.
    #[error("The sheet {0} is wider than any table of the dictionary; delete what stands far to the right.")]
    TooWide(FileKind),
}

/// The parts of a workbook.
type Archive<'b> = ZipArchive<Cursor<&'b [u8]>>;

impl Files {
    /// The tables of a workbook, Office Open XML (.xlsx) or OpenDocument (.ods). Sheets of other
    /// names are not read.
    ///
    /// # Errors
    /// What the workbook is instead, or what in it cannot be taken.
    pub fn of_workbook(bytes: &[u8]) -> Result<Self, WorkbookTrouble> {
        if bytes.starts_with(&[0xD0, 0xCF, 0x11, 0xE0]) {
            return Err(WorkbookTrouble::OldOrLocked);
        }
        if bytes.len() > LARGEST_WORKBOOK {
            return Err(WorkbookTrouble::TooLarge);
        }
        let mut archive = unpacked_within_bounds(bytes)?;
        let files = if open_document::is_one(&archive) {
            open_document::read(&mut archive)?
        } else {
            guarded_office_open(bytes)?
        };
        let any = FileKind::ALL.into_iter().any(|kind| files.of(kind).is_some());
        if any { Ok(files) } else { Err(WorkbookTrouble::NoSheet) }
    }

    /// The tables of a workbook on disk.
    ///
    /// # Errors
    /// When the file cannot be read; inside, what in it cannot be taken.
    pub fn of_workbook_at(path: &Path) -> io::Result<Result<Self, WorkbookTrouble>> {
        let mut bytes = Vec::new();
        File::open(path)?.take(LARGEST_WORKBOOK as u64 + 1).read_to_end(&mut bytes)?;
        Ok(Self::of_workbook(&bytes))
    }

    /// Takes a sheet in, unless it is empty.
    fn take(&mut self, sheet: Sheet) -> Result<(), WorkbookTrouble> {
        let kind = sheet.kind();
        let Some(text) = sheet.text() else { return Ok(()) };
        match self.put(kind, Source::Bytes(text.into())) {
            None => Ok(()),
            Some(_) => Err(WorkbookTrouble::SheetTwice(kind)),
        }
    }
}

/// The library that reads .xlsx counts in 32 bits and is stopped where a cell's address overflows
/// them; that is one more kind of damage, not an end of the server.
fn guarded_office_open(bytes: &[u8]) -> Result<Files, WorkbookTrouble> {
    catch_unwind(|| office_open::read(bytes)).unwrap_or(Err(WorkbookTrouble::Damaged))
}

/// What the rows of a sheet of this name are.
fn kind_of(name: &str) -> Option<FileKind> {
    FileKind::named(&name.trim().to_lowercase().replace([' ', '-'], "_"))
}

/// Whether the bytes are those of a workbook rather than of text.
pub fn is_workbook(start: &[u8]) -> bool {
    start.starts_with(b"PK\x03\x04") || start.starts_with(&[0xD0, 0xCF, 0x11, 0xE0])
}

/// Unpacks everything once into nothing: the sizes that an archive states may be lies.
fn unpacked_within_bounds(bytes: &[u8]) -> Result<Archive<'_>, WorkbookTrouble> {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).map_err(|_| WorkbookTrouble::OtherKind)?;
    if archive.len() > MOST_PARTS {
        return Err(WorkbookTrouble::TooLarge);
    }
    let mut left = MOST_UNPACKED;
    for part in 0..archive.len() {
        let part = archive.by_index(part).map_err(|_| WorkbookTrouble::Damaged)?;
        let unpacked = io::copy(&mut part.take(left + 1), &mut io::sink());
        let unpacked = unpacked.map_err(|_| WorkbookTrouble::Damaged)?;
        left = left.checked_sub(unpacked).ok_or(WorkbookTrouble::TooLarge)?;
    }
    Ok(archive)
}
