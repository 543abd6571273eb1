//! How wide the interval will be: of the difference in points, of a ratio as a factor.

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::{count, percent};
use quietbeam_analysis::study::outlook::{Assumed, Precision, ReachPoint, WidthPoint, factor};

use super::ticks::case_ticks;
use crate::pages::components::{Cell, Column, Table};
use crate::pages::figures::{Curve, Curves, Drawings, Figure, Tick};

/// Ends of the axis of factors, and its ticks where they do not crowd.
const FACTORS: [f64; 11] = [1.0, 1.02, 1.05, 1.1, 1.2, 1.5, 2.0, 3.0, 5.0, 10.0, 20.0];

/// The least part of an axis between two ticks.
const APART: f64 = 0.122;

/// Where a factor is missing more often, its average would be one of lucky samples (common practice,
/// no source).
const OFTEN_MISSING: f64 = 0.1;

/// The section.
pub(super) fn section(assumed: Assumed, precision: &Precision) -> Markup {
    let in_words = precision.in_words();
    html! {
        section {
            h2 { "How wide the interval will be" }
            @match precision {
                Precision::Difference(points) => (of_difference(assumed, points, in_words)),
                Precision::Ratio(points) => (of_ratio(assumed, points, in_words)),
            }
        }
    }
}

/// One curve by the number of cases, with the margin as a level where it lies on the axis.
fn curves(name: &str, points: Vec<(f64, f64)>, up: (&'static str, f64, Vec<Tick>), margin: f64) -> Curves {
    let last = points.last().map_or(1.0, |(cases, _)| *cases);
    let level = (margin <= up.1).then_some((margin, "the margin"));
    let curve = Curve { name: name.to_owned(), dashed: false, points };
    let across = ("cases in each arm", (0.0, last), case_ticks(last));
    Curves { curves: vec![curve], across, up, level }
}

fn of_difference(assumed: Assumed, points: &[WidthPoint], in_words: String) -> Markup {
    let widest = points.first().map_or(0.01, |point| point.half_width);
    let up = ("points to either side of the difference", width_axis(widest));
    let places = points.iter().map(|point| (f64::from(point.each_arm), point.half_width)).collect();
    let curves = curves("half the width on average", places, (up.0, up.1.0, up.1.1), assumed.margin().size());
    let row = |point: &WidthPoint| {
        [Cell::text(count(point.each_arm)), Cell::text(format!("{:.2}", 100.0 * point.half_width))]
    };
    let figure = Figure {
        id: "precision",
        lead: "Figure 2.".to_owned(),
        caption: "How far the interval of the difference reaches on average, by Newcombe's method, if the arms are alike.".to_owned(),
        drawings: Drawings::of(|size| curves.draw(size)),
        in_words,
        numbers: Table {
            caption: "Half the width of the interval".to_owned(),
            columns: [Column::words("Cases in each arm"), Column::numbers("Points")],
            rows: points.iter().step_by(2).map(row).collect(),
        },
    };
    html! { (figure) }
}

/// The end of the axis and its ticks: whole points, or tenths where the widest is below one.
fn width_axis(widest: f64) -> (f64, Vec<Tick>) {
    let step = if widest > 0.04 {
        0.02
    } else if widest > 0.01 {
        0.01
    } else {
        0.002
    };
    let steps = (widest / step).ceil().max(1.0);
    let tick = |at: u32| {
        let value = f64::from(at) * step;
        (value, format!("{:.*}", usize::from(step < 0.01), 100.0 * value))
    };
    (steps * step, (0..=(steps as u32)).map(tick).collect())
}

/// Factors are drawn by their logarithm, so that 1 lies at the foot and twice as far is twice as
/// much of it.
fn of_ratio(assumed: Assumed, points: &[ReachPoint], in_words: String) -> Markup {
    let mut drawn = points.iter().filter(|point| point.reach.unbounded < OFTEN_MISSING).peekable();
    let (end, ticks) = factor_axis(drawn.peek().map_or(2.0, |point| point.reach.factor));
    let places = drawn.map(|point| (f64::from(point.each_arm), point.reach.factor.ln())).collect();
    let up = ("factor to either side of the ratio", end, ticks);
    let curves = curves("the factor on average", places, up, assumed.margin().drawn());
    let chance = |chance: f64| if chance < 1e-4 { "< 0.01 %".to_owned() } else { percent(chance, 1) };
    let row = |point: &ReachPoint| {
        [
            Cell::text(count(point.each_arm)),
            Cell::text(factor(point.reach.factor)),
            Cell::text(chance(point.reach.unbounded)),
        ]
    };
    let figure = Figure {
        id: "precision",
        lead: "Figure 2.".to_owned(),
        caption: "How far the interval of the ratio reaches on average, after Miettinen and Nurminen, if the arms are alike: a factor of 2 is from half the ratio to twice as much. Where an arm sees no such event there is no factor: the average leaves that out, the numbers tell its chance, and the curve begins where it is below 10 %.".to_owned(),
        drawings: Drawings::of(|size| curves.draw(size)),
        in_words,
        numbers: Table {
            caption: "Reach of the interval as a factor".to_owned(),
            columns: [
                Column::words("Cases in each arm"),
                Column::numbers("Factor"),
                Column::numbers("Chance that there is none"),
            ],
            rows: points.iter().step_by(2).map(row).collect(),
        },
    };
    html! { (figure) }
}

/// The end of the axis as a logarithm, and its ticks.
fn factor_axis(widest: f64) -> (f64, Vec<Tick>) {
    let end = FACTORS.into_iter().find(|factor| *factor >= widest).unwrap_or(widest).ln();
    let mut ticks: Vec<Tick> = Vec::new();
    for factor in FACTORS {
        let crowded = ticks.last().is_some_and(|(last, _)| factor.ln() - last < APART * end);
        if factor.ln() <= end && !crowded {
            ticks.push((factor.ln(), factor.to_string()));
        }
    }
    (end, ticks)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_axis_of_factors_ends_beyond_the_widest_and_its_ticks_do_not_crowd() {
        for (widest, expected) in
            [(1.04, "1 1.02 1.05"), (1.3, "1 1.1 1.2 1.5"), (2.7, "1 1.2 1.5 2 3"), (8.0, "1 1.5 2 3 5 10")]
        {
            let (end, ticks) = factor_axis(widest);
            assert!(end >= f64::ln(widest));
            let names: Vec<&str> = ticks.iter().map(|(_, name)| name.as_str()).collect();
            assert_eq!(names.join(" "), expected, "{widest}");
        }
    }
}
