//! Denominators quarter by quarter: performed is the outline, eligible the pale fill,
//! submitted the dark one; all quarters on one scale.

use maud::html;

use super::figure::{Size, Svg};
use super::rows::Rows;
use super::{Axis, number};

/// One quarter.
pub(crate) struct QuarterRow {
    /// The quarter.
    pub(crate) label: String,
    /// Performed, eligible, submitted; `None` where the log has no line.
    pub(crate) counts: Option<[u32; 3]>,
    /// What is said beside it.
    pub(crate) value: String,
    /// Something is to be answered: too few were sent in.
    pub(crate) to_answer: bool,
}

/// The quarters.
pub(crate) struct QuarterRows(pub(crate) Vec<QuarterRow>);

impl QuarterRows {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let rows = Rows::new(size);
        let most =
            self.0.iter().filter_map(|row| row.counts).map(|[performed, ..]| performed).max().unwrap_or(0);
        let axis = Axis { values: (0.0, f64::from(most.max(1))), pixels: rows.stretch() };
        let from = axis.at(0.0);
        let content = html! {
            @for (at, row) in self.0.iter().enumerate() {
                @let y = rows.middle(at) - 9.0;
                (rows.label(at, &row.label))
                @if let Some(counts) = row.counts {
                    @let [performed, eligible, submitted] = counts.map(|count| number(axis.at(f64::from(count)) - from));
                    rect.hair-fill x=(number(from)) y=(number(y)) width=(eligible) height="18" {}
                    rect.act-fill x=(number(from)) y=(number(y)) width=(submitted) height="18" {}
                    rect.edge x=(number(from)) y=(number(y)) width=(performed) height="18" {}
                }
                @if row.to_answer {
                    @let (x, up) = if size == Size::Wide { (304.0, 0.0) } else { (322.0, -26.0) };
                    path.query-line d={ "M" (number(x)) " " (number(y + up + 4.0)) "h4l4 10 4-10h4" } {}
                    text.query x=(number(x - 8.0)) y=(number(y + up + 14.0)) text-anchor="end" { "to answer" }
                }
                (rows.value(at, &row.value))
            }
        };
        Svg { width: size.width(), height: rows.height(self.0.len()), content }
    }
}
