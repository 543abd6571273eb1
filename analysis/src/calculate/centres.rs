//! One count of events for each centre.

use super::calculation::Shape;
use super::column::Column;
use super::count::count;
use super::input::Input;
use super::named::named;
use super::table::Table;
use super::trouble::Trouble;
use crate::methods::counts::EventCount;

/// The centres of one set, with their names.
pub(super) struct Centres {
    pub(super) names: Vec<String>,
    pub(super) counts: Vec<EventCount>,
}

impl Input for Centres {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![
            Column::value("centre", "the name of the centre, once in a set").optional(),
            Column::value("x", "events at the centre"),
            Column::value("n", "cases of the centre, from 1"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let (names, counts) = named(table, "centre", |row| count(row, "x", "n"))?.into_iter().unzip();
        Ok(Self { names, counts })
    }
}
