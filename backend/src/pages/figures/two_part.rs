//! Dose in two parts, a row for each intended strategy: left the share without X-ray, right
//! the air kerma of the others on a logarithmic axis. Zeros never stand on it.

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::{count, measured, percent};
use quietbeam_analysis::study::own_picture::{BIN_RANGE_MGY, BINS, DoseSpread};
use quietbeam_schema::vocabulary::Strategy;

use super::figure::{Size, Svg};
use super::hatch::not_shown;
use super::{LogAxis, number};
use crate::pages::components::arm_shape;

/// One row.
pub(crate) struct DoseRow<'a> {
    /// The strategy.
    pub(crate) strategy: Strategy,
    /// Its name.
    pub(crate) name: String,
    /// Its doses.
    pub(crate) spread: &'a DoseSpread,
}

/// The rows on a common axis.
pub(crate) struct TwoPart<'a>(pub(crate) Vec<DoseRow<'a>>);

/// The height of a row, and of the tallest bar in it.
const ROW: f64 = 168.0;
const TALLEST: f64 = 84.0;

impl TwoPart<'_> {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let width = size.width();
        let (column, from) = match size {
            Size::Wide => ((24.0, 84.0), 200.0),
            Size::Narrow => ((4.0, 40.0), 84.0),
        };
        let axis = LogAxis { values: BIN_RANGE_MGY, pixels: (from, width - 16.0) };
        let height = ROW * self.0.len() as f64;
        let content = html! {
            @for (at, row) in self.0.iter().enumerate() {
                @let top = ROW * at as f64;
                svg x="0" y=(number(top + 1.0)) width="22" height="22" { (arm_shape(row.strategy)) }
                text.strong x="26" y=(number(top + 17.0)) { (row.name) }
                (without(row.spread, column, top + ROW - 24.0))
                (exposed(row, axis, top + ROW - 24.0))
            }
            (scale(axis, size, height - 24.0))
            text x=(number((column.0 + column.1) / 2.0)) y=(number(height - 4.0)) text-anchor="middle" { "no X-ray" }
        };
        Svg { width, height: height + 28.0, content }
    }
}

/// The column of cases without X-ray.
fn without(spread: &DoseSpread, (left, right): (f64, f64), base: f64) -> Markup {
    let width = right - left;
    html! {
        @match spread.no_x_ray.and_then(|share| share.proportion) {
            Some(share) => {
                @let height = 1.0_f64.max(TALLEST * share.estimate);
                rect.grey-bar x=(number(left)) y=(number(base - height)) width=(number(width)) height=(number(height)) {}
                text.strong x=(number(left + width / 2.0)) y=(number(base - height - 7.0)) text-anchor="middle" {
                    (percent(share.estimate, 0))
                }
            },
            None => (not_shown(left, base - TALLEST, width, TALLEST)),
        }
        path.ink d={ "M" (number(left - 8.0_f64.min(left))) " " (number(base)) "H" (number(right + 8.0)) } {}
    }
}

/// The doses of the others.
fn exposed(row: &DoseRow<'_>, axis: LogAxis, base: f64) -> Markup {
    let (from, to) = axis.pixels;
    let step = (to - from) / BINS as f64;
    let class = if row.strategy == Strategy::Conventional { "ink-fill" } else { "open-bar" };
    html! {
        @match &row.spread.air_kerma_mgy {
            Some(doses) => {
                @let most = f64::from(doses.bins.iter().copied().max().unwrap_or(0).max(1));
                @for (at, cases) in doses.bins.iter().enumerate().filter(|(_, cases)| **cases > 0) {
                    @let height = TALLEST * f64::from(*cases) / most;
                    rect class=(class) x=(number(from + step * at as f64 + 1.0)) y=(number(base - height))
                        width=(number(step - 2.0)) height=(number(height)) {}
                }
                @let x = axis.at(doses.median.estimate);
                path.ink stroke-width="2" d={ "M" (number(x)) " " (number(base)) "V" (number(base - TALLEST - 22.0)) } {}
                @let (anchor, aside) = if x > (from + to) / 2.0 { ("end", -6.0) } else { ("start", 6.0) };
                text.strong.halo x=(number(x + aside)) y=(number(base - TALLEST - 10.0)) text-anchor=(anchor) {
                    "median " (measured(doses.median.estimate)) " mGy"
                }
            },
            None if row.spread.exposed == 0 => text.quiet x=(number((from + to) / 2.0)) y=(number(base - 30.0))
                text-anchor="middle" { "the beam was never on" },
            None => (not_shown(from, base - TALLEST, to - from, TALLEST)),
        }
        path.ink d={ "M" (number(from)) " " (number(base)) "H" (number(to)) } {}
        @if row.spread.air_kerma_mgy.is_some() {
            text.quiet x=(number(to)) y=(number(base - TALLEST - 28.0)) text-anchor="end" { (count(row.spread.exposed)) " with X-ray" }
        }
    }
}

fn scale(axis: LogAxis, size: Size, base: f64) -> Markup {
    let name = match size {
        Size::Wide => "air kerma at the reference point, mGy (log scale), cases with X-ray",
        Size::Narrow => "air kerma, mGy (log scale)",
    };
    let (from, to) = axis.pixels;
    html! {
        @for decade in axis.decades() {
            @let x = axis.at(decade);
            path.ink d={ "M" (number(x)) " " (number(base)) "v6" } {}
            @let anchor = if x > to - 20.0 { "end" } else { "middle" };
            text x=(number(if anchor == "end" { to + 14.0 } else { x })) y=(number(base + 22.0)) text-anchor=(anchor) { (measured_tick(decade)) }
        }
        text.quiet x=(number((from + to) / 2.0)) y=(number(base + 44.0)) text-anchor="middle" { (name) }
        path.ink d={ "M" (number(from - 22.0)) " " (number(base + 5.0)) "l6-10m2 10l6-10" } {}
    }
}

fn measured_tick(decade: f64) -> String {
    if decade >= 1.0 { count(decade.round() as u64) } else { decade.to_string() }
}
