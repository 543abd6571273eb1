//! What must be mended or answered in the files, each with the cell to mend it in.

use maud::{Markup, Render, html};
use quietbeam_schema::case::{CASE_CODE, case_variables, complication_variables, follow_up_variables};
use quietbeam_schema::dictionary::{Variable, column};
use quietbeam_schema::reported::MissingCode;
use quietbeam_schema::value::Kind;

use super::rows_words;
use crate::intake::FileKind;
use crate::pages::components::{Mark, case_code};
use crate::pages::words::counted;
use crate::registry::imports::preview::{Group, Preview};
use crate::registry::imports::{Like, PossibleDuplicate};

/// Problems that are shown at once; what a form of a page may weigh holds their cells.
const SHOWN: usize = 60;
/// Duplicates that are shown at once.
const SHOWN_ALIKE: usize = 20;
/// A longer text is mended in the file.
const LONGEST_CELL: usize = 200;

/// The problems of a preview.
pub(super) struct Problems<'p>(pub(super) &'p Preview);

impl Render for Problems<'_> {
    fn render(&self) -> Markup {
        let Preview { groups, possible_duplicates, left_out, .. } = self.0;
        if groups.is_empty() && possible_duplicates.is_empty() {
            return html! {};
        }
        let further = groups.len().saturating_sub(SHOWN);
        html! {
            section.to-mend id="to-mend" {
                h2 { (self.title()) }
                div.scroll { table.mend-rows {
                    thead { tr {
                        th scope="col" { span.unseen { "State" } }
                        th scope="col" { "Where" }
                        th scope="col" { "Field" }
                        th scope="col" { "In the file" }
                        th scope="col" { "What to do" }
                    } }
                    tbody {
                        @for (at, group) in groups.iter().enumerate().take(SHOWN) { (row(at, group)) }
                        @for alike in possible_duplicates.iter().take(SHOWN_ALIKE) { (alike_row(alike)) }
                    }
                } }
                @if further > 0 || *left_out > 0 {
                    p.quiet {
                        "And " (counted(further + usize::try_from(*left_out).unwrap_or(usize::MAX), "further thing", "further things"))
                        ". Mend these first, or take the file with all of them marked."
                    }
                }
            }
        }
    }
}

impl Problems<'_> {
    fn title(&self) -> String {
        let preview = self.0;
        let hard = preview.groups.iter().filter(|group| group.hard).count();
        let asked = preview.groups.len() - hard;
        let parts = [
            (hard, "thing to mend", "things to mend"),
            (asked, "thing to answer", "things to answer"),
            (preview.possible_duplicates.len(), "possible duplicate", "possible duplicates"),
        ];
        let said = parts.into_iter().filter(|(number, ..)| *number > 0);
        let said: Vec<String> = said.map(|(number, one, many)| counted(number, one, many)).collect();
        let first = if preview.question.is_some() { "Then: " } else { "" };
        crate::pages::words::capital(&format!("{first}{}", said.join(", ")))
    }
}

fn row(at: usize, group: &Group) -> Markup {
    let (mark, class, word) = match group.hard {
        true => (Mark::MustBeMended, "must-be-mended", "Must be mended"),
        false => (Mark::ToAnswer, "to-answer", "To answer"),
    };
    let variables = variables(group.file);
    let known = group.column.as_deref().and_then(|key| column(&variables, key));
    let field = field_words(group, known);
    let place = rows_words(group.file, &group.rows);
    html! {
        tr class=(class) {
            td.mark { (mark.shape()) span.unseen { (word) } }
            td.where { (place) }
            th scope="row" { (field) }
            td.cell { (cell(at, group, known, &format!("{field}, {place}"))) }
            td.what id={ "what-" (at) } {
                (group.sentence)
                @if group.withheld { " Type it anew, or leave it blank." }
            }
        }
    }
}

fn variables(kind: FileKind) -> Vec<&'static Variable> {
    match kind {
        FileKind::Cases => case_variables(),
        FileKind::Complications => complication_variables(),
        FileKind::FollowUps => follow_up_variables(),
    }
}

fn field_words(group: &Group, known: Option<(&'static Variable, bool)>) -> String {
    match (known, group.column.as_deref()) {
        (Some((variable, true)), _) => format!("{}, unit", variable.label),
        (Some((variable, false)), _) => variable.label.to_owned(),
        (None, None) => "Whole row".to_owned(),
        (None, Some(key)) if key == CASE_CODE.key => CASE_CODE.label.to_owned(),
        (None, Some(_)) => "Reason for the change".to_owned(),
    }
}

/// The cell, where it can be mended here.
fn cell(at: usize, group: &Group, known: Option<(&'static Variable, bool)>, label: &str) -> Markup {
    let Some(text) = group.cell.as_deref().filter(|text| text.chars().count() <= LONGEST_CELL) else {
        return html! { @if group.cell.is_some() { span.quiet { "too long to be mended here" } } };
    };
    let (name, what) = (format!("mend-{at}"), format!("what-{at}"));
    let picks = known.map(|(variable, is_unit)| picks(variable, is_unit)).unwrap_or_default();
    if picks.is_empty() {
        return html! {
            input.input type="text" name=(name) value=(text) aria-label=(label) aria-describedby=(what) autocomplete="off";
        };
    }
    let listed = picks.iter().any(|(value, _)| *value == text);
    html! {
        select.select name=(name) aria-label=(label) aria-describedby=(what) {
            @if !listed { option value=(text) selected { (if text.trim().is_empty() { "blank" } else { text }) } }
            @for (value, label) in &picks { option value=(value) selected[*value == text] { (label) } }
        }
    }
}

/// What can stand in a cell of one of a few words.
fn picks(variable: &'static Variable, is_unit: bool) -> Vec<(&'static str, &'static str)> {
    let missing = MissingCode::ALL.into_iter().filter(|_| variable.missing_allowed);
    match variable.kind {
        Kind::Quantity(dimension) if is_unit => {
            dimension.units.iter().map(|unit| (unit.ucum, unit.label)).collect()
        }
        Kind::Code(list) => {
            let codes = list.codes.iter().map(|code| (code.code, code.label));
            codes.chain(missing.map(|code| (code.code(), code.label()))).collect()
        }
        _ => Vec::new(),
    }
}

fn alike_row(alike: &PossibleDuplicate) -> Markup {
    html! {
        tr {
            td.mark { (Mark::Draft.shape()) span.unseen { "May be a duplicate" } }
            td.where { "row " (alike.row) }
            th scope="row" { "Whole row" }
            td.cell {
                @match &alike.like {
                    Like::Row(row) => { "like row " (row) },
                    Like::Case(code) => { "like " a href={ "/cases/" (code) } { (case_code(code)) } },
                }
            }
            td.what { "Same quarter, age band, sex, procedure and times. Two patients, or one typed twice? It is stored unless you take it out." }
        }
    }
}
