//! By when this network could show it, at today's pace.

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::{count, percent};
use quietbeam_analysis::study::outlook::{Ahead, Assumed, Outlook};

use super::ticks::chances;
use crate::pages::components::{Cell, Column, Table};
use crate::pages::figures::{Curve, Curves, Drawings, Figure};

/// The section.
pub(super) fn section(assumed: Assumed, found: &Outlook) -> Markup {
    let points = |of: fn(&Ahead) -> f64| {
        found.ahead.iter().zip(0_u32..).map(|(end, at)| (f64::from(at), of(end))).collect::<Vec<_>>()
    };
    let quarters = found.ahead.iter().zip(0_u32..).filter(|(_, at)| at % 4 == 0);
    let last = f64::from(u32::try_from(found.ahead.len().saturating_sub(1)).unwrap_or(0));
    let curves = Curves {
        curves: vec![
            Curve { name: "all cases".to_owned(), dashed: false, points: points(|end| end.chance) },
            Curve {
                name: "cases of later quarters alone".to_owned(),
                dashed: true,
                points: points(|end| end.fresh_chance),
            },
        ],
        across: (
            "at the end of the quarter",
            (0.0, last),
            quarters.map(|(end, at)| (f64::from(at), end.quarter.to_string())).collect(),
        ),
        up: ("chance of showing it, %", 1.0, chances()),
        level: Some((0.8, "80 %")),
    };
    let figure = Figure {
        id: "by-when",
        lead: "Figure 3.".to_owned(),
        caption: "What this network could show by when at today's pace, if the arms are alike. Cases that are there already cannot be planned any more: whoever wants a plan that nobody can doubt counts the later ones alone.".to_owned(),
        drawings: Drawings::of(|size| curves.draw(size)),
        in_words: found.in_words(assumed),
        numbers: quarters_of(found),
    };
    html! {
        section {
            h2 { "By when this network could show it" }
            @if found.pace_of > 0 {
                p {
                    "In scope now: " (count(found.held.zero_fluoroscopy)) " zero-fluoroscopy and " (count(found.held.conventional))
                    " conventional. In the last " (found.pace_of) " whole quarters "
                    (format!("{:.0}", found.pace.zero_fluoroscopy)) " and " (format!("{:.0}", found.pace.conventional))
                    " came in a quarter; cases are often entered late, so the pace may be higher."
                }
            }
            (figure)
        }
    }
}

/// The cases and the chance by the end of each quarter.
fn quarters_of(found: &Outlook) -> Table<6> {
    let row = |end: &Ahead| {
        let (zero, conventional) = end.rounded();
        [
            Cell::text(end.quarter.to_string()),
            Cell::text(count(zero)),
            Cell::text(count(conventional)),
            Cell::text(count(end.worth_each_arm as u64)),
            Cell::text(percent(end.chance, 0)),
            Cell::text(percent(end.fresh_chance, 0)),
        ]
    };
    Table {
        caption: "By the end of each quarter".to_owned(),
        columns: [
            Column::words("Quarter"),
            Column::numbers("Zero-fluoroscopy"),
            Column::numbers("Conventional"),
            Column::numbers("Worth, within centres, in each arm"),
            Column::numbers("Chance, all cases"),
            Column::numbers("Chance, later quarters"),
        ],
        rows: found.ahead.iter().map(row).collect(),
    }
}
