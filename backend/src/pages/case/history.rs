//! The history of a case: who wrote each revision, when, why, and what it changed.

use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_schema::audit::Actor;
use quietbeam_schema::case::{CaseForm, variables_of};
use quietbeam_schema::dictionary::Variable;
use quietbeam_schema::entries::Entries;
use quietbeam_schema::finding::Part as FormPart;
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::vocabulary::{Coded, Strategy};
use std::collections::BTreeMap;

use crate::access::Permit;
use crate::access::action::ReadHistory;
use crate::api::Problem;
use crate::api::brought::Part;
use crate::pages::components::{Cell, Column, Table, Word, arm, case_code};
use crate::pages::frame::{Page, Visit};
use crate::pages::shown::{entered, place_label};
use crate::pages::words::moment;
use crate::registry::cases;
use crate::registry::drafts::Declared;
use crate::store::{CaseRow, Store, StoreError};

#[get("/cases/{code}/history")]
pub(in crate::pages) async fn history(
    permit: Permit<ReadHistory>,
    visit: Visit,
    code: Part<CaseCode>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let code = code.0;
    let (history, names) = store
        .read(permit, move |session| {
            let history = session.case_history(code)?;
            let names = session.printed_names(history.revisions.iter().map(|row| row.actor))?;
            Ok::<_, StoreError>((history, names))
        })
        .await?;
    let roles: BTreeMap<i64, String> = history
        .trail
        .iter()
        .filter_map(|row| Some((row.event.revision?, row.role.replace('_', " "))))
        .collect();
    let declared = Declared::of_trail(&history.trail);
    let mut former = None;
    let mut revisions = Vec::new();
    for row in history.revisions {
        let form = cases::form_of(&row)?;
        let changes = former.as_ref().map_or_else(Vec::new, |former| changes(former, &form));
        revisions.push((row, changes));
        former = Some(form);
    }
    let who = |row: &CaseRow| {
        let name = match row.actor {
            Actor::Member(id) => names.get(&id).map_or("a former member", String::as_str),
            Actor::Operator => "the operator of the server",
            Actor::Nobody => "nobody",
        };
        let role = roles.get(&row.revision).filter(|role| *role != "operator");
        role.map_or_else(|| name.to_owned(), |role| format!("{name}, {role}"))
    };
    let content = html! {
        div.title {
            h1 { "History of case " (case_code(&code)) }
            a href={ "/cases/" (code) } { "The case as it stands" }
        }
        p.quiet { "Nothing is overwritten: every revision stays as it was written." }
        @if let Some(Declared { strategy, at }) = &declared {
            p {
                "Intended strategy: "
                @if let Some(strategy) = Strategy::from_code(strategy) { (arm(strategy)) }
                ", entered in the registry " b { (moment(*at)) } ", before the case was sent in."
            }
        }
        @for (row, changes) in revisions.iter().rev() { (revision(row, &who(row), changes)) }
    };
    Ok(visit.frame(&store).await?.show(&Page {
        title: format!("History of case {code}"),
        word: Some(Word::Cases),
        content,
    }))
}

fn revision(row: &CaseRow, who: &str, changes: &[Change]) -> Markup {
    html! {
        section.sheet.revision id={ "revision-" (row.revision) } {
            div.section-head {
                span.ordinal { (row.revision) }
                h2 { @if row.revision == 1 { "Sent in" } @else { "Changed" } }
                span.aside { (moment(row.at)) " · " (who) }
            }
            div.inside {
                @if let Some(reason) = &row.reason { p { "Why: " b { (reason) } } }
                @if row.revision > 1 { (changed(changes)) }
                p.small { "SHA-256 " code { (row.record_hash) } }
            }
        }
    }
}

fn changed(changes: &[Change]) -> Markup {
    if changes.is_empty() {
        return html! { p.quiet { "No field differs from the revision before." } };
    }
    let cell = |value: &Option<String>| Cell::text(value.as_deref().unwrap_or("empty"));
    let table = Table {
        caption: "What changed".to_owned(),
        columns: [Column::words("Field"), Column::words("Before"), Column::words("After")],
        rows: changes
            .iter()
            .map(|change| [Cell::text(&change.field), cell(&change.before), cell(&change.after)])
            .collect(),
    };
    html! { (table) }
}

/// One field that differs between two revisions, in words.
#[derive(Debug, PartialEq, Eq)]
struct Change {
    field: String,
    before: Option<String>,
    after: Option<String>,
}

fn changes(old: &CaseForm, new: &CaseForm) -> Vec<Change> {
    old.parts_beside(new)
        .into_iter()
        .flat_map(|part| differing(part, old.part(part), new.part(part)))
        .collect()
}

fn differing(part: FormPart, old: Option<&Entries>, new: Option<&Entries>) -> Vec<Change> {
    let shown = |entries: Option<&Entries>, variable| entries.and_then(|entries| entered(variable, entries));
    let change = |variable: &'static Variable| {
        let (before, after) = (shown(old, variable), shown(new, variable));
        let field = place_label(part, variable);
        (before != after).then_some(Change { field, before, after })
    };
    variables_of(part).into_iter().filter_map(change).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    fn form(json: &str) -> CaseForm {
        CaseForm::from_json(serde_json::from_str(json).unwrap())
    }

    #[test]
    fn what_differs_is_told_in_words() {
        let old = form(r#"{"air_kerma": 4.2, "air_kerma_unit": "mGy", "kap": "nr", "complications": []}"#);
        let new = form(
            r#"{"air_kerma": 4.2, "air_kerma_unit": "Gy", "kap": "nr",
                "complications": [{"ae_code": "tamponade"}], "follow_up": {"fu30_status": "lost"}}"#,
        );
        let found = changes(&old, &new);
        let fields: Vec<&str> = found.iter().map(|change| change.field.as_str()).collect();
        assert_eq!(fields, ["Air kerma", "Complication 1: Kind of complication", "Follow-up: 30-day status"]);
        assert_eq!(found[0].before.as_deref(), Some("4.2\u{a0}mGy"));
        assert_eq!(found[0].after.as_deref(), Some("4.2\u{a0}Gy"));
        assert_eq!(found[1].before, None);
        assert!(changes(&new, &new).is_empty());
    }
}
