//! A spreadsheet workbook (Office Open XML, .xlsx) as the three tables of a
//! centre. Sheets are read cell by cell: what a small file claims to hold can
//! be far larger than what memory holds.

use super::bounds::Limits;
use super::source::{Files, Source};
use super::{FileKind, workbook_cells::table};
use calamine::{Reader, Xlsx};
use std::fs::File;
use std::io::{self, Cursor, Read};
use std::panic::catch_unwind;
use std::path::Path;
use thiserror::Error;

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
        "The workbook is locked with a password or of an old kind (.xls); save it as .xlsx without a password."
    )]
    OldOrLocked,
    /// Another kind of spreadsheet.
    #[error("The workbook is no .xlsx file; save it as .xlsx, or each sheet as delimited text.")]
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

impl Files {
    /// The tables of a workbook. Sheets of other names are not read.
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
        unpacks_within_bounds(bytes)?;
        // The reader counts in 32 bits and is stopped where a cell's address overflows them; that
        // is one more kind of damage, not an end of the server.
        catch_unwind(|| Self::of_sheets(bytes)).unwrap_or(Err(WorkbookTrouble::Damaged))
    }

    fn of_sheets(bytes: &[u8]) -> Result<Self, WorkbookTrouble> {
        let mut workbook = Xlsx::new(Cursor::new(bytes)).map_err(|_| WorkbookTrouble::OtherKind)?;
        let mut files = Self::default();
        for name in workbook.sheet_names() {
            let plain = name.trim().to_lowercase().replace([' ', '-'], "_");
            let Some(kind) = FileKind::named(&plain) else { continue };
            let text = table(&mut workbook, &name, kind, Limits::default())?;
            // An untouched sheet of the template is no table.
            let Some(text) = text else { continue };
            if files.put(kind, Source::Bytes(text.into())).is_some() {
                return Err(WorkbookTrouble::SheetTwice(kind));
            }
        }
        let any = FileKind::ALL.into_iter().any(|kind| files.of(kind).is_some());
        if any { Ok(files) } else { Err(WorkbookTrouble::NoSheet) }
    }
}

impl Files {
    /// The tables of a workbook on disk.
    ///
    /// # Errors
    /// When the file cannot be read; inside, what in it cannot be taken.
    pub fn of_workbook_at(path: &Path) -> io::Result<Result<Self, WorkbookTrouble>> {
        let mut bytes = Vec::new();
        File::open(path)?.take(LARGEST_WORKBOOK as u64 + 1).read_to_end(&mut bytes)?;
        Ok(Self::of_workbook(&bytes))
    }
}

/// Whether the bytes are those of a workbook rather than of text.
pub fn is_workbook(start: &[u8]) -> bool {
    start.starts_with(b"PK\x03\x04") || start.starts_with(&[0xD0, 0xCF, 0x11, 0xE0])
}

/// Unpacks everything once into nothing: the sizes that an archive states may be lies.
fn unpacks_within_bounds(bytes: &[u8]) -> Result<(), WorkbookTrouble> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).map_err(|_| WorkbookTrouble::OtherKind)?;
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
    Ok(())
}
