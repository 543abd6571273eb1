//! Mending cells of a kept file. What is typed passes the same screen as what came.

use csv::{ReaderBuilder, StringRecord, WriterBuilder};
use std::collections::{BTreeMap, BTreeSet};
use std::io;

use super::header::variables;
use super::marked::Marked;
use super::staged::{GivenColumn, Staged, Withheld, holds};
use super::withheld::{NOT_KEPT, is_number, refusal};
use quietbeam_schema::dictionary::column;

/// A text to put into one column of some rows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mend {
    /// The rows.
    pub rows: Vec<u64>,
    /// The column.
    pub key: String,
    /// What is to stand there.
    pub text: String,
}

impl Staged {
    /// The texts of some cells, by row and column. A cell that is not kept is blank.
    ///
    /// # Errors
    /// When the text is no longer what was written.
    pub fn cells(&self, wanted: &BTreeSet<(u64, &str)>) -> io::Result<BTreeMap<(u64, String), String>> {
        let mut found = BTreeMap::new();
        let rows: BTreeSet<u64> = wanted.iter().map(|(row, _)| *row).collect();
        self.each(|row, record| {
            if !rows.contains(&row) {
                return Ok(());
            }
            for (place, column) in self.layout.columns.iter().enumerate() {
                if wanted.contains(&(row, column.key.as_str())) {
                    let text = record.get(place).filter(|text| *text != NOT_KEPT).unwrap_or_default();
                    found.insert((row, column.key.clone()), text.to_owned());
                }
            }
            Ok(())
        })?;
        Ok(found)
    }

    /// Mends cells. A column that the file did not have is added at its end.
    ///
    /// # Errors
    /// When the text is no longer what was written.
    pub fn mend(&mut self, mends: &[Mend]) -> io::Result<()> {
        let kind = self.layout.kind;
        let mut by_row: BTreeMap<u64, Vec<(usize, String)>> = BTreeMap::new();
        for mend in mends {
            let Some(holds) = holds(kind, &mend.key) else { continue };
            let place = self.place_of(&mend.key);
            let sentence = refusal(holds, &mend.text);
            let text = if sentence.is_some() { NOT_KEPT } else { mend.text.trim() };
            for row in &mend.rows {
                self.layout.withheld.retain(|cell| cell.row != *row || cell.key != mend.key);
                if let Some(sentence) = sentence.clone() {
                    self.layout.withheld.push(Withheld { row: *row, key: mend.key.clone(), sentence });
                }
                by_row.entry(*row).or_default().push((place, text.to_owned()));
            }
        }
        self.rewrite(|row, cells| {
            for (place, text) in by_row.get(&row).into_iter().flatten() {
                if let Some(cell) = cells.get_mut(*place) {
                    cell.clone_from(text);
                }
            }
        })
    }

    /// Says in which unit the numbers of a column are that has none.
    ///
    /// # Errors
    /// When the text is no longer what was written.
    pub fn give_unit(&mut self, key: &str, unit: &str) -> io::Result<()> {
        let known = variables(self.layout.kind);
        let Some(unit_key) = column(&known, key).and_then(|(variable, _)| variable.unit_key()) else {
            return Ok(());
        };
        let (numbers, units) = (self.place_of(key), self.place_of(&unit_key));
        self.rewrite(|_, cells| {
            let counts = cells.get(numbers).is_some_and(|text| is_reading(text));
            if let Some(cell) = cells.get_mut(units)
                && counts
                && cell.trim().is_empty()
            {
                unit.clone_into(cell);
            }
        })
    }

    /// Leaves out every row but these. The others keep their order and lose their numbers.
    ///
    /// # Errors
    /// When the text is no longer what was written.
    pub fn keep_rows(&mut self, marks: &mut Marked) -> io::Result<()> {
        let mut out = WriterBuilder::new().flexible(true).from_writer(Vec::new());
        out.write_record(self.layout.columns.iter().map(|column| column.key.as_str()))?;
        let mut kept = Marked::new();
        let mut number = 0;
        self.each(|row, record| {
            let Some(sentences) = marks.get(&row) else { return Ok(()) };
            number += 1;
            kept.insert(number, sentences.clone());
            Ok(out.write_record(record)?)
        })?;
        let bytes = out.into_inner().map_err(|error| io::Error::other(error.to_string()))?;
        self.text = String::from_utf8(bytes).map_err(io::Error::other)?;
        *marks = kept;
        Ok(())
    }

    /// The place of a column, which is added if the file did not have it.
    fn place_of(&mut self, key: &str) -> usize {
        let columns = &mut self.layout.columns;
        columns.iter().position(|column| column.key == key).unwrap_or_else(|| {
            columns.push(GivenColumn { given: key.to_owned(), key: key.to_owned() });
            columns.len() - 1
        })
    }

    /// Goes through the rows, counted from 1.
    pub(super) fn each(&self, mut look: impl FnMut(u64, &StringRecord) -> io::Result<()>) -> io::Result<()> {
        let mut reader = ReaderBuilder::new().flexible(true).from_reader(self.text.as_bytes());
        let mut record = StringRecord::new();
        let mut row = 0;
        while reader.read_record(&mut record)? {
            row += 1;
            look(row, &record)?;
        }
        Ok(())
    }

    fn rewrite(&mut self, mut edit: impl FnMut(u64, &mut Vec<String>)) -> io::Result<()> {
        let mut out = WriterBuilder::new().flexible(true).from_writer(Vec::new());
        out.write_record(self.layout.columns.iter().map(|column| column.key.as_str()))?;
        let width = self.layout.columns.len();
        let before = self.text.lines().next().map_or(0, |header| header.split(',').count());
        self.each(|row, record| {
            let mut cells: Vec<String> = record.iter().map(str::to_owned).collect();
            // What stands beyond the columns keeps a row refused, and stays at its end.
            let beyond = cells.split_off(before.min(cells.len()));
            cells.resize(width, String::new());
            edit(row, &mut cells);
            Ok(out.write_record(cells.iter().chain(&beyond))?)
        })?;
        let bytes = out.into_inner().map_err(|error| io::Error::other(error.to_string()))?;
        self.text = String::from_utf8(bytes).map_err(io::Error::other)?;
        Ok(())
    }
}

/// Whether a cell of a quantity holds a number rather than a missing code.
pub(super) fn is_reading(text: &str) -> bool {
    let text = text.trim();
    is_number(text) || text.contains(':')
}
