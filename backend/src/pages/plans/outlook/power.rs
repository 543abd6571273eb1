//! How many cases it takes: the chance of showing non-inferiority by their number.

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::{count, percent};
use quietbeam_analysis::study::outlook::{Assumed, Curves as Counted, Needed, PowerPoint};

use super::ticks::{case_ticks, chances};
use crate::pages::components::{Cell, Column, Table};
use crate::pages::figures::{Curve, Curves, Drawings, Figure};

/// The section.
pub(super) fn section(assumed: Assumed, counted: &Counted) -> Markup {
    let last = counted.power.last().map_or(1.0, |point| f64::from(point.each_arm));
    let curve = |name: &str, dashed, of: fn(&PowerPoint) -> f64| Curve {
        name: name.to_owned(),
        dashed,
        points: counted.power.iter().map(|point| (f64::from(point.each_arm), of(point))).collect(),
    };
    let curves = Curves {
        curves: vec![
            curve("the arms are alike", false, |point| point.alike),
            curve(&assumed.worse_in_words(), true, |point| point.worse),
        ],
        across: ("cases in each arm", (0.0, last), case_ticks(last)),
        up: ("chance of showing it, %", 1.0, chances()),
        level: Some((0.8, "80 %")),
    };
    let cases = |cases: Option<u32>| cases.map_or("none is enough".to_owned(), count);
    let row = |one: &Needed| {
        [Cell::text(percent(one.chance, 0)), Cell::text(cases(one.alike)), Cell::text(cases(one.worse))]
    };
    let figure = Figure {
        id: "power",
        lead: "Figure 1.".to_owned(),
        caption: format!(
            "The chance of showing that {}, by the number of cases, after Farrington and Manning.",
            assumed.claim()
        ),
        drawings: Drawings::of(|size| curves.draw(size)),
        in_words: counted.power_in_words(assumed),
        numbers: Table {
            caption: "Cases of each arm for a chance".to_owned(),
            columns: [
                Column::words("Chance"),
                Column::numbers("Alike"),
                Column::numbers("Worse by a third of the margin"),
            ],
            rows: counted.needed.iter().map(row).collect(),
        },
    };
    html! { section { h2 { "How many cases it takes" } (figure) } }
}
