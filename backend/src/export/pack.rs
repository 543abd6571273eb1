//! Several files as one archive, and the codebook as one of them.

use quietbeam_schema::codebook::{Codebook, codebook};
use std::fs::File;
use std::io::{self, Seek, SeekFrom, Write};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use super::{ExportError, Written};

/// Packs files in this order. The archive tells no time, so that the same files are the same
/// bytes.
pub(super) fn pack(parts: Vec<(String, File)>) -> Result<File, ExportError> {
    let mut archive = ZipWriter::new(tempfile::tempfile()?);
    for (name, mut file) in parts {
        let long = file.metadata()?.len() >= u64::from(u32::MAX);
        archive.start_file(name, SimpleFileOptions::default().large_file(long))?;
        file.seek(SeekFrom::Start(0))?;
        io::copy(&mut file, &mut archive)?;
    }
    Ok(archive.finish()?)
}

/// Packs texts in this order.
pub(crate) fn pack_texts<'t>(
    parts: impl Iterator<Item = (&'t str, &'t str)>,
) -> Result<Written, ExportError> {
    let mut archive = ZipWriter::new(tempfile::tempfile()?);
    for (name, text) in parts {
        archive.start_file(name, SimpleFileOptions::default())?;
        archive.write_all(text.as_bytes())?;
    }
    Ok(Written::of(archive.finish()?, 0)?)
}

/// Every variable with its meaning, codes and limits, one row each.
pub(crate) fn codebook_rows<W: Write>(rows: &mut csv::Writer<W>) -> csv::Result<()> {
    rows.write_record(Codebook::ROW_HEADER)?;
    for row in codebook().rows() {
        rows.write_record(row)?;
    }
    Ok(rows.flush()?)
}
