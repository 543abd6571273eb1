//! Cumulative sums, a panel each: the line, events as ticks on the axis, the signal line dashed
//! and valued, the peak labelled; by case order, never by date.

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::count;

use super::figure::{Size, Svg};
use super::hatch::not_shown;
use super::{Axis, number};

/// One panel.
pub(crate) struct SumChart {
    /// Whose.
    pub(crate) name: String,
    /// What stands beside the name.
    pub(crate) beside: String,
    /// The sum after every case and whether the case was an event; `None` where not shown.
    pub(crate) course: Option<Vec<(f64, bool)>>,
    /// The highest case, from 1, and its height.
    pub(crate) peak: Option<(usize, f64)>,
}

/// The panels on one scale of heights.
pub(crate) struct SumCharts {
    /// The panels.
    pub(crate) charts: Vec<SumChart>,
    /// Where a chart signals.
    pub(crate) signal: f64,
}

const PANEL: f64 = 218.0;

impl SumCharts {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let (columns, width) = match size {
            Size::Wide => (2, 560.0),
            Size::Narrow => (1, 340.0),
        };
        let highest = self.charts.iter().filter_map(|chart| chart.peak).map(|(_, height)| height);
        let top = highest.fold(self.signal, f64::max).ceil() + 0.5;
        let height = PANEL * self.charts.len().div_ceil(columns).max(1) as f64;
        let content = html! {
            @for (at, chart) in self.charts.iter().enumerate() {
                @let (x, y) = ((at % columns) as f64 * 610.0, (at / columns) as f64 * PANEL);
                g transform={ "translate(" (number(x)) " " (number(y)) ")" } { (chart.draw(width, top, self.signal)) }
            }
        };
        Svg { width: size.width(), height, content }
    }
}

impl SumChart {
    fn draw(&self, width: f64, top: f64, signal: f64) -> Markup {
        let base = 168.0;
        let y = Axis { values: (0.0, top), pixels: (base, 34.0) };
        html! {
            text.strong x="0" y="16" { (self.name) }
            text.quiet x=(number(width)) y="16" text-anchor="end" { (self.beside) }
            @match &self.course {
                Some(course) => {
                    @let x = Axis { values: (0.0, course.len() as f64), pixels: (26.0, width - 6.0) };
                    path.ink.dashed stroke-width="1.8" d={ "M26 " (number(y.at(signal))) "H" (number(width - 6.0)) } {}
                    text x="18" y=(number(y.at(signal) + 5.0)) text-anchor="end" { (number(signal)) }
                    text x="18" y=(number(base + 5.0)) text-anchor="end" { "0" }
                    path.ink stroke-width="1.6" d=(line(course, x, y, signal)) {}
                    path.ink stroke-width="1.2" d=(events(course, x, base)) {}
                    path.ink d={ "M26 34V" (number(base)) "H" (number(width - 6.0)) } {}
                    text x="26" y=(number(base + 20.0)) { "1" }
                    text x=(number(width - 6.0)) y=(number(base + 20.0)) text-anchor="end" { (count(course.len() as u64)) }
                    text.quiet x=(number(width / 2.0 + 10.0)) y=(number(base + 20.0)) text-anchor="middle" { "case number" }
                    @if let Some((case, height)) = self.peak.filter(|(_, height)| *height > 0.0) {
                        @let at = x.at(case as f64);
                        @let anchor = if at > width - 130.0 { "end" } else { "start" };
                        text.halo x=(number(at + if anchor == "end" { -6.0 } else { 6.0 })) y=(number(y.at(height).max(46.0) - 4.0))
                            text-anchor=(anchor) { (format!("{height:.1}")) " at case " (count(case as u64)) }
                    }
                },
                None => (not_shown(0.0, 34.0, width - 6.0, base - 34.0)),
            }
        }
    }
}

/// The line, with the corners only: it rises at an event and falls evenly between two.
fn line(course: &[(f64, bool)], x: Axis, y: Axis, signal: f64) -> String {
    let mut path = format!("M{} {}", number(x.at(0.0)), number(y.at(0.0)));
    for (at, (height, event)) in course.iter().enumerate() {
        let here = number(x.at((at + 1) as f64));
        let leaves =
            |other: Option<&(f64, bool)>| other.is_some_and(|(there, _)| (*there > 0.0) != (*height > 0.0));
        let next = course.get(at + 1);
        let before = at.checked_sub(1).and_then(|before| course.get(before));
        if *event {
            // Level up to the event, then straight up.
            path.push_str(&format!("H{here}V{}", number(y.at(*height))));
        } else if next.is_none_or(|(_, event)| *event) || leaves(next) || leaves(before) {
            path.push_str(&format!("L{here} {}", number(y.at(*height))));
        }
        if *height >= signal {
            // After a signal the sum starts afresh.
            path.push_str(&format!("V{}", number(y.at(0.0))));
        }
    }
    path
}

fn events(course: &[(f64, bool)], x: Axis, base: f64) -> String {
    let ticks = course.iter().enumerate().filter(|(_, (_, event))| *event);
    ticks.map(|(at, _)| format!("M{} {}v-9", number(x.at((at + 1) as f64)), number(base))).collect()
}
