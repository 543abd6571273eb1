//! Fields as strands: continuous as far as they are filled, dotted where they are empty.

use maud::html;
use quietbeam_analysis::study::numerals::count;

use super::figure::{Size, Svg};
use super::rows::Rows;
use super::{Axis, number};

/// One field.
pub(crate) struct FillRow {
    /// Its label.
    pub(crate) label: String,
    /// How often it was filled.
    pub(crate) filled: u32,
    /// How often it was asked for.
    pub(crate) of: u32,
}

/// The fields.
pub(crate) struct FillRows(pub(crate) Vec<FillRow>);

impl FillRows {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let rows = Rows::new(size);
        let axis = Axis { values: (0.0, 1.0), pixels: rows.stretch() };
        let content = html! {
            @for (at, row) in self.0.iter().enumerate() {
                @let (y, share) = (number(rows.middle(at)), f64::from(row.filled) / f64::from(row.of.max(1)));
                @let [from, until, to] = [0.0, share, 1.0].map(|part| number(axis.at(part)));
                (rows.label(at, &row.label))
                path.edge.dotted stroke-width="2.4" d={ "M" (until) " " (y) "H" (to) } {}
                path.ink stroke-width="4" d={ "M" (from) " " (y) "H" (until) } {}
                (rows.value(at, &format!("{} of {}", count(row.filled), count(row.of))))
            }
        };
        Svg {
            width: size.width(),
            height: if self.0.is_empty() { 1.0 } else { rows.height(self.0.len()) },
            content,
        }
    }
}
