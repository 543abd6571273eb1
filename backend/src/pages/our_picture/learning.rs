//! The operators' zero-fluoroscopy cases in their order.

use quietbeam_analysis::study::numerals::count;
use quietbeam_analysis::study::own_picture::{
    Chart, EXPECTED_CROSS_OVER, FIRST_CASES, Learning, Operator, SIGNAL_LINE,
};
use quietbeam_analysis::study::share::Share;
use quietbeam_schema::value::FieldValue;

use super::{Parts, Told, cell};
use crate::pages::components::{Cell, Column, Table};
use crate::pages::figures::{SumChart, SumCharts};
use crate::pages::words::counted;

/// Operators that the drawing shows, those with most cases; the table has them all.
const DRAWN: usize = 6;

/// A chart for each operator.
pub(super) fn operators(learning: &Learning) -> Told {
    let charts: Vec<(&Operator, &Chart)> =
        learning.operators.iter().filter_map(|one| Some((one, one.chart.as_ref()?))).collect();
    let crossed: Vec<String> = charts
        .iter()
        .filter(|(_, chart)| !chart.signals.is_empty())
        .map(|(operator, _)| operator.code.text())
        .collect();
    let sentence = match (charts.len(), crossed.len()) {
        (0, _) => "No operator has enough zero-fluoroscopy cases for a chart.".to_owned(),
        (_, 0) => "X-ray after all stays below the signal line for every operator.".to_owned(),
        (all, some) => format!(
            "X-ray after all crossed the signal line in the charts of {some} of {}.",
            counted(all, "operator", "operators")
        ),
    };
    let mut more = Vec::new();
    if !crossed.is_empty() {
        more.push(format!(
            "It did so for {}; the first cases of a new way of working often do.",
            crossed.join(", ")
        ));
    }
    if let Some(cases) = learning.false_signal_after {
        let cases = count((cases / 10.0).round() as u64 * 10);
        more.push(format!("By chance alone a chart crosses it about once in {cases} cases."));
    }
    if learning.without_operator > 0 {
        let cases = counted(learning.without_operator as usize, "case names", "cases name");
        more.push(format!("Besides, {cases} no operator."));
    }
    let drawn =
        SumCharts { charts: learning.operators.iter().take(DRAWN).map(chart).collect(), signal: SIGNAL_LINE };
    Told::new(
        "learning",
        sentence,
        Parts {
            lead: "Learning, case by case.",
            caption: format!(
                "Cases intended without X-ray, operator by operator, in the order of quarter and entry, never by date. The sum \
             rises with X-ray after all (ticks) and falls without; it is tuned to twice the odds of {} in 100, a published \
             rate and no standard. X-ray for a complication does not count. A signal asks for a look at the cases, not at \
             a person.",
                (100.0 * EXPECTED_CROSS_OVER).round()
            ),
            draw: Box::new(move |size| drawn.draw(size)),
            more: more.join(" "),
            numbers: table(learning),
        },
    )
}

fn chart(operator: &Operator) -> SumChart {
    let course = operator
        .chart
        .as_ref()
        .map(|chart| chart.heights.iter().copied().zip(chart.events.iter().copied()).collect());
    SumChart {
        name: operator.code.text(),
        beside: super::counted_cases(operator.cases),
        course,
        peak: operator.chart.as_ref().and_then(Chart::peak),
    }
}

fn table(learning: &Learning) -> Table<5> {
    let share = |share: &Share| {
        if share.of == 0 {
            "none yet".to_owned()
        } else {
            format!("{} of {}", count(share.count), count(share.of))
        }
    };
    let row = |operator: &Operator| {
        let chart = operator.chart.as_ref();
        let signals = chart.map(|chart| {
            let cases: Vec<String> = chart.signals.iter().map(|case| count(*case as u64)).collect();
            if cases.is_empty() { "none".to_owned() } else { format!("case {}", cases.join(", ")) }
        });
        [
            Cell::text(operator.code.text()),
            Cell::text(count(operator.cases)),
            cell(chart.map(|chart| share(&chart.first))),
            cell(chart.map(|chart| share(&chart.later))),
            cell(signals),
        ]
    };
    Table {
        caption: "X-ray after all by operator, first cases and later ones".to_owned(),
        columns: [
            Column::words("Operator"),
            Column::numbers("Cases"),
            Column::numbers(&format!("First {FIRST_CASES}")),
            Column::numbers("Later"),
            Column::numbers("Signals"),
        ],
        rows: learning.operators.iter().map(row).collect(),
    }
}
