//! An output file that appears whole or not at all.

use super::Failure;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use tempfile::{Builder, NamedTempFile};

/// Results on their way: a file beside the one wanted, which takes its name at the end.
pub(super) struct Output {
    file: BufWriter<NamedTempFile>,
    path: PathBuf,
}

impl Output {
    pub(super) fn create(path: &Path) -> Result<Self, Failure> {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        let mut builder = Builder::new();
        builder.prefix(".quietbeam-");
        // A result is no secret: whoever may read the folder may read it, as of any new file.
        #[cfg(unix)]
        builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let file =
            builder.tempfile_in(folder.unwrap_or(Path::new("."))).map_err(|error| broken(path, &error))?;
        Ok(Self { file: BufWriter::new(file), path: path.to_owned() })
    }

    /// Gives the file its name.
    pub(super) fn keep(self) -> Result<(), Failure> {
        let file = self.file.into_inner().map_err(|error| broken(&self.path, error.error()))?;
        file.persist(&self.path).map_err(|error| broken(&self.path, &error.error))?;
        Ok(())
    }
}

fn broken(path: &Path, error: &io::Error) -> Failure {
    Failure::Broken(format!("{} cannot be written: {error}", path.display()))
}

impl Write for Output {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}
