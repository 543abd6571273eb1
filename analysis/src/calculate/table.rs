//! The rows of one calculation as text, and the typed reading of them.

use super::trouble::{Shown, Trouble, Wrong};

/// Rows that are calculated together: one row, or the rows of one set.
///
/// All text stands in one buffer, so that a set of a million rows is not a million allocations.
#[derive(Debug, Default)]
pub(super) struct Table {
    names: Vec<String>,
    text: String,
    ends: Vec<usize>,
    lines: Vec<u64>,
}

impl Table {
    pub(super) fn of(names: Vec<String>) -> Self {
        Self { names, ..Self::default() }
    }

    /// Adds a row: one cell for each column, in their order.
    pub(super) fn push<'a>(&mut self, line: u64, cells: impl Iterator<Item = &'a str>) {
        for cell in cells {
            self.text.push_str(cell.trim());
            self.ends.push(self.text.len());
        }
        self.lines.push(line);
    }

    pub(super) fn clear(&mut self) {
        self.text.clear();
        self.ends.clear();
        self.lines.clear();
    }

    pub(super) fn is_empty(&self) -> bool {
        self.lines.is_empty()
    }

    pub(super) fn has(&self, column: &str) -> bool {
        self.names.iter().any(|name| name == column)
    }

    /// The rows in their order.
    pub(super) fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        (0..self.lines.len()).map(|number| Row { table: self, number })
    }

    /// The first row, which is the only one where rows stand for themselves.
    pub(super) fn first(&self) -> Row<'_> {
        Row { table: self, number: 0 }
    }

    /// The row that speaks for all about a parameter.
    pub(super) fn parameter(&self, column: &'static str) -> Result<Row<'_>, Trouble> {
        let first = self.first();
        let said = first.text(column);
        match self.rows().find(|row| row.text(column) != said) {
            None => Ok(first),
            Some(other) => {
                let wrong = Wrong::Differs(Shown::of(other.text(column)), Shown::of(said), first.line());
                Err(other.trouble(column, wrong))
            }
        }
    }
}

/// One row.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row<'t> {
    table: &'t Table,
    number: usize,
}

impl<'t> Row<'t> {
    /// The line it stands on.
    pub(super) fn line(self) -> u64 {
        self.table.lines.get(self.number).copied().unwrap_or_default()
    }

    /// The text in a column; blank where the column is absent.
    pub(super) fn text(self, column: &str) -> &'t str {
        let Some(place) = self.table.names.iter().position(|name| name == column) else { return "" };
        let cell = self.number * self.table.names.len() + place;
        let Some(&end) = self.table.ends.get(cell) else { return "" };
        let start = cell.checked_sub(1).map_or(0, |before| self.table.ends[before]);
        &self.table.text[start..end]
    }

    pub(super) fn trouble(self, column: &str, wrong: Wrong) -> Trouble {
        Trouble { line: Some(self.line()), column: Some(column.to_owned()), wrong }
    }

    /// Text that must be there.
    pub(super) fn filled(self, column: &str, takes: &'static str) -> Result<&'t str, Trouble> {
        match self.text(column) {
            "" => Err(self.trouble(column, Wrong::Blank(takes))),
            text => Ok(text),
        }
    }

    /// A whole number from 0; `1e+05` and `12.0` are whole, as other programs write them.
    pub(super) fn whole(self, column: &str) -> Result<u32, Trouble> {
        const TAKES: &str = "a whole number from 0 to 4294967295";
        let text = self.filled(column, TAKES)?;
        if let Ok(number) = text.parse::<u32>() {
            return Ok(number);
        }
        match text.parse::<f64>() {
            Ok(number) if number.fract() == 0.0 && (0.0..=f64::from(u32::MAX)).contains(&number) => {
                // Exact: whole and within range.
                Ok(number as u32)
            }
            _ => {
                let mend = "count cases, and leave rows with a missing count out";
                Err(self.trouble(column, Wrong::NotTaken(Shown::of(text), TAKES, mend)))
            }
        }
    }

    /// A number, neither infinite nor NaN.
    pub(super) fn number(self, column: &str) -> Result<f64, Trouble> {
        const TAKES: &str = "a number";
        let text = self.filled(column, TAKES)?;
        match text.parse::<f64>() {
            Ok(number) if number.is_finite() => Ok(number),
            _ => {
                let mend = "decimals take a point, and a row whose value is missing is left out";
                Err(self.trouble(column, Wrong::NotTaken(Shown::of(text), TAKES, mend)))
            }
        }
    }

    /// A number that a rule accepts.
    pub(super) fn checked<T, E: Into<Wrong>>(
        self,
        column: &str,
        rule: impl Fn(f64) -> Result<T, E>,
    ) -> Result<T, Trouble> {
        rule(self.number(column)?).map_err(|error| self.trouble(column, error.into()))
    }

    /// One of some words.
    pub(super) fn one_of<T: Copy>(
        self,
        column: &str,
        takes: &'static str,
        words: &[(&str, T)],
    ) -> Result<T, Trouble> {
        let text = self.filled(column, takes)?;
        let known = words.iter().find(|(word, _)| *word == text);
        known.map(|(_, meaning)| *meaning).ok_or_else(|| {
            self.trouble(column, Wrong::NotTaken(Shown::of(text), takes, "write it as it stands here"))
        })
    }
}
