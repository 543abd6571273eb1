//! Where the files come from. Each is opened anew for every pass over it.

use super::bounds::Limits;
use super::table::Table;
use super::{FileKind, IntakeError};
use std::fs::File;
use std::io::{self, Cursor, Read};
use std::path::PathBuf;
use std::sync::Arc;

/// One file, on disk or in memory.
#[derive(Clone)]
pub enum Source {
    /// A file on disk.
    Path(PathBuf),
    /// Bytes already received.
    Bytes(Arc<[u8]>),
}

impl Source {
    /// Opens the file from its beginning.
    ///
    /// # Errors
    /// When the file cannot be opened.
    pub fn open(&self) -> io::Result<Box<dyn Read + Send + '_>> {
        match self {
            Self::Path(path) => Ok(Box::new(File::open(path)?)),
            Self::Bytes(bytes) => Ok(Box::new(Cursor::new(bytes.as_ref()))),
        }
    }
}

/// Up to three files of one centre that belong together.
#[derive(Clone, Default)]
pub struct Files {
    /// One row a case.
    pub cases: Option<Source>,
    /// One row a complication.
    pub complications: Option<Source>,
    /// One row a follow-up.
    pub follow_ups: Option<Source>,
    /// The most that is taken.
    pub limits: Limits,
}

impl Files {
    /// The file of this kind, if there is one.
    pub fn of(&self, kind: FileKind) -> Option<&Source> {
        match kind {
            FileKind::Cases => self.cases.as_ref(),
            FileKind::Complications => self.complications.as_ref(),
            FileKind::FollowUps => self.follow_ups.as_ref(),
        }
    }

    /// Sets the file of this kind; the one that stood there before, if any.
    pub fn put(&mut self, kind: FileKind, source: Source) -> Option<Source> {
        match kind {
            FileKind::Cases => self.cases.replace(source),
            FileKind::Complications => self.complications.replace(source),
            FileKind::FollowUps => self.follow_ups.replace(source),
        }
    }

    /// The file of this kind as a table, read from its beginning.
    pub(super) fn table(&self, kind: FileKind) -> Result<Option<Table<'_>>, IntakeError> {
        self.of(kind).map(|source| Table::open(kind, source, self.limits)).transpose()
    }
}
