//! Checks files against the dictionary, with no registry at hand.

use super::FileKind;
use super::cases::{CaseRow, CaseRows, Places, RefusedRow, Row};
use super::parts::{Leftover, Parts};
use super::report::{Report, Tally};
use super::source::Files;
use super::trouble::IntakeError;
use quietbeam_schema::case::{Complication, FollowUp};
use quietbeam_schema::dictionary::{Reader, Section};
use quietbeam_schema::entries::Entries;
use quietbeam_schema::finding::{Finding, Part};
use quietbeam_schema::period::Quarter;
use std::io;

/// Checks every row by every rule that looks at one case. `today` is the
/// current quarter. Without a cases file, complications and follow-ups are
/// looked at field by field.
///
/// # Errors
/// When the bytes of a file cannot be read; everything else is in the report.
pub fn check_files(files: &Files, today: Quarter) -> Result<Report, (FileKind, io::Error)> {
    let mut tally = Tally::default();
    match check_into(&mut tally, files, today) {
        Ok(()) => {}
        Err(IntakeError::Refused(refused)) => tally.refuse_whole(refused.problems),
        Err(IntakeError::Unreadable(file, error)) => return Err((file, error)),
    }
    Ok(tally.into_report(|kind| files.of(kind).is_some()))
}

fn check_into(tally: &mut Tally, files: &Files, today: Quarter) -> Result<(), IntakeError> {
    let parts = Parts::read(files, tally)?;
    let mut cases = CaseRows::open(files, &parts)?;
    while let Some(row) = cases.next_row()? {
        tally.read(FileKind::Cases);
        match row {
            CaseRow::Whole(row) => check_row(tally, &row, today),
            CaseRow::Refused(row) => refuse_row(tally, row),
        }
    }
    for leftover in cases.leftovers() {
        if files.cases.is_some() {
            leftover.without_case("in the cases file").into_iter().for_each(|problem| tally.add(problem));
        } else {
            check_alone(tally, &leftover);
        }
    }
    Ok(())
}

fn check_row(tally: &mut Tally, row: &Row, today: Quarter) {
    match row.check(today) {
        Ok(checked) => {
            for finding in checked.queries {
                tally.add(row.places.problem(finding));
            }
        }
        Err(problems) => {
            // What belongs to a refused case cannot be stored without it.
            row.places.iter().for_each(|(file, at)| tally.refuse(file, at));
            problems.into_iter().for_each(|problem| tally.add(problem));
        }
    }
}

fn refuse_row(tally: &mut Tally, row: RefusedRow) {
    tally.add(row.problem);
    row.along.into_iter().for_each(|(file, at)| tally.refuse(file, at));
}

/// Looks at the fields of rows whose case is not at hand.
fn check_alone(tally: &mut Tally, leftover: &Leftover) {
    let places: Places = leftover.parts.places();
    for (position, (_, entries)) in leftover.parts.complications.iter().enumerate() {
        for finding in findings::<Complication>(Part::Complication(position), entries) {
            tally.add(places.problem(finding));
        }
    }
    if let Some((_, entries)) = &leftover.parts.follow_up {
        for finding in findings::<FollowUp>(Part::FollowUp, entries) {
            tally.add(places.problem(finding));
        }
    }
}

fn findings<S: Section>(part: Part, entries: &Entries) -> Vec<Finding> {
    let mut reader = Reader::new(part, entries);
    S::read(&mut reader);
    reader.into_findings()
}
