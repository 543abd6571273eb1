//! The small picture of a verdict: one interval a population against the margin.

use maud::html;

use super::figure::Svg;
use super::forest::{Side, field, scale};
use super::{Axis, number};

/// One population.
pub(crate) struct MarginLine {
    /// Its name.
    pub(crate) name: &'static str,
    /// The difference in words.
    pub(crate) difference: String,
    /// Lower limit, estimate, upper limit; `None` where nothing can be estimated.
    pub(crate) interval: Option<(f64, f64, f64)>,
}

/// The picture.
pub(crate) struct MarginPicture {
    /// The margin.
    pub(crate) margin: f64,
    /// The populations.
    pub(crate) lines: Vec<MarginLine>,
}

impl MarginPicture {
    /// The drawing, narrow enough for a phone.
    pub(crate) fn draw(&self) -> Svg {
        const ROW: f64 = 54.0;
        const TOP: f64 = 28.0;
        let side = Side { margin: self.margin };
        let reach = self
            .lines
            .iter()
            .filter_map(|line| line.interval)
            .fold(1.5 * self.margin.abs(), |reach, (lower, _, upper)| {
                reach.max(1.1 * lower.abs()).max(1.1 * upper.abs())
            });
        let reach = reach.min(0.5);
        let axis = Axis { values: (-reach, reach), pixels: (6.0, 334.0) };
        let base = TOP + ROW * self.lines.len() as f64 + 4.0;
        let content = html! {
            (field(side, axis, (TOP - 6.0, base)))
            @for (at, line) in self.lines.iter().enumerate() {
                @let y = TOP + ROW * at as f64;
                text.strong.halo x="10" y=(number(y + 12.0)) { (line.name) }
                text.halo x="330" y=(number(y + 12.0)) text-anchor="end" { (line.difference) }
                @if let Some((lower, estimate, upper)) = line.interval {
                    @let at = |value: f64| axis.at(value.clamp(-reach, reach));
                    path.ink stroke-width="2" d={
                        "M" (number(at(lower))) " " (number(y + 28.0)) "H" (number(at(upper)))
                        "M" (number(at(lower))) " " (number(y + 22.0)) "v12M" (number(at(upper))) " " (number(y + 22.0)) "v12"
                    } {}
                    circle.ink-fill cx=(number(at(estimate))) cy=(number(y + 28.0)) r="5.5" {}
                }
            }
            (scale(side, axis, base, 10.0))
        };
        Svg { width: 340.0, height: base + 54.0, content }
    }
}
