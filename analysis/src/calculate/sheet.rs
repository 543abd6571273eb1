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
        let names = places.read.iter().map(|(name, _)| name.clone()).collect();
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
            return Err(at(line, None, wrong));
        }
        match self.calculation.shape() {
            Shape::Row => {
                self.add(line, row);
                self.finish()
            }
            Shape::Set => {
                let set = self.set_of(line, row)?;
                let done = if self.set.as_ref() == Some(&set) { Ok(None) } else { self.next_set(line, set) };
                // Whatever is wrong with the set before, this row belongs to the next.
                self.add(line, row);
                done
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
        let lines = self.calculation.run(&self.table).map_err(|trouble| self.to_blame(trouble));
        self.table.clear();
        Ok(Some(Results { lines: lines?, carried: std::mem::take(&mut self.carried) }))
    }

    /// A value that stands beside the rows is on no line.
    fn to_blame(&self, trouble: Trouble) -> Trouble {
        let beside = |(name, origin): &(String, Origin)| {
            matches!(origin, Origin::Fixed(_)) && trouble.column.as_ref() == Some(name)
        };
        let line = if self.places.read.iter().any(beside) { None } else { trouble.line };
        Trouble { line, ..trouble }
    }

    fn next_set(&mut self, line: u64, set: String) -> Result<Option<Results>, Trouble> {
        let is_new = self.seen.note(&set);
        let done = self.finish();
        let wrong = Wrong::SetComesBack(Shown::of(&set));
        self.set = Some(set);
        if is_new { done } else { Err(at(line, Some("set_id"), wrong)) }
    }

    /// The set of a row; all rows are one set where no column names it.
    fn set_of(&self, line: u64, row: &[&str]) -> Result<String, Trouble> {
        let origin = self.places.read.iter().find(|(name, _)| name == "set_id");
        let Some((_, Origin::Place(place))) = origin else { return Ok(String::new()) };
        match row[*place].trim() {
            "" => Err(at(line, Some("set_id"), Wrong::Blank("the name of the set"))),
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

fn at(line: u64, column: Option<&str>, wrong: Wrong) -> Trouble {
    Trouble { line: Some(line), column: column.map(str::to_owned), wrong }
}
