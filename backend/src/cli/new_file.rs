//! The file that a command writes into: one that was not there before.

use super::Failure;
use crate::export::Written;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

/// A new file, which is gone again unless something was kept in it: whoever mistyped a name
/// elsewhere in the command must be able to give it again.
pub(super) struct NewFile {
    file: File,
    path: PathBuf,
    kept: bool,
}

impl NewFile {
    /// Makes the file before the work is done, so that none is done in vain.
    pub(super) fn at(path: &Path) -> Result<Self, Failure> {
        let file = File::create_new(path).map_err(|error| match error.kind() {
            io::ErrorKind::AlreadyExists => {
                Failure::Refused(format!("{} is there already; name another file", path.display()))
            }
            _ => Failure::Broken(format!("{}: {error}", path.display())),
        })?;
        Ok(Self { file, path: path.to_owned(), kept: false })
    }

    /// Writes what was taken out into it.
    pub(super) fn keep(mut self, mut written: Written) -> Result<(), Failure> {
        io::copy(&mut written.file, &mut self.file)?;
        self.file.sync_all()?;
        self.kept = true;
        Ok(())
    }
}

impl Drop for NewFile {
    fn drop(&mut self) {
        if !self.kept {
            // The command fails for another reason, which is told.
            let _ = fs::remove_file(&self.path);
        }
    }
}
