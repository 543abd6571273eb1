//! The small picture of a verdict: one interval a population against the margin. Names and
//! numbers stand between the bands, so that no line crosses them.

use maud::html;
use quietbeam_analysis::study::effect::Drawn;
use quietbeam_analysis::study::plan::PlannedMargin;

use super::figure::Svg;
use super::forest::{Side, scale};
use super::{Axis, number};

/// One population.
pub(crate) struct MarginLine {
    /// Its name.
    pub(crate) name: &'static str,
    /// The effect in numbers.
    pub(crate) told: String,
    /// The same as it is drawn; `None` where nothing can be estimated.
    pub(crate) effect: Option<Drawn>,
}

/// The picture.
pub(crate) struct MarginPicture {
    /// The margin.
    pub(crate) margin: PlannedMargin,
    /// The populations.
    pub(crate) lines: Vec<MarginLine>,
}

const ROW: f64 = 62.0;
const TOP: f64 = 24.0;
const BAND: f64 = 30.0;

impl MarginPicture {
    /// The drawing, narrow enough for a phone.
    pub(crate) fn draw(&self) -> Svg {
        let side = Side(self.margin);
        let reach = self.reach();
        let axis = Axis { values: (-reach, reach), pixels: (6.0, 334.0) };
        let (left, right) = side.shaded(axis);
        let (margin, zero) = (axis.at(self.margin.drawn()), axis.at(0.0));
        let base = TOP + ROW * self.lines.len() as f64 - 2.0;
        let at = |value: f64| axis.at(value.clamp(-reach, reach));
        let content = html! {
            text.strong x=(number(margin)) y="12" text-anchor="middle" { "margin " (side.told(self.margin.drawn())) }
            @for (place, line) in self.lines.iter().enumerate() {
                @let top = TOP + ROW * place as f64;
                @let y = top + 26.0 + BAND / 2.0;
                text.strong x="6" y=(number(top + 17.0)) { (line.name) }
                text x="334" y=(number(top + 17.0)) text-anchor="end" { (line.told) }
                rect.side-fill x=(number(left)) y=(number(top + 26.0)) width=(number(right - left)) height=(number(BAND)) {}
                path.ink d={ "M" (number(zero)) " " (number(top + 26.0)) "v" (number(BAND)) } {}
                path.ink.dashed stroke-width="2.4" d={ "M" (number(margin)) " " (number(top + 26.0)) "v" (number(BAND)) } {}
                @if let Some(Drawn { lower, estimate, upper }) = line.effect {
                    path.ink stroke-width="2" d={
                        "M" (number(at(lower))) " " (number(y)) "H" (number(at(upper)))
                        "M" (number(at(lower))) " " (number(y - 6.0)) "v12M" (number(at(upper))) " " (number(y - 6.0)) "v12"
                    } {}
                    circle.ink-fill cx=(number(at(estimate))) cy=(number(y)) r="5.5" {}
                }
            }
            (scale(side, axis, base, 10.0))
        };
        Svg { width: 340.0, height: base + 54.0, content }
    }

    /// How far the axis reaches either way.
    fn reach(&self) -> f64 {
        let drawn = self.lines.iter().filter_map(|line| line.effect);
        let limits = drawn.flat_map(|effect| [effect.lower, effect.upper]);
        let reach = limits.fold(1.5 * self.margin.drawn().abs(), |reach, limit| reach.max(1.1 * limit.abs()));
        reach.min(3.0 * Side(self.margin).widest())
    }
}
