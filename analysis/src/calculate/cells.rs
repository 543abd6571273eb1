//! A result type as named cells.

use super::column::Output;
use super::line::Cell;

/// A result that fills one row.
pub(super) trait Cells {
    /// Its columns.
    const COLUMNS: &'static [Output];

    /// One cell for each column.
    fn cells(&self) -> Vec<Cell>;

    /// What a reader must know about a blank cell.
    fn remark(&self) -> Option<&'static str> {
        None
    }
}

/// A number as a cell. What is no number has no cell: a method answers with a reason instead.
pub(super) fn number(value: f64) -> Cell {
    if value.is_nan() {
        Cell::Blank
    } else if value == f64::INFINITY {
        Cell::Unbounded
    } else {
        Cell::Number(value)
    }
}

/// The one number of a method that gives no more.
pub(super) struct Estimate(pub(super) f64);

impl Cells for Estimate {
    const COLUMNS: &'static [Output] = &[Output::new("estimate", "the value")];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.0)]
    }
}

/// The one-sided p value of a method that gives no more.
pub(super) struct OneSidedP(pub(super) f64);

impl Cells for OneSidedP {
    const COLUMNS: &'static [Output] = &[Output::new("p", "one-sided p value")];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.0)]
    }
}

/// The proportions of both arms.
pub(super) struct TwoProportions(pub(super) (f64, f64));

impl Cells for TwoProportions {
    const COLUMNS: &'static [Output] = &[
        Output::new("restricted_p1", "proportion of the first arm"),
        Output::new("restricted_p2", "proportion of the second arm"),
    ];

    fn cells(&self) -> Vec<Cell> {
        vec![number((self.0).0), number((self.0).1)]
    }
}
