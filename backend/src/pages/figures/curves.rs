//! Curves over a number of things, told apart by their dashes and named in words above them.

use maud::{Markup, html};

use super::figure::{Size, Svg};
use super::{Axis, number};

/// One curve.
pub(crate) struct Curve {
    /// What it is.
    pub(crate) name: String,
    /// Whether it is dashed; the first of two is not.
    pub(crate) dashed: bool,
    /// Its points, from left to right.
    pub(crate) points: Vec<(f64, f64)>,
}

/// A place on an axis with what stands there.
pub(crate) type Tick = (f64, String);

/// The figure.
pub(crate) struct Curves {
    /// The curves.
    pub(crate) curves: Vec<Curve>,
    /// The horizontal axis: its name, its ends, its ticks.
    pub(crate) across: (&'static str, (f64, f64), Vec<Tick>),
    /// The vertical axis, from 0: its name, its end, its ticks.
    pub(crate) up: (&'static str, f64, Vec<Tick>),
    /// A level to look for, and its name.
    pub(crate) level: Option<(f64, &'static str)>,
}

const LEGEND: f64 = 22.0;

/// Steps of 1, 2 or 5 times a power of ten that divide an axis from 0 into five parts at the most.
pub(crate) fn round_steps(last: f64) -> Vec<f64> {
    let tens = 10_f64.powf((last / 5.0).max(1e-9).log10().floor());
    let step = [1.0, 2.0, 5.0].into_iter().map(|times| times * tens).find(|step| last / step <= 5.0);
    let step = step.unwrap_or(10.0 * tens);
    (0..=5_u32).map(|at| f64::from(at) * step).take_while(|value| *value <= last * (1.0 + 1e-9)).collect()
}

impl Curves {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let (width, plot) = match size {
            Size::Wide => (1_180.0, 300.0),
            Size::Narrow => (340.0, 230.0),
        };
        let (across, ends, across_ticks) = &self.across;
        let (up, most, up_ticks) = &self.up;
        let top = LEGEND * self.curves.len() as f64 + 34.0;
        let bottom = top + plot;
        let x = Axis { values: *ends, pixels: (48.0, width - 18.0) };
        let y = Axis { values: (0.0, *most), pixels: (bottom, top) };
        let content = html! {
            @for (at, curve) in self.curves.iter().enumerate() {
                @let line = LEGEND * at as f64 + 12.0;
                path.ink.dashed[curve.dashed] stroke-width="2.2" d={ "M0 " (number(line)) "h34" } {}
                text x="42" y=(number(line + 5.0)) { (curve.name) }
            }
            text.quiet x="0" y=(number(top - 12.0)) { (up) }
            path.ink d={ "M48 " (number(top)) "V" (number(bottom)) "H" (number(width - 18.0)) } {}
            @for (value, label) in up_ticks {
                path.hair d={ "M48 " (number(y.at(*value))) "H" (number(width - 18.0)) } {}
                text x="40" y=(number(y.at(*value) + 5.0)) text-anchor="end" { (label) }
            }
            @for (value, label) in across_ticks {
                path.ink d={ "M" (number(x.at(*value))) " " (number(bottom)) "v6" } {}
                text x=(number(x.at(*value))) y=(number(bottom + 22.0)) text-anchor="middle" { (label) }
            }
            text.quiet x=(number((48.0 + width - 18.0) / 2.0)) y=(number(bottom + 44.0)) text-anchor="middle" { (across) }
            @if let Some((level, name)) = self.level {
                path.ink.dotted d={ "M48 " (number(y.at(level))) "H" (number(width - 18.0)) } {}
                text.quiet.halo x=(number(width - 22.0)) y=(number(y.at(level) - 6.0)) text-anchor="end" { (name) }
            }
            @for curve in &self.curves { (line(curve, x, y)) }
        };
        Svg { width, height: bottom + 52.0, content }
    }
}

fn line(curve: &Curve, x: Axis, y: Axis) -> Markup {
    let place = |(across, up): &(f64, f64)| format!("{} {}", number(x.at(*across)), number(y.at(*up)));
    let points: Vec<String> = curve.points.iter().map(place).collect();
    html! {
        @if !points.is_empty() {
            path.ink.dashed[curve.dashed] stroke-width="2.2" d={ "M" (points.join("L")) } {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_few() {
        assert_eq!(round_steps(1_600.0), [0.0, 500.0, 1_000.0, 1_500.0]);
        assert_eq!(round_steps(100.0), [0.0, 20.0, 40.0, 60.0, 80.0, 100.0]);
        assert_eq!(round_steps(7.0), [0.0, 2.0, 4.0, 6.0]);
    }

    #[test]
    fn curves_end_where_the_axes_do() {
        let curves = Curves {
            curves: vec![
                Curve { name: "all".to_owned(), dashed: false, points: vec![(0.0, 0.0), (10.0, 1.0)] },
                Curve { name: "none".to_owned(), dashed: true, points: Vec::new() },
            ],
            across: ("cases", (0.0, 10.0), vec![(10.0, "10".to_owned())]),
            up: ("chance", 1.0, vec![(1.0, "100".to_owned())]),
            level: Some((0.8, "80 %")),
        };
        let drawn = curves.draw(Size::Narrow);
        let text = drawn.content.into_string();
        assert!(text.contains("M48 308L322 78"), "{text}");
        assert!(text.contains("dashed") && !text.contains("NaN"), "{text}");
    }
}
