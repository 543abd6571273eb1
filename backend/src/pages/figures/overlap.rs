//! How likely a case was to be planned without X-ray, by arm: one arm's cases above the line, the
//! other's below, so that what both have in common mirrors itself.

use maud::{Markup, html};

use super::figure::{Size, Svg};
use super::{Axis, number};

/// The picture.
pub(crate) struct OverlapPicture {
    /// Cases of the zero-fluoroscopy arm in classes of the chance from 0 to 1.
    pub(crate) zero: Vec<usize>,
    /// The same of the conventional arm.
    pub(crate) conventional: Vec<usize>,
    /// The range of chances in which both arms have cases.
    pub(crate) shared: Option<(f64, f64)>,
}

const TALLEST: f64 = 110.0;
const TOP: f64 = 30.0;
const MIDDLE: f64 = TOP + TALLEST;
const BASE: f64 = MIDDLE + TALLEST + 26.0;

impl OverlapPicture {
    /// The drawing; each arm's bars are shares of its own cases.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let width = size.width();
        let axis = Axis { values: (0.0, 1.0), pixels: (8.0, width - 24.0) };
        let tallest = shares(&self.zero).chain(shares(&self.conventional)).fold(f64::MIN_POSITIVE, f64::max);
        let bars = |counts: &[usize], class: &str, up: bool| -> Markup {
            let step = 1.0 / counts.len().max(1) as f64;
            html! {
                @for (at, share) in shares(counts).enumerate().filter(|(_, share)| *share > 0.0) {
                    @let (left, right) = (axis.at(step * at as f64) + 1.0, axis.at(step * (at + 1) as f64) - 1.0);
                    @let height = TALLEST * share / tallest;
                    @let y = if up { MIDDLE - height } else { MIDDLE };
                    rect class=(class) x=(number(left)) y=(number(y)) width=(number(right - left)) height=(number(height)) {}
                }
            }
        };
        let content = html! {
            @if let Some((low, high)) = self.shared {
                @let (left, right) = (axis.at(low), axis.at(high));
                rect.side-fill x=(number(left)) y=(number(TOP)) width=(number(right - left)) height=(number(2.0 * TALLEST)) {}
            }
            (bars(&self.zero, "open-bar", true))
            (bars(&self.conventional, "grey-fill", false))
            path.ink d={ "M" (number(axis.at(0.0))) " " (number(MIDDLE)) "H" (number(axis.at(1.0))) } {}
            text.strong.halo x="8" y="18" { "Zero-fluoroscopy" }
            text.strong.halo x="8" y=(number(MIDDLE + TALLEST + 18.0)) { "Conventional" }
            path.ink d={ "M" (number(axis.at(0.0))) " " (number(BASE)) "H" (number(axis.at(1.0))) } {}
            @for quarter in 0..=4_u32 {
                @let x = axis.at(f64::from(quarter) / 4.0);
                @let anchor = match quarter { 0 => "start", 4 => "end", _ => "middle" };
                path.ink d={ "M" (number(x)) " " (number(BASE)) "v6" } {}
                text x=(number(x)) y=(number(BASE + 22.0)) text-anchor=(anchor) { (25 * quarter) " %" }
            }
            text.quiet x=(number(width / 2.0)) y=(number(BASE + 44.0)) text-anchor="middle" { "chance of zero-fluoroscopy" }
        };
        Svg { width, height: BASE + 50.0, content }
    }
}

/// Each class as a share of all.
fn shares(counts: &[usize]) -> impl Iterator<Item = f64> {
    let all = counts.iter().sum::<usize>().max(1) as f64;
    counts.iter().map(move |count| *count as f64 / all)
}
