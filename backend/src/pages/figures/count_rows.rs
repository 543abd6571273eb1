//! Bars of counts.

use maud::html;

use super::figure::{Size, Svg};
use super::hatch::not_shown;
use super::rows::Rows;
use super::{Axis, number};

/// One bar.
pub(crate) struct CountRow {
    /// What is counted.
    pub(crate) label: String,
    /// How many.
    pub(crate) count: u32,
    /// What is said beside it.
    pub(crate) value: String,
}

/// The bars, on one scale.
pub(crate) struct CountRows(pub(crate) Vec<CountRow>);

impl CountRows {
    /// The drawing where too few cases stand behind it.
    pub(crate) fn not_shown(size: Size) -> Svg {
        let rows = Rows::new(size);
        let (from, to) = rows.stretch();
        let content = not_shown(from, 2.0, to - from, rows.height(1) - 4.0);
        Svg { width: size.width(), height: rows.height(1), content }
    }

    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let rows = Rows::new(size);
        let most = self.0.iter().map(|row| row.count).max().unwrap_or(0).max(1);
        let axis = Axis { values: (0.0, f64::from(most)), pixels: rows.stretch() };
        let content = html! {
            @for (at, row) in self.0.iter().enumerate() {
                (rows.label(at, &row.label))
                rect.ink-fill x=(number(axis.at(0.0))) y=(number(rows.middle(at) - 8.0))
                    width=(number(axis.at(f64::from(row.count)) - axis.at(0.0))) height="16" {}
                (rows.value(at, &row.value))
            }
            (rows.base(self.0.len()))
        };
        Svg { width: size.width(), height: rows.height(self.0.len()), content }
    }
}
