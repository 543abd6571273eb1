//! Counts of events in one group.

use std::num::NonZeroU32;

use super::column::Column;
use super::input::Input;
use super::table::{Row, Table};
use super::trouble::{Trouble, Wrong};
use crate::methods::counts::{CountError, EventCount};

/// Two columns that make one count.
pub(super) fn count(row: Row<'_>, events: &str, total: &str) -> Result<EventCount, Trouble> {
    let (x, n) = (row.whole(events)?, row.whole(total)?);
    EventCount::new(x, n).map_err(|error| to_blame(row, events, total, error))
}

/// The same, where a group without cases is ordinary.
pub(super) fn count_if_any(row: Row<'_>, events: &str, total: &str) -> Result<Option<EventCount>, Trouble> {
    let (x, n) = (row.whole(events)?, row.whole(total)?);
    EventCount::if_any(x, n).map_err(|error| to_blame(row, events, total, error))
}

fn to_blame(row: Row<'_>, events: &str, total: &str, error: CountError) -> Trouble {
    let column = match error {
        CountError::NoCases => total,
        CountError::MoreEventsThanCases { .. } => events,
    };
    row.trouble(column, Wrong::Count { error })
}

impl Input for EventCount {
    fn columns() -> Vec<Column> {
        vec![Column::value("x", "the number of events"), Column::value("n", "the number of cases, from 1")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        count(table.first(), "x", "n")
    }
}

/// A number of cases.
impl Input for NonZeroU32 {
    fn columns() -> Vec<Column> {
        vec![Column::value("n", "the number of cases, from 1")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let row = table.first();
        NonZeroU32::new(row.whole("n")?)
            .ok_or_else(|| row.trouble("n", Wrong::Count { error: CountError::NoCases }))
    }
}
