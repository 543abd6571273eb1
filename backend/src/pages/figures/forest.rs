//! Differences between the arms, a line each: centres first, then what they give together.
//! The margin stands dashed, the side on which it is met is shaded, and what leaves the axis
//! ends in an arrow.

use maud::{Markup, html};

use super::figure::{Size, Svg};
use super::{Axis, number};

/// How a line is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum ForestMark {
    /// A centre: a dot, its area by weight from 0 to 1.
    Dot(f64),
    /// Centres together, not planned to decide.
    Hollow,
    /// What the plan decides by.
    Filled,
    /// Where a further centre would lie.
    Prediction,
}

/// One line.
pub(crate) struct ForestRow {
    /// Its name.
    pub(crate) name: String,
    /// Counts of each arm; blank where there are none.
    pub(crate) counts: [String; 2],
    /// How it is drawn.
    pub(crate) mark: ForestMark,
    /// Lower limit, estimate and upper limit as proportions; `None` where nothing can be
    /// estimated.
    pub(crate) interval: Option<(f64, f64, f64)>,
    /// The difference in words.
    pub(crate) difference: String,
    /// The weight in words; blank where there is none.
    pub(crate) weight: String,
}

/// The margin and its side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Side {
    /// The margin as a difference with its sign.
    pub(crate) margin: f64,
}

impl Side {
    /// Whether zero-fluoroscopy is better on the right of zero.
    fn better_right(self) -> bool {
        self.margin < 0.0
    }

    /// Where the shaded side lies on an axis.
    pub(super) fn shaded(self, axis: Axis) -> (f64, f64) {
        let at = axis.at(self.margin).clamp(axis.pixels.0, axis.pixels.1);
        if self.better_right() { (at, axis.pixels.1) } else { (axis.pixels.0, at) }
    }
}

/// The figure.
pub(crate) struct Forest {
    /// What the counts are: "success / cases".
    pub(crate) counted: &'static str,
    /// The margin.
    pub(crate) side: Side,
    /// Lines of the centres.
    pub(crate) centres: Vec<ForestRow>,
    /// Lines below the rule.
    pub(crate) together: Vec<ForestRow>,
}

/// The widest axis, in points of a hundred either way.
const WIDEST: f64 = 0.15;

/// The axis around everything that is drawn, clipped to what can be read.
fn range<'r>(side: Side, rows: impl Iterator<Item = &'r ForestRow>) -> (f64, f64) {
    let reach = 1.4 * side.margin.abs();
    let (mut least, mut most) = (-reach, reach);
    for (lower, _, upper) in rows.filter_map(|row| row.interval) {
        least = least.min(lower);
        most = most.max(upper);
    }
    (least.max(-WIDEST).min(side.margin - 0.005), most.min(WIDEST).max(side.margin + 0.005))
}

/// Steps of the scale that give three to nine ticks.
fn ticks((least, most): (f64, f64)) -> Vec<f64> {
    let steps = [0.0025, 0.005, 0.01, 0.02, 0.03, 0.05, 0.1];
    let step = steps.into_iter().find(|step| (most - least) / step <= 8.0).unwrap_or(0.1);
    let first = (least / step).ceil() as i32;
    let last = (most / step).floor() as i32;
    (first..=last).map(|at| f64::from(at) * step).collect()
}

/// A difference on the scale: −3, 0, +1.5.
pub(super) fn points(difference: f64) -> String {
    let size = (difference.abs() * 1e4).round() / 1e2;
    match difference {
        _ if size == 0.0 => "0".to_owned(),
        below if below < 0.0 => format!("−{size}"),
        _ => format!("+{size}"),
    }
}

impl Forest {
    /// The drawing.
    pub(crate) fn draw(&self, size: Size) -> Svg {
        match size {
            Size::Wide => self.wide(),
            Size::Narrow => self.narrow(),
        }
    }

    fn rows(&self) -> impl Iterator<Item = &ForestRow> {
        self.centres.iter().chain(&self.together)
    }

    fn wide(&self) -> Svg {
        const ROW: f64 = 30.0;
        const TOP: f64 = 52.0;
        let axis = Axis { values: range(self.side, self.rows()), pixels: (520.0, 900.0) };
        let rule = TOP + ROW * self.centres.len() as f64 + 6.0;
        let y = |at: usize| {
            let below = if at >= self.centres.len() { 18.0 } else { 0.0 };
            TOP + ROW * at as f64 + 18.0 + below
        };
        let count = self.centres.len() + self.together.len();
        let base = TOP + ROW * count as f64 + 24.0;
        let heads = [(270.0, "zero-fluoroscopy"), (430.0, "conventional")];
        let content = html! {
            (field(self.side, axis, (TOP - 6.0, base)))
            @for (x, head) in heads {
                text.strong x=(number(x)) y="18" text-anchor="end" { (head) }
                text.quiet x=(number(x)) y="38" text-anchor="end" { (self.counted) }
            }
            text.strong x="1080" y="18" text-anchor="end" { "difference, points" }
            text.strong x="1180" y="18" text-anchor="end" { "weight" }
            path.ink d={ "M0 " (number(TOP - 6.0)) "H1180" } {}
            @for (at, row) in self.rows().enumerate() {
                @let strong = row.mark == ForestMark::Filled;
                text.strong[strong].quiet[row.mark == ForestMark::Prediction] x="0" y=(number(y(at) + 5.0)) { (row.name) }
                text x="270" y=(number(y(at) + 5.0)) text-anchor="end" { (row.counts[0]) }
                text x="430" y=(number(y(at) + 5.0)) text-anchor="end" { (row.counts[1]) }
                (mark(row, axis, y(at)))
                text.strong[strong] x="1080" y=(number(y(at) + 5.0)) text-anchor="end" { (row.difference) }
                text.quiet x="1180" y=(number(y(at) + 5.0)) text-anchor="end" { (row.weight) }
            }
            @if !self.together.is_empty() { path.ink d={ "M0 " (number(rule + 4.0)) "H1180" } {} }
            (scale(self.side, axis, base, 14.0))
        };
        Svg { width: 1_180.0, height: base + 56.0, content }
    }

    fn narrow(&self) -> Svg {
        const ROW: f64 = 62.0;
        const TOP: f64 = 30.0;
        let axis = Axis { values: range(self.side, self.rows()), pixels: (6.0, 334.0) };
        let below = |at: usize| if at >= self.centres.len() { 14.0 } else { 0.0 };
        let y = |at: usize| TOP + ROW * at as f64 + below(at);
        let count = self.centres.len() + self.together.len();
        let base = TOP + ROW * count as f64 + 18.0;
        let content = html! {
            (field(self.side, axis, (TOP - 8.0, base)))
            @for (at, row) in self.rows().enumerate() {
                @let strong = row.mark == ForestMark::Filled;
                // The name of a method leaves no room beside it, and has no counts below it.
                @let beside = if row.counts[0].is_empty() { 30.0 } else { 12.0 };
                text.halo.strong x="0" y=(number(y(at) + 12.0)) { (row.name) }
                text.halo.strong[strong] x="340" y=(number(y(at) + beside)) text-anchor="end" { (row.difference) }
                @if !row.counts[0].is_empty() {
                    text.halo.quiet x="0" y=(number(y(at) + 30.0)) { (row.counts[0]) " against " (row.counts[1]) }
                }
                (mark(row, axis, y(at) + 44.0))
            }
            (scale(self.side, axis, base, 12.0))
        };
        Svg { width: 340.0, height: base + 56.0, content }
    }
}

/// The shaded side, the line of no difference and the margin.
fn field(side: Side, axis: Axis, (top, base): (f64, f64)) -> Markup {
    let (left, right) = side.shaded(axis);
    let margin = axis.at(side.margin);
    let zero = axis.at(0.0);
    let anchor = if side.better_right() { "end" } else { "start" };
    let aside = if side.better_right() { 6.0 } else { -6.0 };
    html! {
        rect.side-fill x=(number(left)) y=(number(top)) width=(number(right - left)) height=(number(base - top)) {}
        path.ink d={ "M" (number(zero)) " " (number(top)) "V" (number(base)) } {}
        path.ink.dashed stroke-width="2.4" d={ "M" (number(margin)) " " (number(top)) "V" (number(base)) } {}
        text.strong.halo x=(number(margin + aside)) y=(number(top - 8.0)) text-anchor=(anchor) { "margin " (points(side.margin)) }
    }
}

/// The axis with its ticks and directions.
pub(super) fn scale(side: Side, axis: Axis, base: f64, gap: f64) -> Markup {
    let (from, to) = axis.pixels;
    let (left, right) = if side.better_right() {
        ("conventional better", "zero-fluoroscopy better")
    } else {
        ("zero-fluoroscopy better", "conventional better")
    };
    let zero = axis.at(0.0).clamp(from + 40.0, to - 40.0);
    html! {
        path.ink d={ "M" (number(from)) " " (number(base)) "H" (number(to)) } {}
        @for tick in ticks(axis.values) {
            path.ink d={ "M" (number(axis.at(tick))) " " (number(base)) "v6" } {}
            text x=(number(axis.at(tick))) y=(number(base + 22.0)) text-anchor="middle" { (points(tick)) }
        }
        text.quiet x=(number(zero - gap)) y=(number(base + 46.0)) text-anchor="end" { (left) }
        text.quiet x=(number(zero + gap)) y=(number(base + 46.0)) text-anchor="start" { (right) }
    }
}

fn mark(row: &ForestRow, axis: Axis, y: f64) -> Markup {
    let Some((lower, estimate, upper)) = row.interval else {
        let middle = (axis.pixels.0 + axis.pixels.1) / 2.0;
        return html! { text.quiet.halo x=(number(middle)) y=(number(y + 5.0)) text-anchor="middle" { "cannot be estimated" } };
    };
    let (from, to) = axis.pixels;
    let at = |value: f64| axis.at(value).clamp(from, to);
    let (left, right, centre) = (at(lower), at(upper), at(estimate));
    html! {
        @match row.mark {
            ForestMark::Dot(weight) => {
                path.ink stroke-width="1.6" d={ "M" (number(left)) " " (number(y)) "H" (number(right)) } {}
                (end(left, y, axis.at(lower) < from, -1.0))
                (end(right, y, axis.at(upper) > to, 1.0))
                circle.ink-fill cx=(number(centre)) cy=(number(y)) r=(number(3.0 + 4.0 * weight.clamp(0.0, 1.0).sqrt())) {}
            },
            ForestMark::Prediction => path.ink.dotted stroke-width="1.6" d={ "M" (number(left)) " " (number(y)) "H" (number(right)) } {},
            ForestMark::Hollow | ForestMark::Filled => {
                @let class = if row.mark == ForestMark::Filled { "ink-fill" } else { "hollow" };
                path class=(class) d={ "M" (number(left)) " " (number(y)) "L" (number(centre)) " " (number(y - 8.0)) "L" (number(right)) " " (number(y)) "L" (number(centre)) " " (number(y + 8.0)) "z" } {}
            },
        }
    }
}

/// The end of a line: a bar, or an arrow where it goes on beyond the axis.
fn end(x: f64, y: f64, beyond: bool, way: f64) -> Markup {
    let arrow = format!(
        "M{} {}l{} -5M{} {}l{} 5",
        number(x),
        number(y),
        number(-7.0 * way),
        number(x),
        number(y),
        number(-7.0 * way)
    );
    let bar = format!("M{} {}v10", number(x), number(y - 5.0));
    html! { path.ink stroke-width="1.6" d=(if beyond { arrow } else { bar }) {} }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(mark: ForestMark, interval: Option<(f64, f64, f64)>) -> ForestRow {
        ForestRow {
            name: "S01".to_owned(),
            counts: ["9/10".to_owned(), "8/10".to_owned()],
            mark,
            interval,
            difference: String::new(),
            weight: String::new(),
        }
    }

    #[test]
    fn what_leaves_the_axis_ends_in_an_arrow_and_nothing_is_no_number() {
        let forest = Forest {
            counted: "success / cases",
            side: Side { margin: -0.03 },
            centres: vec![
                row(ForestMark::Dot(0.4), Some((-0.6, -0.1, 0.2))),
                row(ForestMark::Dot(0.0), None),
            ],
            together: vec![row(ForestMark::Filled, Some((-0.02, 0.0, 0.01)))],
        };
        for size in [Size::Wide, Size::Narrow] {
            let drawn = forest.draw(size).content.into_string();
            assert!(!drawn.contains("NaN") && !drawn.contains("inf"), "{drawn}");
            assert!(drawn.contains("cannot be estimated") && drawn.contains("margin −3"), "{drawn}");
            assert!(drawn.contains("l7 -5"), "the left end is an arrow: {drawn}");
        }
    }

    #[test]
    fn the_shaded_side_lies_right_of_a_margin_for_success_and_left_of_one_for_harm() {
        let axis = Axis { values: (-0.05, 0.05), pixels: (0.0, 100.0) };
        assert_eq!(Side { margin: -0.03 }.shaded(axis).1, 100.0);
        assert_eq!(Side { margin: 0.01 }.shaded(axis).0, 0.0);
    }

    #[test]
    fn the_scale_has_a_few_round_ticks() {
        for range in [(-0.05, 0.05), (-0.15, 0.15), (-0.01, 0.012), (-0.004, 0.012)] {
            let ticks = ticks(range);
            assert!((3..=9).contains(&ticks.len()), "{range:?}: {ticks:?}");
        }
        assert_eq!([-0.03, 0.0, 0.015].map(points), ["−3", "0", "+1.5"]);
    }
}
