//! One quarter of one centre: its lines, its bar, and the line under which it is signed.

use maud::{Markup, html};
use quietbeam_analysis::study::numerals::count;
use quietbeam_schema::centre::SIGNATURE_MEANING;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::Coded;
use std::collections::BTreeSet;

use super::Log;
use crate::pages::components::{Cell, Column, Mark, Table};
use crate::pages::figures::DenominatorBar;
use crate::pages::words::{counted, moment};
use crate::store::{ScreeningLine, ScreeningRow};

/// The lines of a quarter, with what is still to do about them.
pub(super) fn of_quarter(log: &Log, quarter: Quarter, centre: CentreCode) -> Markup {
    let of = |line: &ScreeningLine| line.period == quarter && line.centre == centre;
    let rows: Vec<&ScreeningRow> = log.rows.values().filter(|row| of(&row.line)).collect();
    let cases: u32 = log.cases.iter().filter(|(line, _)| of(line)).map(|(_, cases)| *cases).sum();
    let mut bar = DenominatorBar::default();
    rows.iter().for_each(|row| bar.add(&row.counts));
    html! {
        section.log id=(quarter) {
            div {
                @if rows.is_empty() {
                    h2 { (quarter) ", centre " (centre) }
                    p.quiet {
                        "Nothing is entered yet. The registry holds " (counted(cases as usize, "case", "cases")) " of this quarter."
                    }
                } @else {
                    (table(log, &rows, quarter, centre))
                    (warnings(log, quarter, centre))
                }
                @if log.own.contains(&centre) {
                    p { a href=(Log::address(centre, quarter, "")) {
                        @if rows.is_empty() { "Enter this quarter" } @else { "Enter or correct" }
                    } }
                }
                @if !rows.is_empty() { (signing(log, &rows, quarter, centre)) }
            }
            @if !rows.is_empty() { div.log-bar { (bar.arrived(cases)) (missing(bar.arrived(cases))) } }
        }
    }
}

/// The lines as they stand.
pub(super) fn table(log: &Log, rows: &[&ScreeningRow], quarter: Quarter, centre: CentreCode) -> Table<6> {
    let row = |row: &&ScreeningRow| {
        let counts = &row.counts;
        let signed = match row.signed_by {
            Some(_) => Mark::Locked.with("signed"),
            None => Mark::ToSign.with("not signed"),
        };
        [
            Cell::text(row.line.group.label()),
            Cell::text(count(counts.performed())),
            Cell::text(count(counts.eligible())),
            Cell::text(count(counts.submitted())),
            Cell::text(count(log.cases.get(&row.line).copied().unwrap_or(0))),
            Cell::shown(signed),
        ]
    };
    Table {
        caption: format!("{quarter}, centre {centre}"),
        columns: [
            Column::words("Group of procedures"),
            Column::numbers("Performed"),
            Column::numbers("Eligible"),
            Column::numbers("Sent in"),
            Column::numbers("Held now"),
            Column::words("Signature"),
        ],
        rows: rows.iter().map(row).collect(),
    }
}

fn missing(bar: DenominatorBar) -> Markup {
    html! {
        @match bar.missing() {
            0 => {},
            missing => p.small { (count(missing)) " eligible and not in the registry." },
        }
    }
}

/// Where the log and the cases that the registry holds do not agree.
pub(super) fn warnings(log: &Log, quarter: Quarter, centre: CentreCode) -> Markup {
    let of = |line: &&ScreeningLine| line.period == quarter && line.centre == centre;
    let lines: BTreeSet<&ScreeningLine> = log.cases.keys().chain(log.rows.keys()).filter(of).collect();
    let said = |line: &ScreeningLine| {
        let group = line.group.label();
        let held = log.cases.get(line).copied().unwrap_or(0);
        let held_now = counted(held as usize, "case is", "cases are");
        match log.rows.get(line).map(|row| &row.counts) {
            None => Some(format!("{group}: {held_now} in the registry, and no line is entered.")),
            Some(counts) if held > counts.eligible() => Some(format!(
                "{group}: {held_now} in the registry, more than the {} eligible; correct the line.",
                count(counts.eligible())
            )),
            Some(counts) if held != counts.submitted() => Some(format!(
                "{group}: {held_now} in the registry, and the line says {}; correct the line.",
                count(counts.submitted())
            )),
            Some(_) => None,
        }
    };
    let sentences: Vec<String> = lines.into_iter().filter_map(said).collect();
    html! {
        @if !sentences.is_empty() {
            ul.plain.log-warnings { @for sentence in &sentences { li { (Mark::ToAnswer.with(sentence)) } } }
        }
    }
}

/// The signing line; signed, it is a double rule.
fn signing(log: &Log, rows: &[&ScreeningRow], quarter: Quarter, centre: CentreCode) -> Markup {
    let unsigned = rows.iter().filter(|row| row.signed_by.is_none()).count();
    let void: Vec<&ScreeningRow> = rows
        .iter()
        .filter(|row| row.signed_by.is_none())
        .filter_map(|row| log.signatures.get(&row.line))
        .collect();
    let last = rows.iter().filter_map(|row| row.signed_by.map(|by| (row.at, by))).max_by_key(|(at, _)| *at);
    html! {
        @for former in &void {
            p.void {
                b { "Void." } " " (former.line.group.label()) " was signed by "
                s { @if let Some(by) = former.signed_by { (log.name(by)) } ", " (moment(former.at)) }
                ", and corrected since."
            }
        }
        @match (unsigned, last) {
            (0, Some((at, by))) => div.signing.signed {
                p { b { (log.name(by)) } ", centre lead, " (moment(at)) }
                p.small { (SIGNATURE_MEANING) }
            },
            _ => div.signing {
                @if quarter >= log.now.quarter() {
                    p.quiet { "To be signed by a centre lead of " (centre) " once the quarter is over." }
                } @else if log.signs {
                    p { a.button href=(Log::address(centre, quarter, "/signature")) { "Sign " (quarter) } }
                } @else {
                    p.quiet { "Not signed. Only a centre lead of " (centre) " can sign." }
                }
            },
        }
    }
}
