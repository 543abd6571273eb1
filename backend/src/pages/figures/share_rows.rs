//! Shares from none to all, each with its limits.

use maud::html;
use quietbeam_analysis::study::own_picture::Interval;

use super::figure::{Size, Svg};
use super::hatch::not_shown;
use super::rows::Rows;
use super::{Axis, number};

/// One share.
pub(crate) struct ShareRow {
    /// Of what.
    pub(crate) label: String,
    /// The share; `None` where it is not shown.
    pub(crate) share: Option<Interval>,
    /// What is said beside it.
    pub(crate) value: String,
}

/// The shares.
pub(crate) struct ShareRows(pub(crate) Vec<ShareRow>);

impl ShareRows {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let rows = Rows::new(size);
        let axis = Axis { values: (0.0, 1.0), pixels: rows.stretch() };
        let (from, to) = axis.pixels;
        let bottom = rows.height(self.0.len());
        let content = html! {
            @for (at, row) in self.0.iter().enumerate() {
                @let y = number(rows.middle(at));
                (rows.label(at, &row.label))
                @match &row.share {
                    Some(share) => {
                        path.hair stroke-width="1.2" d={ "M" (number(from)) " " (y) "H" (number(to)) } {}
                        path.ink stroke-width="2" d={ "M" (number(axis.at(share.lower))) " " (y) "H" (number(axis.at(share.upper))) } {}
                        circle.ink-fill cx=(number(axis.at(share.estimate))) cy=(y) r="5" {}
                        (rows.value(at, &row.value))
                    },
                    None => (not_shown(from, rows.middle(at) - 11.0, to - from, 22.0)),
                }
            }
            path.ink d={ "M" (number(from)) " " (number(bottom)) "H" (number(to)) } {}
            @for tick in [0.0, 0.5, 1.0] {
                path.ink d={ "M" (number(axis.at(tick))) " " (number(bottom)) "v5" } {}
                @let anchor = if tick == 0.0 { "start" } else if tick == 1.0 { "end" } else { "middle" };
                text x=(number(axis.at(tick))) y=(number(bottom + 21.0)) text-anchor=(anchor) { (number(100.0 * tick)) " %" }
            }
        };
        Svg { width: size.width(), height: bottom + 28.0, content }
    }
}
