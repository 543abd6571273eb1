//! Names of centres and strata, each once in a set.

use super::answer::Key;
use super::column::Output;
use super::table::{Row, Table};
use super::trouble::{Shown, Trouble, Wrong};
use std::collections::BTreeMap;

/// Centres, one a row.
pub(super) struct Centre;

impl Key for Centre {
    const COLUMN: Output = Output::new("centre", "the centre that the row is about");
}

/// Strata, one a row.
pub(super) struct OfStratum;

impl Key for OfStratum {
    const COLUMN: Output = Output::new("stratum", "the stratum that the row is about");
}

/// What the rows of a set say, each with its name in a column, or with its number without one.
pub(super) fn named<T>(
    table: &Table,
    column: &'static str,
    value: impl Fn(Row<'_>) -> Result<T, Trouble>,
) -> Result<Vec<(String, T)>, Trouble> {
    let mut known = BTreeMap::new();
    let one = |(place, row): (usize, Row<'_>)| {
        if !table.has(column) {
            return Ok(((place + 1).to_string(), value(row)?));
        }
        let name = row.filled(column, "a name")?.to_owned();
        match known.insert(name.clone(), row.line()) {
            Some(line) => Err(row.trouble(column, Wrong::Twice(Shown::of(&name), line))),
            None => Ok((name, value(row)?)),
        }
    };
    table.rows().enumerate().map(one).collect()
}
