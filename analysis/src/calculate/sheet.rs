//! Rows in, results out, as they come: the memory of one set at a time.

use super::calculation::{Calculation, Shape};
use super::line::Line;
use super::place::{HeaderError, Origin, Places};
use super::seen::Seen;
use super::table::Table;
use super::trouble::{Shown, Trouble, Wrong};

/// A calculation with a header, ready for rows.
#[derive(Debug)]
pub struct Sheet<'c> {
    calculation: &'c Calculation,
    places: Places,
    width: usize,
    table: Table,
    carried: Vec<String>,
    set: Option<String>,
    seen: Seen,
}

/// What came out of one row or one set.
#[derive(Clone, Debug, PartialEq)]
pub struct Results {
    carried: Vec<String>,
    lines: Vec<Line>,
}

impl Results {
    /// The rows of the result, a text for each column of the header.
    pub fn rows(&self) -> impl Iterator<Item = Vec<String>> {
        let whole = |line: &Line| {
            let own = line.cells.iter().map(super::line::Cell::text);
            self.carried.iter().cloned().chain(own).collect()
        };
        self.lines.iter().map(whole)
    }

    /// What is carried through, the same for every row.
    pub fn carried(&self) -> &[String] {
        &self.carried
    }

    /// The rows of the result.
    pub fn lines(&self) -> &[Line] {
        &self.lines
    }
}

impl std::fmt::Debug for Calculation {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

impl<'c> Sheet<'c> {
    /// A calculation of rows with this header; `given` are parameters that stand beside them.
    ///
    /// # Errors
    /// A header that the calculation cannot begin with.
    pub fn new(
        calculation: &'c Calculation,
        header: &[&str],
        given: &[(String, String)],
    ) -> Result<Self, HeaderError> {
        let places = Places::of(calculation, header, given)?;
        let names = places.read.iter().map(|(name, _)| (*name).to_owned()).collect();
        let (table, width) = (Table::of(names), header.len());
        let (carried, set, seen) = (Vec::new(), None, Seen::default());
        Ok(Self { calculation, places, width, table, carried, set, seen })
    }

    /// The columns of the result.
    pub fn header(&self) -> &[String] {
        &self.places.header
    }

    /// Columns of the rows that are not carried through, because the result has its own.
    pub fn replaced(&self) -> &[String] {
        &self.places.replaced
    }

    /// Takes a row. A row by itself has its result at once; a set when the next one begins.
    ///
    /// # Errors
    /// The row, or the set before it, cannot be read.
    pub fn take(&mut self, line: u64, row: &[&str]) -> Result<Option<Results>, Trouble> {
        if row.len() != self.width {
            let wrong = Wrong::Ragged { found: row.len(), expected: self.width };
            return Err(Trouble { line, column: None, wrong });
        }
        match self.calculation.shape() {
            Shape::Row => {
                self.add(line, row);
                self.finish()
            }
            Shape::Set => {
                let set = self.set_of(line, row)?;
                let done = if self.set.as_ref() == Some(&set) { None } else { self.next_set(line, set)? };
                self.add(line, row);
                Ok(done)
            }
        }
    }

    /// The result of the last rows.
    ///
    /// # Errors
    /// They cannot be read.
    pub fn finish(&mut self) -> Result<Option<Results>, Trouble> {
        if self.table.is_empty() {
            return Ok(None);
        }
        let lines = self.calculation.run(&self.table);
        self.table.clear();
        Ok(Some(Results { lines: lines?, carried: std::mem::take(&mut self.carried) }))
    }

    fn next_set(&mut self, line: u64, set: String) -> Result<Option<Results>, Trouble> {
        if !self.seen.note(&set) {
            let wrong = Wrong::SetComesBack(Shown::of(&set));
            return Err(Trouble { line, column: Some("set_id".to_owned()), wrong });
        }
        self.set = Some(set);
        self.finish()
    }

    /// The set of a row; all rows are one set where no column names it.
    fn set_of(&self, line: u64, row: &[&str]) -> Result<String, Trouble> {
        let origin = self.places.read.iter().find(|(name, _)| *name == "set_id");
        let Some((_, Origin::Place(place))) = origin else { return Ok(String::new()) };
        match row[*place].trim() {
            "" => {
                let wrong = Wrong::Blank("the name of the set");
                Err(Trouble { line, column: Some("set_id".to_owned()), wrong })
            }
            set => Ok(set.to_owned()),
        }
    }

    fn add(&mut self, line: u64, row: &[&str]) {
        let cells = self.places.read.iter().map(|(_, origin)| match origin {
            Origin::Place(place) => row[*place],
            Origin::Fixed(text) => text.as_str(),
        });
        let first = self.table.is_empty();
        self.table.push(line, cells);
        if first {
            let fixed = self.places.read.iter().filter_map(|(_, origin)| match origin {
                Origin::Fixed(text) => Some(text.clone()),
                Origin::Place(_) => None,
            });
            self.carried =
                self.places.carried.iter().map(|place| row[*place].to_owned()).chain(fixed).collect();
            return;
        }
        // What differs within a set says nothing about the set.
        for (kept, place) in self.carried.iter_mut().zip(&self.places.carried) {
            if kept != row[*place] {
                kept.clear();
            }
        }
    }
}
