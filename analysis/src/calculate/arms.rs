//! Counts of two arms, and of two arms in strata.

use super::calculation::Shape;
use super::column::Column;
use super::count::{count, count_if_any};
use super::input::Input;
use super::named::named;
use super::table::{Row, Table};
use super::trouble::Trouble;
use crate::methods::counts::{Stratum, TwoArms};

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

/// The strata of one set, with their names.
pub(super) struct Strata {
    pub(super) names: Vec<String>,
    pub(super) counts: Vec<Stratum>,
}

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
        let arms = |row: Row<'_>| {
            Ok(Stratum { first: count_if_any(row, "x1", "n1")?, second: count_if_any(row, "x2", "n2")? })
        };
        let (names, counts) = named(table, "stratum", arms)?.into_iter().unzip();
        Ok(Self { names, counts })
    }
}
