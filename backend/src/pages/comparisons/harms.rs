//! Every class of complication in both arms.

use maud::{Markup, html};
use quietbeam_analysis::study::arm::ByArm;
use quietbeam_analysis::study::numerals::count;
use quietbeam_analysis::study::report::{HarmLine, Harms};
use quietbeam_analysis::study::watching::{CentreChart, Charts};
use quietbeam_schema::vocabulary::Coded;

use crate::pages::components::{Cell, Column, Table, as_blocks};
use crate::pages::harm_charts;

/// The section.
pub(super) fn section(harms: &Harms) -> Markup {
    let both = |arms: ByArm<u32>| {
        Cell::text(format!("{} against {}", count(arms.zero_fluoroscopy), count(arms.conventional)))
    };
    let row = |line: &HarmLine| {
        [Cell::text(line.class.label()), both(line.major), both(line.minor), both(line.imaging_only)]
    };
    let cases = &harms.cases;
    let table = Table {
        caption: format!(
            "Cases with a complication within 30 days: zero-fluoroscopy ({}) against conventional ({})",
            count(cases.zero_fluoroscopy),
            count(cases.conventional)
        ),
        columns: [
            Column::words("Class"),
            Column::numbers("Major"),
            Column::numbers("Minor"),
            Column::numbers("Seen only because someone looked"),
        ],
        rows: harms.classes.iter().map(row).collect(),
    };
    html! {
        section id="harms" {
            h2 { "Every class of harm" }
            (as_blocks(&table))
            p.small { "As intended, crude, no verdict. A case may stand in several classes. What is seen only by looking follows how often anyone looked." }
        }
    }
}

/// Each centre's harm among its limits and case by case, in two figures from this number on.
pub(super) fn by_centre(charts: &Charts, number: usize) -> Markup {
    let centres: Vec<&CentreChart> = charts.centres.iter().collect();
    html! {
        section id="centres-harm-charts" {
            h2 { "Harm by centre" }
            @if centres.is_empty() { p { "No case is compared." } } @else {
                p { "In the cases compared, both strategies together. What is expected follows from the kinds of procedure of all centres. A centre outside its limits, or a sum that reaches its line, asks for a look at the cases: it is no finding about a centre and says nothing of a strategy." }
                (harm_charts::limits(centres.clone(), &format!("Figure {number}.")))
                (harm_charts::sums(&centres, charts.false_signal_after, &format!("Figure {}.", number + 1)))
            }
        }
    }
}
