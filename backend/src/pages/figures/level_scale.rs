//! The median of a centre beside levels that apply to medians of centres, on a logarithmic
//! axis.

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::measured;
use quietbeam_analysis::study::own_picture::Interval;

use super::figure::{Size, Svg};
use super::hatch::not_shown;
use super::{LogAxis, number};

/// The scale.
pub(crate) struct LevelScale {
    /// The centre's median; `None` where it is not shown.
    pub(crate) own: Option<Interval>,
    /// The network's, if it may be shown.
    pub(crate) network: Option<f64>,
    /// The published level.
    pub(crate) reference: f64,
    /// The axis in words, with its unit.
    pub(crate) axis: &'static str,
}

const BASE: f64 = 122.0;

impl LevelScale {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let width = size.width();
        let axis = LogAxis { values: self.decades(), pixels: (14.0, width - 20.0) };
        let (from, to) = axis.pixels;
        let content = html! {
            (level(axis, self.reference, &format!("reference level {}", measured(self.reference)), 14.0, true))
            @if let Some(network) = self.network {
                (level(axis, network, &format!("network, about {}", measured(network)), 42.0, false))
            }
            @match &self.own {
                Some(own) => {
                    path.ink stroke-width="2.4" d={ "M" (number(axis.at(own.lower))) " 84H" (number(axis.at(own.upper))) } {}
                    circle.ink-fill cx=(number(axis.at(own.estimate))) cy="84" r="6" {}
                    circle.ink cx=(number(axis.at(own.estimate))) cy="84" r="10" {}
                    @let right = axis.at(own.upper).max(axis.at(own.estimate) + 10.0) + 8.0;
                    @let left = axis.at(own.lower).min(axis.at(own.estimate) - 10.0) - 8.0;
                    @let (x, anchor) = if right > to - 150.0 { (left, "end") } else { (right, "start") };
                    text.strong.halo x=(number(x)) y="89" text-anchor=(anchor) { "this centre " (measured(own.estimate)) }
                },
                None => (not_shown(from, 64.0, to - from, 40.0)),
            }
            path.ink d={ "M" (number(from)) " " (number(BASE)) "H" (number(to)) } {}
            @for decade in axis.decades() {
                path.ink d={ "M" (number(axis.at(decade))) " " (number(BASE)) "v6" } {}
                text x=(number(axis.at(decade))) y=(number(BASE + 22.0)) text-anchor="middle" { (decade) }
            }
            text.quiet x=(number(width / 2.0)) y=(number(BASE + 44.0)) text-anchor="middle" { (self.axis) }
        };
        Svg { width, height: BASE + 50.0, content }
    }

    /// Whole tenfold steps around everything that is drawn.
    fn decades(&self) -> (f64, f64) {
        let own = self.own.map(|own| [own.lower, own.upper]).into_iter().flatten();
        let all = || own.clone().chain(self.network).chain([self.reference]).filter(|value| *value > 0.0);
        let (least, most) =
            all().fold((0.1, 100.0), |(least, most): (f64, f64), value| (least.min(value), most.max(value)));
        (10_f64.powf(least.log10().floor()), 10_f64.powf(most.log10().ceil()))
    }
}

/// A level with its name, before it where there is room: so no name crosses a line behind it.
fn level(axis: LogAxis, value: f64, name: &str, y: f64, dashed: bool) -> Markup {
    let x = axis.at(value);
    let before = x > (axis.pixels.0 + axis.pixels.1) / 2.0 || (!dashed && x > axis.pixels.0 + 130.0);
    html! {
        path.ink.dashed[dashed] stroke-width=(if dashed { "2.4" } else { "1.2" })
            d={ "M" (number(x)) " " (number(y - 10.0)) "V" (number(BASE)) } {}
        text.halo x=(number(if before { x - 8.0 } else { x + 8.0 })) y=(number(y + 1.0))
            text-anchor=(if before { "end" } else { "start" }) { (name) }
    }
}
