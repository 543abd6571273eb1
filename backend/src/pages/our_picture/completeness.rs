//! How much was filled in, and how much of what was eligible was sent in.

use quietbeam_analysis::study::numerals::{count, limits, percent};
use quietbeam_analysis::study::own_picture::{Completeness, FieldLine, LogLine, QuarterLine};

use super::{Parts, Told, cell};
use crate::pages::components::{Cell, Column, Table};
use crate::pages::figures::{FillRow, FillRows, QuarterRow, QuarterRows};
use crate::pages::words::{capital, counted};

/// Fields that the drawing shows; the table has them all.
const DRAWN: usize = 8;

/// Below this share of the eligible a quarter is asked about.
const ENOUGH: f64 = 0.9;

/// The fields most often left open.
pub(super) fn fields(completeness: &Completeness, cases: u32) -> Told {
    let (asked, given) = completeness.total();
    let worst = completeness.most_open(DRAWN);
    let sentence = match (asked, worst.first()) {
        (0, _) => "No field was asked for yet.".to_owned(),
        (_, None) => "Every field that applies is filled in.".to_owned(),
        (_, Some(widest)) => format!(
            "{} of what the form asks for is filled in; the widest gap is \u{201c}{}\u{201d}.",
            percent(given as f64 / asked as f64, 1),
            widest.label
        ),
    };
    let more = worst.first().map_or_else(String::new, |widest| {
        format!("It is open {} of {} times.", count(widest.open()), count(widest.applies))
    });
    let row =
        |line: &FieldLine| FillRow { label: line.label.to_owned(), filled: line.filled, of: line.applies };
    let drawn = FillRows(worst.iter().map(row).collect());
    Told::new(
        "completeness",
        sentence,
        Parts {
            lead: "Filled in.",
            caption: format!(
                "The fields most often left open, of {} cases. The line runs as far as they are filled, then it is dotted. \
             A stated reason counts as filled, \u{201c}not recorded\u{201d} does not; optional fields have no gaps.",
                count(cases)
            ),
            draw: Box::new(move |size| drawn.draw(size)),
            more,
            numbers: table_of_fields(completeness),
        },
    )
}

fn table_of_fields(completeness: &Completeness) -> Table<5> {
    let row = |line: &FieldLine| {
        let share = f64::from(line.filled) / f64::from(line.applies);
        [
            Cell::text(line.label),
            Cell::text(line.section),
            Cell::text(count(line.applies)),
            Cell::text(count(line.open())),
            Cell::text(percent(share, 1)),
        ]
    };
    Table {
        caption: "Every field that was asked for, in the order of the form".to_owned(),
        columns: [
            Column::words("Field"),
            Column::words("Part"),
            Column::numbers("Asked"),
            Column::numbers("Open"),
            Column::numbers("Filled in"),
        ],
        rows: completeness.lines().map(row).collect(),
    }
}

/// Sent in of what was eligible, quarter by quarter.
pub(super) fn denominators(quarters: &[QuarterLine]) -> Told {
    let logged: Vec<&LogLine> = quarters.iter().filter_map(|line| line.log.as_ref()).collect();
    let low: Vec<&&LogLine> = logged.iter().filter(|line| is_low(line)).collect();
    let sentence = match (logged.last(), low.len()) {
        (None, _) => {
            "The screening log is empty, so nobody can tell whether every case was sent in.".to_owned()
        }
        (Some(last), 0) => format!("{}; no quarter lies below 90 in 100.", last_quarter(last)),
        (Some(last), low) => format!(
            "{}; {} below 90 in 100.",
            last_quarter(last),
            counted(low, "quarter lies", "quarters lie")
        ),
    };
    let unlogged = quarters.iter().filter(|line| line.log.is_none() && line.cases > 0).count();
    let more = if unlogged > 0 && !logged.is_empty() {
        capital(&format!(
            "{} cases and no line in the log.",
            counted(unlogged, "quarter has", "quarters have")
        ))
    } else {
        String::new()
    };
    let drawn = QuarterRows(quarters.iter().map(row_of).collect());
    Told::new("denominators", sentence, Parts {
        lead: "Sent in.",
        caption: "Outline: performed. Pale: eligible. Dark: sent in, by the screening log. The open dip marks a quarter \
                  below 90 in 100 eligible: which cases are missing?"
            .to_owned(),
        draw: Box::new(move |size| drawn.draw(size)),
        more,
        numbers: table_of_quarters(quarters),
    })
}

fn is_low(line: &LogLine) -> bool {
    line.eligible > 0 && f64::from(line.submitted) < ENOUGH * f64::from(line.eligible)
}

fn last_quarter(line: &LogLine) -> String {
    format!(
        "In {}, {} of {} eligible cases were sent in",
        line.quarter,
        count(line.submitted),
        count(line.eligible)
    )
}

fn row_of(line: &QuarterLine) -> QuarterRow {
    let label = line.quarter.to_string();
    match &line.log {
        None => QuarterRow { label, counts: None, value: "no line".to_owned(), to_answer: false },
        Some(log) => {
            let share = log
                .submitted_share()
                .map(|share| format!(" ({})", percent(f64::from(share.count) / f64::from(share.of), 0)));
            QuarterRow {
                label,
                counts: Some([log.performed, log.eligible, log.submitted]),
                value: format!(
                    "{} of {}{}",
                    count(log.submitted),
                    count(log.eligible),
                    share.unwrap_or_default()
                ),
                to_answer: is_low(log),
            }
        }
    }
}

fn table_of_quarters(quarters: &[QuarterLine]) -> Table<6> {
    let row = |line: &QuarterLine| {
        let share = |log: &LogLine| {
            log.submitted_share()
                .and_then(|share| share.proportion)
                .map(|share| format!("{} ({})", percent(share.estimate, 0), limits(&share, 0)))
        };
        let [performed, eligible, submitted, share] = match &line.log {
            None => ["no line", "", "", ""].map(Cell::text),
            Some(log) => [
                Cell::text(count(log.performed)),
                Cell::text(count(log.eligible)),
                Cell::text(count(log.submitted)),
                cell(share(log)),
            ],
        };
        [
            Cell::text(line.quarter.to_string()),
            performed,
            eligible,
            submitted,
            share,
            Cell::text(count(line.cases)),
        ]
    };
    Table {
        caption: "By quarter; the share of the eligible with 95 % limits (Wilson)".to_owned(),
        columns: [
            Column::words("Quarter"),
            Column::numbers("Performed"),
            Column::numbers("Eligible"),
            Column::numbers("Sent in"),
            Column::numbers("Of the eligible"),
            Column::numbers("In the registry"),
        ],
        rows: quarters.iter().map(row).collect(),
    }
}
