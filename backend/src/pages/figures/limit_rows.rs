//! Shares among limits, a row each: the band that 1 in 500 on target would leave, within it the one
//! that 1 in 20 would leave, the target as a line, the share as a dot. The rows with most cases
//! stand first, so that the bands widen downwards.

use maud::html;

use super::figure::{Size, Svg};
use super::rows::Rows;
use super::{Axis, number};

/// One row.
pub(crate) struct LimitRow {
    /// Whose.
    pub(crate) label: String,
    /// The share.
    pub(crate) share: f64,
    /// What is expected.
    pub(crate) target: f64,
    /// From where to where 19 in 20 on target would lie.
    pub(crate) ordinary: (f64, f64),
    /// From where to where 499 in 500 would.
    pub(crate) far: (f64, f64),
    /// What is said beside it.
    pub(crate) value: String,
}

/// The rows.
pub(crate) struct LimitRows(pub(crate) Vec<LimitRow>);

impl LimitRows {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let rows = Rows::new(size);
        let highest = self.0.iter().map(|row| row.far.1.max(row.share)).fold(0.01, f64::max);
        let top = (highest * 100.0).ceil() / 100.0;
        let axis = Axis { values: (0.0, top), pixels: rows.stretch() };
        let (from, to) = axis.pixels;
        let bottom = rows.height(self.0.len());
        let band = |class: &'static str, limits: (f64, f64), y: f64, height: f64| {
            let (left, right) = (axis.at(limits.0.max(0.0)), axis.at(limits.1.min(top)));
            html! { rect class=(class) x=(number(left)) y=(number(y - height / 2.0)) width=(number(right - left)) height=(number(height)) {} }
        };
        let content = html! {
            @for (at, row) in self.0.iter().enumerate() {
                @let y = rows.middle(at);
                (rows.label(at, &row.label))
                (band("side-fill", row.far, y, 18.0))
                (band("hair-fill", row.ordinary, y, 8.0))
                path.ink stroke-width="1.2" d={ "M" (number(axis.at(row.target))) " " (number(y - 11.0)) "v22" } {}
                circle.ink-fill cx=(number(axis.at(row.share))) cy=(number(y)) r="5" {}
                @if row.share > row.far.1 || row.share < row.far.0 {
                    circle.ink cx=(number(axis.at(row.share))) cy=(number(y)) r="9" {}
                }
                (rows.value(at, &row.value))
            }
            path.ink d={ "M" (number(from)) " " (number(bottom)) "H" (number(to)) } {}
            @for tick in [0.0, top / 2.0, top] {
                path.ink d={ "M" (number(axis.at(tick))) " " (number(bottom)) "v5" } {}
                @let anchor = if tick == 0.0 { "start" } else if tick == top { "end" } else { "middle" };
                text x=(number(axis.at(tick))) y=(number(bottom + 21.0)) text-anchor=(anchor) { (number(100.0 * tick)) " %" }
            }
        };
        Svg { width: size.width(), height: bottom + 28.0, content }
    }
}
