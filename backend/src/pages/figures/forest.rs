//! Effects between the arms, a line each: centres first, then what they give together.
//! The margin stands dashed, the side on which it is met is shaded, and what leaves the axis
//! ends in an arrow.

use maud::{Markup, html};

use quietbeam_analysis::study::effect::Drawn;
use quietbeam_analysis::study::plan::PlannedMargin;
use quietbeam_schema::vocabulary::MarginScale;

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
    /// The effect; `None` where nothing can be estimated.
    pub(crate) effect: Option<Drawn>,
    /// The same in numbers.
    pub(crate) told: String,
    /// The weight in words; blank where there is none.
    pub(crate) weight: String,
}

/// The margin and its side. Effects are drawn as differences, or as logarithms of ratios.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Side(pub(crate) PlannedMargin);

impl Side {
    /// Whether zero-fluoroscopy is better on the right of no effect.
    fn better_right(self) -> bool {
        !self.0.worse_is_right()
    }

    /// Where the shaded side lies on an axis.
    pub(super) fn shaded(self, axis: Axis) -> (f64, f64) {
        let at = axis.at(self.0.drawn()).clamp(axis.pixels.0, axis.pixels.1);
        if self.better_right() { (at, axis.pixels.1) } else { (axis.pixels.0, at) }
    }

    /// An effect in a few digits: −3, or 1.5.
    pub(super) fn told(self, effect: f64) -> String {
        match self.0.scale() {
            MarginScale::RiskDifference => points(effect),
            MarginScale::RiskRatio => times(effect),
        }
    }

    /// The farthest that an axis reaches either way: further cannot be read.
    pub(super) fn widest(self) -> f64 {
        match self.0.scale() {
            MarginScale::RiskDifference => 0.15,
            MarginScale::RiskRatio => 16_f64.ln(),
        }
    }

    /// The axis around everything that is drawn, clipped to what can be read.
    fn range<'r>(self, rows: impl Iterator<Item = &'r ForestRow>) -> (f64, f64) {
        let (margin, widest) = (self.0.drawn(), self.widest());
        let (mut least, mut most) = (-1.4 * margin.abs(), 1.4 * margin.abs());
        for effect in rows.filter_map(|row| row.effect) {
            least = least.min(effect.lower);
            most = most.max(effect.upper);
        }
        let beyond = widest / 30.0;
        (least.max(-widest).min(margin - beyond), most.min(widest).max(margin + beyond))
    }

    /// Places on the scale that give three to nine ticks.
    fn ticks(self, (least, most): (f64, f64)) -> Vec<f64> {
        let on = |step: f64| -> Vec<f64> {
            let (first, last) = ((least / step).ceil() as i32, (most / step).floor() as i32);
            (first..=last).map(|at| f64::from(at) * step).collect()
        };
        let within = |at: &f64| (least..=most).contains(at);
        match self.0.scale() {
            MarginScale::RiskDifference => {
                let steps = [0.0025, 0.005, 0.01, 0.02, 0.03, 0.05, 0.1];
                on(steps.into_iter().find(|step| (most - least) / step <= 8.0).unwrap_or(0.1))
            }
            MarginScale::RiskRatio if most - least > 2.2 => on(2_f64.ln()),
            MarginScale::RiskRatio => [0.25, 0.5, 0.67, 0.8, 1.0, 1.25, 1.5, 2.0, 4.0]
                .map(f64::ln)
                .into_iter()
                .filter(within)
                .collect(),
        }
    }
}

/// A logarithm as a ratio: 1/4, 0.67, 1, 1.5.
fn times(log: f64) -> String {
    let ratio = log.exp();
    let below = (1.0 / ratio).round();
    if below >= 2.0 && (below * ratio - 1.0).abs() < 1e-9 {
        return format!("1/{below}");
    }
    format!("{}", (ratio * 100.0).round() / 100.0)
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

    fn heading(&self) -> &'static str {
        match self.side.0.scale() {
            MarginScale::RiskDifference => "difference, points",
            MarginScale::RiskRatio => "ratio",
        }
    }

    fn rows(&self) -> impl Iterator<Item = &ForestRow> {
        self.centres.iter().chain(&self.together)
    }

    fn wide(&self) -> Svg {
        const ROW: f64 = 30.0;
        const TOP: f64 = 52.0;
        let axis = Axis { values: self.side.range(self.rows()), pixels: (520.0, 900.0) };
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
            text.strong x="1080" y="18" text-anchor="end" { (self.heading()) }
            text.strong x="1180" y="18" text-anchor="end" { "weight" }
            path.ink d={ "M0 " (number(TOP - 6.0)) "H1180" } {}
            @for (at, row) in self.rows().enumerate() {
                @let strong = row.mark == ForestMark::Filled;
                text.strong[strong].quiet[row.mark == ForestMark::Prediction] x="0" y=(number(y(at) + 5.0)) { (row.name) }
                text x="270" y=(number(y(at) + 5.0)) text-anchor="end" { (row.counts[0]) }
                text x="430" y=(number(y(at) + 5.0)) text-anchor="end" { (row.counts[1]) }
                (mark(row, axis, y(at)))
                text.strong[strong] x="1080" y=(number(y(at) + 5.0)) text-anchor="end" { (row.told) }
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
        let axis = Axis { values: self.side.range(self.rows()), pixels: (6.0, 334.0) };
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
                text.halo.strong[strong] x="340" y=(number(y(at) + beside)) text-anchor="end" { (row.told) }
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
    let margin = axis.at(side.0.drawn());
    let zero = axis.at(0.0);
    let anchor = if side.better_right() { "end" } else { "start" };
    let aside = if side.better_right() { 6.0 } else { -6.0 };
    html! {
        rect.side-fill x=(number(left)) y=(number(top)) width=(number(right - left)) height=(number(base - top)) {}
        path.ink d={ "M" (number(zero)) " " (number(top)) "V" (number(base)) } {}
        path.ink.dashed stroke-width="2.4" d={ "M" (number(margin)) " " (number(top)) "V" (number(base)) } {}
        text.strong.halo x=(number(margin + aside)) y=(number(top - 8.0)) text-anchor=(anchor) { "margin " (side.told(side.0.drawn())) }
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
        @for tick in side.ticks(axis.values) {
            path.ink d={ "M" (number(axis.at(tick))) " " (number(base)) "v6" } {}
            text x=(number(axis.at(tick))) y=(number(base + 22.0)) text-anchor="middle" { (side.told(tick)) }
        }
        text.quiet x=(number(zero - gap)) y=(number(base + 46.0)) text-anchor="end" { (left) }
        text.quiet x=(number(zero + gap)) y=(number(base + 46.0)) text-anchor="start" { (right) }
    }
}

fn mark(row: &ForestRow, axis: Axis, y: f64) -> Markup {
    let Some(Drawn { lower, estimate, upper }) = row.effect else {
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
                @if (from..=to).contains(&axis.at(estimate)) { circle.ink-fill cx=(number(centre)) cy=(number(y)) r=(number(3.0 + 4.0 * weight.clamp(0.0, 1.0).sqrt())) {} }
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
    #![allow(clippy::unwrap_used)]
    use super::*;
    use quietbeam_analysis::methods::non_inferiority::{Margin, MarginSize};
    use quietbeam_analysis::methods::ratio_margin::RatioMargin;

    fn of_success(points: f64) -> Side {
        Side(PlannedMargin::Difference(Margin::Benefit(MarginSize::new(points).unwrap())))
    }

    fn of_harm(points: f64) -> Side {
        Side(PlannedMargin::Difference(Margin::Harm(MarginSize::new(points).unwrap())))
    }

    fn of_ratio(ratio: f64) -> Side {
        Side(PlannedMargin::Ratio(RatioMargin::for_harm(ratio).unwrap()))
    }

    fn row(mark: ForestMark, effect: Option<(f64, f64, f64)>) -> ForestRow {
        ForestRow {
            name: "S01".to_owned(),
            counts: ["9/10".to_owned(), "8/10".to_owned()],
            mark,
            effect: effect.map(|(lower, estimate, upper)| Drawn { lower, estimate, upper }),
            told: String::new(),
            weight: String::new(),
        }
    }

    #[test]
    fn what_leaves_the_axis_ends_in_an_arrow_and_nothing_is_no_number() {
        for (side, far, margin) in [
            (of_success(0.03), (-0.6, -0.1, 0.2), "margin −3"),
            (of_ratio(1.5), (-14.0, 0.2, 1.0), "margin 1.5"),
        ] {
            let forest = Forest {
                counted: "success / cases",
                side,
                centres: vec![row(ForestMark::Dot(0.4), Some(far)), row(ForestMark::Dot(0.0), None)],
                together: vec![row(ForestMark::Filled, Some((-0.02, 0.0, 0.01)))],
            };
            for size in [Size::Wide, Size::Narrow] {
                let drawn = forest.draw(size).content.into_string();
                assert!(!drawn.contains("NaN") && !drawn.contains("inf"), "{drawn}");
                assert!(drawn.contains("cannot be estimated") && drawn.contains(margin), "{drawn}");
                assert!(drawn.contains("l7 -5"), "the left end is an arrow: {drawn}");
            }
        }
    }

    #[test]
    fn the_shaded_side_lies_right_of_a_margin_for_success_and_left_of_one_for_harm_or_a_ratio() {
        let axis = Axis { values: (-0.05, 0.05), pixels: (0.0, 100.0) };
        assert_eq!(of_success(0.03).shaded(axis).1, 100.0);
        assert_eq!(of_harm(0.01).shaded(axis).0, 0.0);
        assert_eq!(of_ratio(1.5).shaded(axis).0, 0.0);
    }

    #[test]
    fn the_scale_has_a_few_round_ticks() {
        for range in [(-0.05, 0.05), (-0.15, 0.15), (-0.01, 0.012), (-0.004, 0.012)] {
            let ticks = of_harm(0.01).ticks(range);
            assert!((3..=9).contains(&ticks.len()), "{range:?}: {ticks:?}");
        }
        for reach in [1.6_f64, 2.0, 3.0, 4.0, 16.0] {
            let ticks = of_ratio(1.5).ticks((-reach.ln(), reach.ln()));
            assert!((3..=9).contains(&ticks.len()), "{reach}: {ticks:?}");
        }
        assert_eq!([-0.03, 0.0, 0.015].map(points), ["−3", "0", "+1.5"]);
        assert_eq!(
            [0.25_f64, 0.67, 1.0, 1.5, 8.0].map(|ratio| times(ratio.ln())),
            ["1/4", "0.67", "1", "1.5", "8"]
        );
    }
}
