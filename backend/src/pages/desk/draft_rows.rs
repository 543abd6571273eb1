//! Drafts on the desk: each leads to its first field that is still open.

use maud::html;
use quietbeam_schema::dictionary::Need;
use quietbeam_schema::entry::entry_sections;
use quietbeam_schema::finding::Part;
use quietbeam_schema::instant::Instant;
use quietbeam_schema::vocabulary::{Coded, ProcedureType, Strategy};

use crate::pages::components::{Age, Link, Mark, WorkGroup, WorkRow, arm};
use crate::pages::words::age;
use crate::registry::drafts::Draft;

/// The group of drafts, as many as are shown.
pub(super) fn draft_rows(drafts: &[Draft], shown: usize, now: Instant) -> WorkGroup {
    WorkGroup {
        title: "Drafts",
        count: format!("{} begun", drafts.len()),
        all: None,
        rows: drafts.iter().take(shown).map(|draft| row(draft, now)).collect(),
    }
}

fn row(draft: &Draft, now: Instant) -> WorkRow {
    let given = |key| draft.entered.form.case.given(key);
    let procedure = given("proc_primary").and_then(ProcedureType::from_code);
    let strategy = given("strategy_intended").and_then(Strategy::from_code);
    WorkRow {
        mark: Mark::Draft,
        about: html! { "Draft" },
        sentence: html! {
            span { (procedure.map_or("Procedure not entered yet", Coded::label)) }
            @if let Some(strategy) = strategy { (arm(strategy)) }
        },
        age: Age::Usual(age(draft.row.saved_at, now)),
        verb: Link::new(first_open_field(draft), "Finish"),
        verb_about: format!("the draft begun {}", age(draft.row.begun_at, now)),
    }
}

/// The field at which to go on.
pub(super) fn first_open_field(draft: &Draft) -> String {
    let sections = entry_sections(&draft.entered.form);
    let open = sections.iter().flat_map(|section| &section.fields).find(|field| {
        field.part == Part::Case
            && !matches!(field.variable.need, Need::Optional)
            && draft.entered.form.case.given(field.variable.key).is_none()
    });
    format!("/drafts/{}#{}", draft.row.id, open.map_or("result", |field| field.variable.key))
}
