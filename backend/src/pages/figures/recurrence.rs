//! Shares with a recurrence over time, a step line an arm: the open rings' line is thick, the
//! filled squares' thin, and both carry their mark at every quarter of the span.

use maud::{Markup, html};
use quietbeam_schema::vocabulary::Strategy;

use super::figure::{Size, Svg};
use super::{Axis, number};

/// One arm.
pub(crate) struct RecurrenceLine {
    /// The arm.
    pub(crate) strategy: Strategy,
    /// Day and the share with a recurrence from then on.
    pub(crate) steps: Vec<(f64, f64)>,
    /// The last day drawn.
    pub(crate) until: f64,
    /// The value at the end in words.
    pub(crate) label: String,
    /// Days, and how many are still followed.
    pub(crate) still: Vec<(f64, String)>,
}

/// The figure.
pub(crate) struct RecurrenceCurves {
    /// The day on which blanking ends, and the last one of the axis.
    pub(crate) days: (f64, f64),
    /// The lines.
    pub(crate) lines: Vec<RecurrenceLine>,
}

impl RecurrenceCurves {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        let (width, height, right) = match size {
            Size::Wide => (1_180.0, 460.0, 240.0),
            Size::Narrow => (340.0, 424.0, 14.0),
        };
        let most =
            self.lines.iter().flat_map(|line| &line.steps).map(|(_, share)| *share).fold(0.1, f64::max);
        let most = (most * 10.0).ceil() / 10.0;
        let days = Axis { values: (0.0, self.days.1), pixels: (44.0, width - right) };
        let bottom = if size == Size::Wide { height - 116.0 } else { height - 160.0 };
        let share = Axis { values: (0.0, most), pixels: (bottom, 30.0) };
        let content = html! {
            text.quiet x="0" y="14" { "recurrence, per 100" }
            (self.axes(days, share, most))
            @for line in &self.lines { (self.line(line, days, share)) }
            @for (at, line) in self.lines.iter().enumerate() {
                @if size == Size::Wide {
                    text.strong x=(number(width - right + 16.0)) y=(number(60.0 + 46.0 * at as f64)) { (name(line.strategy)) }
                    text x=(number(width - right + 16.0)) y=(number(80.0 + 46.0 * at as f64)) { (line.label) }
                } @else {
                    text x="0" y=(number(bottom + 134.0 + 20.0 * at as f64)) { (name(line.strategy)) " " (line.label) }
                }
            }
            text.quiet x=(number((days.pixels.0 + days.pixels.1) / 2.0)) y=(number(bottom + 44.0)) text-anchor="middle" { "days from the procedure" }
            text.strong x="0" y=(number(bottom + 68.0)) { "still followed" }
            @for (at, line) in self.lines.iter().enumerate() { (still(line, days, bottom + 90.0 + 22.0 * at as f64)) }
        };
        Svg { width, height, content }
    }

    fn axes(&self, days: Axis, share: Axis, most: f64) -> Markup {
        let (left, right) = days.pixels;
        let (bottom, top) = share.pixels;
        html! {
            path.ink d={ "M" (number(left)) " " (number(top)) "V" (number(bottom)) "H" (number(right)) } {}
            path.ink.dashed d={ "M" (number(days.at(self.days.0))) " " (number(top)) "V" (number(bottom)) } {}
            text.quiet.halo x=(number(days.at(self.days.0) + 6.0)) y=(number(top + 12.0)) { "blanking ends" }
            @for day in self.ticks() {
                path.ink d={ "M" (number(days.at(day))) " " (number(bottom)) "v6" } {}
                text x=(number(days.at(day))) y=(number(bottom + 22.0)) text-anchor="middle" { (day) }
            }
            @for tenth in 0..=((most * 10.0).round() as u32) {
                @let value = f64::from(tenth) / 10.0;
                path.ink d={ "M" (number(left)) " " (number(share.at(value))) "h-6" } {}
                text x=(number(left - 10.0)) y=(number(share.at(value) + 5.0)) text-anchor="end" { (tenth * 10) }
            }
        }
    }

    /// Whole months that part the axis in about six, and its last day.
    fn ticks(&self) -> Vec<f64> {
        let last = self.days.1;
        let step = (last / 180.0).round().max(1.0) * 30.0;
        let before = (0..60).map(|tick| f64::from(tick) * step).take_while(|day| day + step / 2.0 < last);
        before.chain([last]).collect()
    }

    fn line(&self, line: &RecurrenceLine, days: Axis, share: Axis) -> Markup {
        let mut path = format!("M{} {}", number(days.at(self.days.0)), number(share.at(0.0)));
        for (day, value) in line.steps.iter().filter(|(day, _)| *day <= line.until) {
            path.push_str(&format!("H{}V{}", number(days.at(*day)), number(share.at(*value))));
        }
        path.push_str(&format!("H{}", number(days.at(line.until))));
        let (begin, _) = self.days;
        let quarters = [0.25, 0.5, 0.75, 1.0].map(|part| begin + part * (line.until - begin));
        let value_at = |day: f64| {
            line.steps.iter().take_while(|(step, _)| *step <= day).last().map_or(0.0, |(_, value)| *value)
        };
        html! {
            @match line.strategy {
                Strategy::Conventional => path.ink stroke-width="1.6" d=(path) {},
                _ => path.zf d=(path) {},
            }
            @for day in quarters {
                @let (x, y) = (days.at(day), share.at(value_at(day)));
                @match line.strategy {
                    Strategy::Conventional => rect.ink-fill x=(number(x - 4.5)) y=(number(y - 4.5)) width="9" height="9" {},
                    _ => circle.zf.ring cx=(number(x)) cy=(number(y)) r="5" {},
                }
            }
        }
    }
}

/// How many of an arm are still followed, under the days of the axis.
fn still(line: &RecurrenceLine, days: Axis, y: f64) -> Markup {
    html! {
        @match line.strategy {
            Strategy::Conventional => rect.ink-fill x="4" y=(number(y - 10.0)) width="9" height="9" {},
            _ => circle.zf.ring cx="8" cy=(number(y - 5.0)) r="5" {},
        }
        @for (day, cases) in &line.still {
            @let last = *day >= days.values.1;
            text x=(number(days.at(*day))) y=(number(y)) text-anchor=(if last { "end" } else { "middle" }) { (cases) }
        }
    }
}

fn name(strategy: Strategy) -> &'static str {
    match strategy {
        Strategy::Zero => "zero-fluoroscopy",
        Strategy::NearZero => "near-zero",
        Strategy::Conventional => "conventional",
    }
}
