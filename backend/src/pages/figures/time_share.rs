//! Shares over quarters, with their limits and how many cases stand behind them.

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::count;
use quietbeam_analysis::study::own_picture::Interval;

use super::figure::{Size, Svg};
use super::hatch::not_shown;
use super::{Axis, number};

/// How a series is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Look {
    /// A thick line with dots.
    All,
    /// Open rings: the beam is meant to stay off.
    Ring,
    /// Filled squares: the beam is meant to be on.
    Square,
}

/// One series.
pub(crate) struct Series {
    /// How it is drawn.
    pub(crate) look: Look,
    /// Its name.
    pub(crate) name: &'static str,
    /// Its share in each quarter; `None` where it is not shown.
    pub(crate) shares: Vec<Option<Interval>>,
}

/// The series on common quarters.
pub(crate) struct TimeShare {
    /// The quarters' names, and how many cases each has.
    pub(crate) quarters: Vec<(String, u32)>,
    /// The series; the first is of all cases.
    pub(crate) series: Vec<Series>,
}

const PLOT: f64 = 210.0;

impl TimeShare {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let width = size.width();
        let top = match size {
            Size::Wide => 76.0,
            Size::Narrow => 96.0,
        };
        let bottom = top + PLOT;
        let slots = self.quarters.len().max(1) as f64;
        let step = (width - 52.0) / slots;
        let middle = |at: usize| 48.0 + step * (at as f64 + 0.5);
        let y = Axis { values: (0.0, 1.0), pixels: (bottom, top) };
        // So many quarters go unnamed between two names that names never touch.
        let every = (56.0 / step).ceil().max(1.0) as usize;
        let content = html! {
            (self.legend(size))
            path.ink d={ "M48 " (number(top)) "V" (number(bottom)) "H" (number(width - 4.0)) } {}
            @for tick in [0.0, 0.25, 0.5, 0.75, 1.0] {
                path.ink d={ "M43 " (number(y.at(tick))) "h5" } {}
                text x="38" y=(number(y.at(tick) + 5.0)) text-anchor="end" { (number(100.0 * tick)) }
            }
            text.quiet x="0" y=(number(top - 12.0)) { "without X-ray, % of cases" }
            @for (at, (quarter, cases)) in self.quarters.iter().enumerate() {
                @let hidden = self.series.first().is_some_and(|all| all.shares.get(at).is_some_and(Option::is_none));
                @if hidden { (not_shown(middle(at) - step * 0.4, top + 4.0, step * 0.8, PLOT - 8.0)) }
                path.ink d={ "M" (number(middle(at))) " " (number(bottom)) "v5" } {}
                @if at % every == 0 {
                    text x=(number(middle(at))) y=(number(bottom + 22.0)) text-anchor="middle" { (quarter) }
                    text.quiet x=(number(middle(at))) y=(number(bottom + 40.0)) text-anchor="middle" { (count(*cases)) }
                }
            }
            text.quiet x=(number(width / 2.0)) y=(number(bottom + 62.0)) text-anchor="middle" {
                "quarter, and the cases in it"
            }
            @for (number, series) in self.series.iter().enumerate() {
                @let aside = (number as f64 - 1.0) * (step * 0.22).min(16.0);
                (series.draw(|at| middle(at) + if self.series.len() > 1 { aside } else { 0.0 }, y))
            }
        };
        Svg { width, height: bottom + 68.0, content }
    }

    fn legend(&self, size: Size) -> Markup {
        html! {
            @for (at, series) in self.series.iter().enumerate() {
                @let (x, y) = match size {
                    Size::Wide => (48.0 + 250.0 * at as f64, 14.0),
                    Size::Narrow => (8.0, 10.0 + 20.0 * at as f64),
                };
                (series.look.mark(x, y))
                text x=(number(x + 14.0)) y=(number(y + 5.0)) { (series.name) }
            }
        }
    }
}

impl Look {
    fn mark(self, x: f64, y: f64) -> Markup {
        let [x, y, left, top] = [x, y, x - 5.0, y - 5.0].map(number);
        html! {
            @match self {
                Look::All => circle.ink-fill cx=(x) cy=(y) r="4.5" {},
                Look::Ring => circle.zf.ring cx=(x) cy=(y) r="5" {},
                Look::Square => rect.ink-fill x=(left) y=(top) width="10" height="10" {},
            }
        }
    }
}

impl Series {
    fn draw(&self, x: impl Fn(usize) -> f64, y: Axis) -> Markup {
        let shown = || self.shares.iter().enumerate().filter_map(|(at, share)| Some((x(at), (*share)?)));
        let mut line = String::new();
        let mut before = false;
        for (at, share) in self.shares.iter().enumerate() {
            if let Some(share) = share {
                let pen = if before { "L" } else { "M" };
                line.push_str(&format!("{pen}{} {}", number(x(at)), number(y.at(share.estimate))));
            }
            before = share.is_some();
        }
        let (class, thick) = match self.look {
            Look::All => ("ink", "2.4"),
            Look::Ring => ("zf", "2.4"),
            Look::Square => ("ink", "1.6"),
        };
        html! {
            path class=(class) stroke-width=(thick) d=(line) {}
            @for (x, share) in shown() {
                path.grey-line d={ "M" (number(x)) " " (number(y.at(share.lower))) "V" (number(y.at(share.upper))) } {}
            }
            @for (x, share) in shown() { (self.look.mark(x, y.at(share.estimate))) }
        }
    }
}
