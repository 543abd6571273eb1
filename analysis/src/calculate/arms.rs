//! Counts of two arms, and of two arms in strata.

use super::calculation::Shape;
use super::column::Column;
use super::count::{count, count_if_any};
use super::input::Input;
use super::table::{Row, Table};
use super::trouble::{Shown, Trouble, Wrong};
use crate::methods::counts::{Stratum, TwoArms};
use std::collections::BTreeMap;

impl Input for TwoArms {
    fn columns() -> Vec<Column> {
        vec![
            Column::value("x1", "events of the first arm"),
            Column::value("n1", "cases of the first arm, from 1"),
            Column::value("x2", "events of the second arm"),
            Column::value("n2", "cases of the second arm, from 1"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let row = table.first();
        Ok(Self { first: count(row, "x1", "n1")?, second: count(row, "x2", "n2")? })
    }
}

/// The strata of one set.
pub(super) struct Strata(pub(super) Vec<Stratum>);

impl Input for Strata {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![
            Column::value("stratum", "the name of the stratum, once in a set").optional(),
            Column::value("x1", "events of the first arm"),
            Column::value("n1", "cases of the first arm, from 0"),
            Column::value("x2", "events of the second arm"),
            Column::value("n2", "cases of the second arm, from 0"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let mut known = BTreeMap::new();
        let one = |row: Row<'_>| {
            if table.has("stratum") {
                let name = row.filled("stratum", "the name of the stratum")?;
                if let Some(line) = known.insert(name.to_owned(), row.line()) {
                    return Err(row.trouble("stratum", Wrong::StratumTwice(Shown::of(name), line)));
                }
            }
            let (first, second) = (count_if_any(row, "x1", "n1")?, count_if_any(row, "x2", "n2")?);
            Ok(Stratum { first, second })
        };
        table.rows().map(one).collect::<Result<_, _>>().map(Self)
    }
}
