//! Two quantities against each other, both on logarithmic axes, counted in classes: the size
//! of a mark follows the cases of its class.

use maud::{Markup, html};

use super::figure::{Size, Svg};
use super::{LogAxis, number};

/// One class.
#[derive(Debug, Clone, Copy)]
pub(crate) struct GridMark {
    /// Its middle: across, up.
    pub(crate) at: (f64, f64),
    /// Cases of the zero-fluoroscopy arm, and of the conventional.
    pub(crate) cases: (u32, u32),
}

/// The figure.
pub(crate) struct LogGrid {
    /// The marks.
    pub(crate) marks: Vec<GridMark>,
    /// First and last value of the axes.
    pub(crate) across: (f64, f64),
    /// Upwards.
    pub(crate) up: (f64, f64),
    /// The axes in words with their units.
    pub(crate) names: (&'static str, &'static str),
}

impl LogGrid {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let (width, height, largest) = match size {
            Size::Wide => (1_180.0, 460.0, 13.0),
            Size::Narrow => (340.0, 340.0, 7.0),
        };
        let across = LogAxis { values: self.across, pixels: (64.0, width - 24.0) };
        let up = LogAxis { values: self.up, pixels: (height - 60.0, 34.0) };
        let most = self.marks.iter().map(|mark| mark.cases.0.max(mark.cases.1)).max().unwrap_or(1).max(1);
        // Area, not width, follows the number.
        let radius = |cases: u32| 1.5 + largest * (f64::from(cases) / f64::from(most)).sqrt();
        let aside = largest / 2.0;
        let content = html! {
            text.quiet x="0" y="14" { (self.names.1) }
            (self.axes(across, up))
            @for mark in &self.marks {
                @let (x, y) = (across.at(mark.at.0), up.at(mark.at.1));
                @if mark.cases.1 > 0 {
                    @let half = 0.886 * radius(mark.cases.1);
                    rect.ink-fill x=(number(x + aside - half)) y=(number(y - half)) width=(number(2.0 * half)) height=(number(2.0 * half)) {}
                }
                @if mark.cases.0 > 0 { circle.zf cx=(number(x - aside)) cy=(number(y)) r=(number(radius(mark.cases.0))) {} }
            }
            text.quiet x=(number((across.pixels.0 + across.pixels.1) / 2.0)) y=(number(height - 8.0)) text-anchor="middle" { (self.names.0) }
        };
        Svg { width, height, content }
    }

    fn axes(&self, across: LogAxis, up: LogAxis) -> Markup {
        let (left, right) = across.pixels;
        let (bottom, top) = up.pixels;
        html! {
            path.ink d={ "M" (number(left)) " " (number(top)) "V" (number(bottom)) "H" (number(right)) } {}
            @for tick in across.decades() {
                path.ink d={ "M" (number(across.at(tick))) " " (number(bottom)) "v6" } {}
                text x=(number(across.at(tick))) y=(number(bottom + 22.0)) text-anchor="middle" { (tick) }
            }
            @for tick in up.decades() {
                path.ink d={ "M" (number(left)) " " (number(up.at(tick))) "h-6" } {}
                text x=(number(left - 10.0)) y=(number(up.at(tick) + 5.0)) text-anchor="end" { (tick) }
            }
        }
    }
}
