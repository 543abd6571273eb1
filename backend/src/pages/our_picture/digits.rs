//! Last digits of doses and times.

use quietbeam_analysis::study::numerals::{count, p_value};
use quietbeam_analysis::study::own_picture::DigitLine;

use super::{Parts, Told, cell};
use crate::pages::components::{Cell, Column, Table};
use crate::pages::figures::{DigitBars, DigitPanel};
use crate::pages::words::capital;

/// Each quantity's last digits.
pub(super) fn last_digits(lines: &[DigitLine]) -> Told {
    let heaped: Vec<&str> =
        lines.iter().filter(|line| line.heaped().is_some()).map(|line| line.quantity.name()).collect();
    let looked = lines.iter().any(|line| line.found.is_some());
    let sentence = match (looked, heaped.as_slice()) {
        (false, _) => "Too few doses and times were typed to look at their last digits.".to_owned(),
        (true, []) => {
            "Last digits of doses and times are spread as they would be if read off a display.".to_owned()
        }
        (true, names) => {
            format!("{} looks rounded: some last digits stand out.", capital(&names.join(" and ")))
        }
    };
    let panel = |line: &DigitLine| DigitPanel {
        name: format!("{}, {} numbers", line.quantity.name(), count(line.numbers)),
        digits: line
            .found
            .as_ref()
            .map(|(counts, _)| line.kept.digits().zip(counts.iter().copied()).collect()),
    };
    let drawn = DigitBars(lines.iter().map(panel).collect());
    Told::new("digits", sentence, Parts {
        lead: "Last digits.",
        caption: "How often each digit stood last; the dashed line is what chance would give. Doses with three digits or more; \
             a 0 at the end of a decimal is not kept."
            .to_owned(),
        draw: Box::new(move |size| drawn.draw(size)),
        more: "A digit counts as standing out from half as much again on, where chance alone gives such a spread less \
               than once in a thousand times."
            .to_owned(),
        numbers: table(lines),
    })
}

fn table(lines: &[DigitLine]) -> Table<4> {
    let row = |line: &DigitLine| {
        let found = line.found.as_ref();
        let digits = found.map(|(counts, _)| {
            let each =
                line.kept.digits().zip(counts).map(|(digit, times)| format!("{digit}: {}", count(*times)));
            each.collect::<Vec<_>>().join(" · ")
        });
        [
            Cell::text(line.quantity.name()),
            Cell::text(count(line.numbers)),
            cell(digits),
            cell(found.map(|(_, test)| p_value(test.p))),
        ]
    };
    Table {
        caption: "Last digits, and the p value of an even spread (chi-square; exact where few)".to_owned(),
        columns: [
            Column::words("Quantity"),
            Column::numbers("Numbers"),
            Column::words("Digit and how often"),
            Column::numbers("p"),
        ],
        rows: lines.iter().map(row).collect(),
    }
}
