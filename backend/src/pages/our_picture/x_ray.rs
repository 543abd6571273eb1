//! How many cases had no X-ray, quarter by quarter, and where X-ray was used after all.

use quietbeam_analysis::study::numerals::{count, limits, percent};
use quietbeam_analysis::study::own_picture::{
    CrossOvers, Interval, NetworkValues, Part, QuarterLine, ReasonCount,
};
use quietbeam_schema::vocabulary::Coded;

use super::{Parts, Told, cell};
use crate::pages::components::{Cell, Column, Table};
use crate::pages::figures::{CountRow, CountRows, Look, Series, TimeShare};
use crate::pages::words::counted;

/// The share without X-ray over quarters, as happened and by intention.
pub(super) fn over_time(quarters: &[QuarterLine], network: &NetworkValues) -> Told {
    let shown: Vec<(&QuarterLine, Interval)> =
        quarters.iter().filter_map(|line| Some((line, proportion(&line.all)?))).collect();
    let said = |(line, share): &(&QuarterLine, Interval), of: &str| {
        format!("{}{of} in {}", percent(share.estimate, 0), line.quarter)
    };
    let sentence = match shown.as_slice() {
        [] => "No quarter has enough cases for a share without X-ray.".to_owned(),
        [only] => format!("Without X-ray: {}.", said(only, " of cases")),
        [first, .., last] => format!("Without X-ray: {}, {}.", said(first, " of cases"), said(last, "")),
    };
    let more = network.no_x_ray_percent.map_or_else(String::new, |share| {
        format!("In the whole network it is about {share} % of cases, all quarters together, rounded to the nearest five.")
    });
    let drawn = TimeShare {
        quarters: quarters.iter().map(|line| (line.quarter.to_string(), line.cases)).collect(),
        series: vec![
            series(Look::All, "all cases", quarters, |line| &line.all),
            series(Look::Ring, "zero-fluoroscopy intended", quarters, |line| &line.intended_zero),
            series(Look::Square, "conventional intended", quarters, |line| &line.intended_conventional),
        ],
    };
    Told::new(
        "x-ray",
        sentence,
        Parts {
            lead: "Without X-ray.",
            caption: "Share of cases in which the beam was never on: of all cases, and of those of each intended strategy. Thin \
             lines are 95 % limits (Wilson)."
            .to_owned(),
            draw: Box::new(move |size| drawn.draw(size)),
            more,
            numbers: table_of_shares(quarters),
        },
    )
}

fn proportion(part: &Part) -> Option<Interval> {
    part.no_x_ray()?.proportion
}

fn series(
    look: Look,
    name: &'static str,
    quarters: &[QuarterLine],
    part: impl Fn(&QuarterLine) -> &Part,
) -> Series {
    Series { look, name, shares: quarters.iter().map(|line| proportion(part(line))).collect() }
}

fn table_of_shares(quarters: &[QuarterLine]) -> Table<5> {
    let share = |part: &Part| {
        cell(proportion(part).map(|share| format!("{} ({})", percent(share.estimate, 0), limits(&share, 0))))
    };
    let row = |line: &QuarterLine| {
        [
            Cell::text(line.quarter.to_string()),
            Cell::text(count(line.cases)),
            share(&line.all),
            share(&line.intended_zero),
            share(&line.intended_conventional),
        ]
    };
    Table {
        caption: "Share without X-ray by quarter, with 95 % limits".to_owned(),
        columns: [
            Column::words("Quarter"),
            Column::numbers("Cases"),
            Column::numbers("All"),
            Column::numbers("Zero-fluoroscopy intended"),
            Column::numbers("Conventional intended"),
        ],
        rows: quarters.iter().map(row).collect(),
    }
}

/// Cross-overs with their reasons.
pub(super) fn cross_overs(found: &CrossOvers) -> Told {
    let sentence = match (&found.share, found.reasons.first()) {
        (None, _) => {
            "Too few cases were intended without X-ray to say how often it was used after all.".to_owned()
        }
        (Some(share), None) => format!(
            "X-ray was used after all in {} of {} cases intended without.",
            count(share.count),
            count(share.of)
        ),
        (Some(share), Some(first)) => format!(
            "X-ray was used after all in {} of {} cases intended without; the reason given most often is \u{201c}{}\u{201d}.",
            count(share.count),
            count(share.of),
            first.reason.label()
        ),
    };
    let mut more = Vec::new();
    if let Some(limited) = found.share.and_then(|share| share.proportion) {
        more.push(format!("That is {} (95 % limits {}).", percent(limited.estimate, 1), limits(&limited, 1)));
        if found.for_a_complication > 0 {
            more.push(format!(
                "In {} a complication called for it: an outcome of the case, not a failure of the strategy.",
                counted(found.for_a_complication as usize, "of them", "of them")
            ));
        }
    }
    if found.none_after_all > 0 {
        let cases = counted(found.none_after_all as usize, "case", "cases");
        more.push(format!("The other way round, X-ray was intended and never used in {cases}."));
    }
    let shown = found.share.is_some();
    let reasons: Vec<ReasonCount> = if shown { found.reasons.clone() } else { Vec::new() };
    let row = |reason: &ReasonCount| CountRow {
        label: reason.reason.label().to_owned(),
        count: reason.cases,
        value: count(reason.cases),
    };
    let drawn = CountRows(reasons.iter().map(row).collect());
    let mut rows: Vec<[Cell; 2]> =
        reasons.iter().map(|one| [Cell::text(one.reason.label()), Cell::text(count(one.cases))]).collect();
    if shown && found.without_reason > 0 {
        rows.push([Cell::text("No reason stated"), Cell::text(count(found.without_reason))]);
    }
    if !shown {
        rows.push([Cell::text("All reasons"), Cell::NotShown]);
    }
    Told::new("cross-overs", sentence, Parts {
        lead: "X-ray after all.",
        caption: "Why X-ray was used although zero-fluoroscopy was intended. One case may give several reasons. \
                  Fluoroscopy stays available, and using it is never a failure."
            .to_owned(),
        draw: Box::new(move |size| if shown { drawn.draw(size) } else { CountRows::not_shown(size) }),
        more: more.join(" "),
        numbers: Table {
            caption: "Cases by the reason given".to_owned(),
            columns: [Column::words("Reason"), Column::numbers("Cases")],
            rows,
        },
    })
}
