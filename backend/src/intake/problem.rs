//! One line of the report: where in a file, what is wrong, how to mend it.

use super::FileKind;
use quietbeam_schema::finding::Weight;
use serde::Serialize;
use std::fmt;

/// A row of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
pub struct At {
    /// The data row, counted from 1; 0 is the header.
    pub row: u64,
    /// The line of the file on which the row begins, counted from 1. It runs
    /// ahead of the row where texts hold line breaks or lines are blank.
    pub line: u64,
}

impl At {
    /// The header.
    pub const HEADER: Self = Self { row: 0, line: 1 };
}

impl fmt::Display for At {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.row {
            0 => f.write_str("header"),
            row => write!(f, "row {row} (line {})", self.line),
        }
    }
}

/// One thing that is wrong, or to answer, in a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// Which file.
    pub file: FileKind,
    /// Which row.
    #[serde(flatten)]
    pub at: At,
    /// Which column, where one can be named.
    pub column: Option<String>,
    /// The rule that found it.
    pub rule: &'static str,
    /// Must it be mended, or answered?
    pub weight: Weight,
    /// What is wrong and how to mend it.
    pub sentence: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let weight = match self.weight {
            Weight::Hard => "refused",
            Weight::Query => "to answer",
        };
        write!(f, "{weight}: {} {}", self.file, self.at)?;
        if let Some(column) = &self.column {
            write!(f, ", {column}")?;
        }
        write!(f, ": {}", self.sentence)
    }
}
