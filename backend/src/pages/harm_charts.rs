//! Each centre's harm among its limits, and case by case: while the registry runs, and in a report.

use maud::{Markup, Render};
use quietbeam_analysis::study::numerals::{count, percent};
use quietbeam_analysis::study::watching::{CentreChart, Funnel, FunnelLimits, SIGNAL_LINE};

use super::components::{Cell, Column, Table};
use super::figures::{Drawings, Figure, LimitRow, LimitRows, SumChart, SumCharts};
use super::words::{capital, counted};

/// A centre's place among the limits that a centre on target would keep.
pub(super) fn limits(mut centres: Vec<&CentreChart>, lead: &str) -> Markup {
    centres.sort_by_key(|centre| std::cmp::Reverse(centre.known));
    let row = |centre: &&CentreChart| {
        let funnel = centre.funnel?;
        let limits = |limits: FunnelLimits| (limits.lower, limits.upper);
        Some(LimitRow {
            label: format!("{}, {} cases", centre.code, count(centre.known)),
            share: funnel.share,
            target: funnel.ordinary.target.proportion(),
            ordinary: limits(funnel.ordinary),
            far: limits(funnel.far),
            value: format!("{} of {:.1} expected", centre.events, centre.expected),
        })
    };
    let drawn = LimitRows(centres.iter().filter_map(row).collect());
    let outside = |far: fn(&Funnel) -> bool| {
        centres.iter().filter(|centre| centre.funnel.as_ref().is_some_and(far)).count()
    };
    let (above, below) = (outside(Funnel::is_far_above), outside(Funnel::is_far_below));
    let in_words = match (above, below) {
        (0, 0) => {
            "Every centre lies within the limits that 499 in 500 centres on target would keep.".to_owned()
        }
        (above, below) => capital(&format!(
            "{} above and {} below the limits that 499 in 500 centres on target would keep.",
            counted(above, "centre lies", "centres lie"),
            counted(below, "lies", "lie")
        )),
    };
    Figure {
        id: "limits",
        lead: lead.to_owned(),
        caption: "Share of cases with a major complication or death within 30 days (dot), beside what the centre's own kinds of \
            procedure lead one to expect (line). The inner band holds 19 in 20 centres on target, the outer one 499 in 500; a ring \
            marks what lies outside."
            .to_owned(),
        drawings: Drawings::of(|size| drawn.draw(size)),
        in_words,
        numbers: table(&centres),
    }
    .render()
}

fn table(centres: &[&CentreChart]) -> Table<6> {
    let row = |centre: &&CentreChart| {
        let ratio = centre.ratio.map_or("not estimable".to_owned(), |ratio| {
            format!("{:.2} ({:.2} to {:.2})", ratio.estimate, ratio.lower, ratio.upper)
        });
        let share = centre.funnel.map_or("none".to_owned(), |funnel| percent(funnel.share, 1));
        [
            Cell::text(centre.code.to_string()),
            Cell::text(format!("{} of {}", count(centre.known), count(centre.cases))),
            Cell::text(count(centre.events)),
            Cell::text(format!("{:.1}", centre.expected)),
            Cell::text(share),
            Cell::text(ratio),
        ]
    };
    Table {
        caption: "Observed and expected; exact Poisson limits, 95\u{a0}%".to_owned(),
        columns: [
            Column::words("Centre"),
            Column::numbers("30 days known"),
            Column::numbers("Observed"),
            Column::numbers("Expected"),
            Column::numbers("Share"),
            Column::numbers("Observed over expected"),
        ],
        rows: centres.iter().map(row).collect(),
    }
}

/// The cumulative sums, a panel a centre.
pub(super) fn sums(centres: &[&CentreChart], false_signal_after: Option<f64>, lead: &str) -> Markup {
    let chart = |centre: &&CentreChart| SumChart {
        name: centre.code.to_string(),
        beside: format!("{} of {} cases", centre.events, count(centre.known)),
        course: Some(centre.course.points.clone()),
        peak: centre.course.peak(),
    };
    let drawn = SumCharts { charts: centres.iter().map(chart).collect(), signal: SIGNAL_LINE };
    let reached: Vec<String> = centres
        .iter()
        .filter(|centre| centre.course.peak().is_some_and(|(_, height)| height >= SIGNAL_LINE))
        .map(|centre| centre.code.to_string())
        .collect();
    let mut in_words = match reached.len() {
        0 => "No centre's sum reaches the line.".to_owned(),
        _ => format!("The sum reaches the line at {}.", reached.join(", ")),
    };
    if let Some(cases) = false_signal_after {
        let cases = count((cases / 100.0).round() as u64 * 100);
        in_words.push_str(&format!(" By chance alone a chart does so about once in {cases} cases."));
    }
    let row = |centre: &&CentreChart| {
        let peak = centre.course.peak().map_or_else(
            || ["none".to_owned(), String::new()],
            |(case, height)| [format!("{height:.1}"), count(case as u64)],
        );
        let [height, case] = peak;
        [Cell::text(centre.code.to_string()), Cell::text(height), Cell::text(case)]
    };
    Figure {
        id: "sums",
        lead: lead.to_owned(),
        caption: "Major complications and deaths within 30 days (ticks), in the order of quarter and entry, never by date. The sum \
            rises with each, more where it was less expected, and falls a little with every case without; it is tuned to twice the \
            expected odds, and starts afresh after it reached the dashed line."
            .to_owned(),
        drawings: Drawings::of(|size| drawn.draw(size)),
        in_words,
        numbers: Table {
            caption: "The highest point of each sum".to_owned(),
            columns: [Column::words("Centre"), Column::numbers("Height"), Column::numbers("At case")],
            rows: centres.iter().map(row).collect(),
        },
    }
    .render()
}
