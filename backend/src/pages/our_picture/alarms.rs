//! What in the entered data calls for a look, each row leading to the cases concerned.

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::measured;
use quietbeam_analysis::study::own_picture::{
    DigitLine, OwnPicture, PossibleDuplicate, UnitChange, UnitChangeKind,
};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::Coded;

use crate::pages::components::{Age, Link, Mark, WorkGroup, WorkRow, case_code};
use crate::pages::words::{capital, counted};

/// Rows of one kind that are shown; the rest is told as a number.
const SHOWN: usize = 8;

/// The groups of rows; without any, one sentence.
pub(super) fn groups(picture: &OwnPicture, centre: CentreCode) -> Markup {
    let heaped: Vec<WorkRow> = picture.digits.iter().filter_map(digit_row).collect();
    let quiet = picture.unit_changes.is_empty() && picture.duplicates.is_empty() && heaped.is_empty();
    let units = picture.unit_changes.iter().map(|change| unit_row(change, centre));
    let repeated = picture.duplicates.iter().map(|duplicate| duplicate.codes.len() - 1).sum();
    let duplicates = picture.duplicates.iter().flat_map(duplicate_rows);
    html! {
        @if quiet {
            p.quiet { "Nothing in the entered data calls for a look: no dose that jumped by ten, a hundred or a thousand, no case that may stand twice, no rounded digits." }
        } @else {
            (group("Units of dose", picture.unit_changes.len(), units))
            (group("May be entered twice", repeated, duplicates))
            (group("Rounded numbers", heaped.len(), heaped.into_iter()))
        }
    }
}

/// The first rows of a kind; the others are not even made.
fn group(title: &'static str, all: usize, rows: impl Iterator<Item = WorkRow>) -> WorkGroup {
    let rows = rows.take(SHOWN).collect();
    let count = if all > SHOWN { format!("{SHOWN} of {all} shown") } else { format!("{all} to look at") };
    WorkGroup { title, count, all: None, rows }
}

fn unit_row(change: &UnitChange, centre: CentreCode) -> WorkRow {
    let UnitChange { dose, before, from, medians: (old, new), kind } = change;
    let medians = format!(
        "median {} {unit} in {before}, {} {unit} in {from}",
        measured(*old),
        measured(*new),
        unit = dose.unit()
    );
    let (mark, said) = match kind {
        UnitChangeKind::Jump { power } => {
            let times = 10_u32.pow(power.unsigned_abs());
            let how = if *power > 0 { format!("{times} times as much") } else { format!("one {times}th") };
            let says = format!(
                "{} became about {how}: {medians}. Was a unit typed that the console does not show?",
                capital(dose.name())
            );
            (Mark::ToAnswer, says)
        }
        UnitChangeKind::Declared { before, after } => {
            let says = format!(
                "{} typed in {after} after {before}, and the medians agree: {medians}. Nothing to mend if the console changed.",
                capital(dose.name())
            );
            (Mark::Draft, says)
        }
    };
    WorkRow {
        mark,
        about: html! { (from) },
        sentence: html! { span { (said) } },
        age: Age::Usual(String::new()),
        verb: Link::new(format!("/cases?period={from}&centre={centre}"), "Show"),
        verb_about: format!("the cases of {from}"),
    }
}

fn duplicate_rows(duplicate: &PossibleDuplicate) -> Vec<WorkRow> {
    let PossibleDuplicate { quarter, procedure, minutes, codes } = duplicate;
    let Some((first, later)) = codes.split_first() else { return Vec::new() };
    let row = |code| WorkRow {
        mark: Mark::Draft,
        about: case_code(code),
        sentence: html! { span {
            "May repeat " a href={ "/cases/" (first) } { (case_code(first)) } ": " (quarter) ", " (procedure.label()) ", "
            "same age band and sex, " (minutes) " min"
        } },
        age: Age::Usual(String::new()),
        verb: Link::new(format!("/cases/{code}"), "Show"),
        verb_about: format!("{code}, possible duplicate of {first}"),
    };
    later.iter().map(row).collect()
}

fn digit_row(line: &DigitLine) -> Option<WorkRow> {
    let heaped: Vec<String> = line.heaped()?.iter().map(ToString::to_string).collect();
    let numbers = counted(line.numbers as usize, "number", "numbers");
    Some(WorkRow {
        mark: Mark::ToAnswer,
        about: html! { (numbers) },
        sentence: html! { span {
            (capital(line.quantity.name())) " ends on " (heaped.join(" and ")) " more often than chance would: read off, or rounded?"
        } },
        age: Age::Usual(String::new()),
        verb: Link::new("#digits", "Show"),
        verb_about: format!("last digits of {}", line.quantity.name()),
    })
}
