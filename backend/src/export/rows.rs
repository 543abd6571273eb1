//! Rows for investigators. They wait on disk and go out in the order of their random ids:
//! the order of the case codes would join two files row by row.

use csv::Writer;
use quietbeam_analysis::study::deidentify::{Account, Layout, TABLES, Table};
use serde::Serialize;
use std::fs::File;
use std::io::{BufWriter, Read, Seek, SeekFrom, Write};

use super::pack::pack;
use super::{ExportError, Written};

/// The three tables of a file, being written.
pub(crate) struct Rows {
    layout: Layout,
    tables: [Waiting; 3],
    cases: u64,
}

/// The rows of one table.
struct Waiting {
    file: BufWriter<File>,
    length: u64,
    /// The id of each row, and where it stands.
    places: Vec<(String, u64, usize)>,
}

/// What stands beside the tables.
#[derive(Serialize)]
pub(crate) struct About<'a> {
    #[serde(flatten)]
    pub(crate) account: &'a Account,
    pub(crate) rows: usize,
    pub(crate) data_cut: String,
    pub(crate) data_cut_name: &'a str,
    pub(crate) data_cut_hash: &'a str,
    pub(crate) form_version: &'static str,
    pub(crate) software: &'static str,
    pub(crate) cautions: [&'static str; 5],
}

/// What whoever opens the file must know.
pub(crate) const CAUTIONS: [&str; 5] = [
    "For research, not for the care of an individual patient.",
    "Built to support de-identification, which also takes procedures and a decision: the local privacy officer decides whether this file may leave, and to whom.",
    "Combinations of site, period, age, sex, group of the procedure and rare conditions were checked. Other columns may still single out a person to somebody who knows the case.",
    "Row ids join nothing outside this file. The clinical values themselves may still match another file of the same cases: do not hand two files to one recipient to be joined.",
    "Patients were not assigned to a strategy by chance, and rows withheld are not missing at random.",
];

impl Waiting {
    fn new() -> Result<Self, ExportError> {
        Ok(Self { file: BufWriter::new(tempfile::tempfile()?), length: 0, places: Vec::new() })
    }

    fn push(&mut self, id: &str, cells: Vec<String>) -> Result<(), ExportError> {
        let mut line = Writer::from_writer(Vec::new());
        line.write_record(std::iter::once(id).chain(cells.iter().map(String::as_str)))?;
        let line = line.into_inner().map_err(|error| ExportError::Disk(error.into_error()))?;
        self.file.write_all(&line)?;
        self.places.push((id.to_owned(), self.length, line.len()));
        self.length += line.len() as u64;
        Ok(())
    }

    /// The rows below their header, in the order of their ids; those of one case keep theirs.
    fn finish(mut self, header: &[(String, String)]) -> Result<File, ExportError> {
        let mut waiting = self.file.into_inner().map_err(|error| ExportError::Disk(error.into_error()))?;
        let mut table = Writer::from_writer(BufWriter::new(tempfile::tempfile()?));
        table.write_record(header.iter().map(|(name, _)| name))?;
        let mut out = table.into_inner().map_err(|error| ExportError::Disk(error.into_error()))?;
        self.places.sort();
        for (_, begin, length) in self.places {
            let mut line = vec![0; length];
            waiting.seek(SeekFrom::Start(begin))?;
            waiting.read_exact(&mut line)?;
            out.write_all(&line)?;
        }
        out.into_inner().map_err(|error| ExportError::Disk(error.into_error()))
    }
}

impl Rows {
    /// A file without any row.
    pub(crate) fn new(layout: Layout) -> Result<Self, ExportError> {
        Ok(Self { layout, tables: [Waiting::new()?, Waiting::new()?, Waiting::new()?], cases: 0 })
    }

    /// The columns.
    pub(crate) fn layout(&self) -> &Layout {
        &self.layout
    }

    /// Adds the rows of one case under its random id.
    pub(crate) fn push(&mut self, id: &str, rows: Vec<(Table, Vec<String>)>) -> Result<(), ExportError> {
        self.cases += 1;
        rows.into_iter().try_for_each(|(table, cells)| self.tables[table as usize].push(id, cells))
    }

    /// Packs the tables, what their columns mean and what was done to them.
    pub(crate) fn finish(self, about: &About<'_>) -> Result<Written, ExportError> {
        let mut told = tempfile::tempfile()?;
        serde_json::to_writer_pretty(&mut told, about)?;
        let mut meanings = Writer::from_writer(tempfile::tempfile()?);
        meanings.write_record(["file", "column", "meaning"])?;
        let mut tables = Vec::new();
        for (table, waiting) in TABLES.into_iter().zip(self.tables) {
            let columns = self.layout.columns(table);
            for (name, meaning) in &columns {
                meanings.write_record([table.name(), name, meaning])?;
            }
            tables.push((format!("{}.csv", table.name()), waiting.finish(&columns)?));
        }
        let meanings = meanings.into_inner().map_err(|error| ExportError::Disk(error.into_error()))?;
        let mut parts = vec![("about.json".to_owned(), told), ("columns.csv".to_owned(), meanings)];
        parts.extend(tables);
        Ok(Written::of(pack(parts)?, self.cases)?)
    }
}
