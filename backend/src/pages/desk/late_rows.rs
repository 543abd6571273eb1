//! Late contacts that are due, each leading to the field where the late status is entered.

use maud::html;
use quietbeam_schema::contact::Contact;
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::vocabulary::{Coded, ProcedureType, Strategy};

use crate::pages::components::{Age, FieldId, Link, Mark, WorkGroup, WorkRow, arm, case_code};
use crate::registry::late_contacts::LateDue;

/// The group of late contacts, as many as are shown.
pub(in crate::pages) fn late_rows(due: &[LateDue], shown: usize, all: Option<Link>) -> WorkGroup {
    let overdue = due.iter().filter(|late| matches!(late.stands, Contact::Overdue { .. })).count();
    let said = if overdue > 0 { format!(", {overdue} overdue") } else { String::new() };
    WorkGroup {
        title: "Late follow-up",
        count: format!("{} due{said}", due.len()),
        all,
        rows: due.iter().take(shown).map(row).collect(),
    }
}

fn row(late: &LateDue) -> WorkRow {
    let LateDue { case, contact, stands } = late;
    let (_, last) = contact.usual_days();
    let (day, age) = match stands {
        Contact::Early { opens_in } => (0, Age::Usual(format!("opens in {opens_in} days"))),
        Contact::Due { day } => (*day, Age::Usual(format!("day {day} of {last} at least"))),
        Contact::Overdue { day } => (*day, Age::Overdue(format!("day {day} at least, overdue"))),
    };
    let procedure = ProcedureType::from_code(&case.procedure).map_or("", Coded::label);
    WorkRow {
        mark: Mark::Window { day, last },
        about: case_code(&case.code),
        sentence: html! {
            span { (procedure) ", " (contact.label()) }
            @if let Some(strategy) = Strategy::from_code(&case.strategy_intended) { (arm(strategy)) }
        },
        age,
        verb: Link::new(late_field(&case.code), "Enter"),
        verb_about: format!("{}, {}", case.code, contact.label()),
    }
}

/// Where the late status is entered.
pub(super) fn late_field(code: &CaseCode) -> String {
    format!("/cases/{code}/change#{}", FieldId::of("/follow_up/fu_late_status").as_str())
}
