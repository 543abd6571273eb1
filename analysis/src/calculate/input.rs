//! What a calculation reads: a type of the methods, and the columns it is made from.

use super::calculation::Shape;
use super::column::Column;
use super::table::Table;
use super::trouble::Trouble;
use crate::methods::interval::Confidence;
use crate::methods::non_inferiority::{Margin, MarginSize};
use crate::methods::null_test::{NullDifference, NullRatio};
use crate::methods::ratio_margin::RatioMargin;
use crate::methods::sample::Probability;

/// Something that can be read from a row or from the rows of a set.
pub(super) trait Input: Sized {
    /// Whether one row is enough.
    const SHAPE: Shape = Shape::Row;

    /// The columns it is read from.
    fn columns() -> Vec<Column>;

    /// Reads it.
    ///
    /// # Errors
    /// A value that cannot be taken.
    fn read(table: &Table) -> Result<Self, Trouble>;
}

impl Input for Confidence {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("level", "a two-sided confidence level such as 0.95").or("0.95")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("level")?.checked("level", Confidence::new)
    }
}

impl Input for NullDifference {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("null", "a difference under test such as -0.03, between -1 and 1")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("null")?.checked("null", NullDifference::new)
    }
}

impl Input for NullRatio {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("null", "a ratio under test such as 1.5")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("null")?.checked("null", NullRatio::new)
    }
}

/// Which way an outcome should go.
#[derive(Clone, Copy)]
enum Outcome {
    Benefit,
    Harm,
}

const OUTCOME: &str = "benefit (more is better) or harm (more is worse)";

fn outcome(table: &Table) -> Result<Outcome, Trouble> {
    let words = [("benefit", Outcome::Benefit), ("harm", Outcome::Harm)];
    table.parameter("outcome")?.one_of("outcome", OUTCOME, &words)
}

impl Input for Margin {
    fn columns() -> Vec<Column> {
        vec![
            Column::parameter("outcome", OUTCOME),
            Column::parameter("margin", "the largest acceptable loss without sign, such as 0.03"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let size = table.parameter("margin")?.checked("margin", MarginSize::new)?;
        Ok(match outcome(table)? {
            Outcome::Benefit => Margin::Benefit(size),
            Outcome::Harm => Margin::Harm(size),
        })
    }
}

impl Input for RatioMargin {
    fn columns() -> Vec<Column> {
        vec![
            Column::parameter("outcome", OUTCOME),
            Column::parameter(
                "margin",
                "the ratio just unacceptable: below 1 for a benefit, above 1 for a harm",
            ),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let rule = match outcome(table)? {
            Outcome::Benefit => RatioMargin::for_benefit,
            Outcome::Harm => RatioMargin::for_harm,
        };
        table.parameter("margin")?.checked("margin", rule)
    }
}

impl Input for Probability {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("probability", "a probability such as 0.25")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("probability")?.checked("probability", Probability::new)
    }
}
