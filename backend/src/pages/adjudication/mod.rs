//! Judging events: what waits for a judge, one event at a time, and how far all have come.

mod card;
pub(super) mod one;
pub(super) mod progress;

use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_schema::vocabulary::Coded;
use serde::Deserialize;

use super::components::{Cell, Column, Link, Mark, StartHere, Table, Word};
use super::frame::{Page, Visit};
use super::words::{capital, counted, moment};
use crate::access::Permit;
use crate::access::action::JudgeEvents;
use crate::api::Problem;
use crate::api::brought::Query;
use crate::registry::adjudication::{self, Docket};
use crate::store::Store;

/// What happened a moment ago.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Before {
    /// An event was judged meanwhile by others.
    gone: bool,
}

#[get("/adjudication")]
pub(super) async fn list(
    permit: Permit<JudgeEvents>,
    visit: Visit,
    before: Query<Before>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let docket = store.read(permit, adjudication::docket).await?;
    Ok(frame.show(&page("Events to judge", whole(&docket, before.0.gone))))
}

fn page(title: &str, content: Markup) -> Page {
    Page { title: title.to_owned(), word: Some(Word::Adjudication), content }
}

fn whole(docket: &Docket, gone: bool) -> Markup {
    html! {
        div.title { div {
            h1 { "Events to judge" }
            p.quiet { "Two people judge each event, a third where they differ. Nobody sees what another said." }
        } }
        @if gone { p.lead { "That event is judged already, or its centre corrected it. Nothing was kept." } }
        (start(docket))
        section.caution {
            h2 { "What is hidden" }
            p {
                "How the case was guided, what dose it had, what imaging saw and when, the centre, the operator, and what anybody "
                "judged before. Events stand in an order that tells nothing. An injury by X-ray tells its arm by itself and is not "
                "put before anyone. A death within 30 days that the follow-up alone tells is an event too. If something gives the arm away all the same, say so in your sentence. "
                "For research; what must be reported by law is reported by the centre."
            }
        }
        h2 { "How to judge" }
        dl.terms {
            @for code in quietbeam_schema::vocabulary::HarmRuling::LIST.codes {
                dt { (code.label) } dd { (code.definition) }
            }
        }
        @if !docket.judged.is_empty() { (judged(docket)) }
    }
}

fn start(docket: &Docket) -> Markup {
    let Some(next) = docket.waiting.first() else {
        return html! { p.lead { "No event waits for you." } };
    };
    let waits = match docket.waiting.len() {
        1 => "One event waits for you".to_owned(),
        many => format!("{} wait for you", capital(&counted(many, "event", "events"))),
    };
    html! {
        (StartHere::With {
            mark: Mark::ToAnswer,
            sentence: html! { (waits) },
            why: html! { "Each takes a minute: what is recorded, a ruling and a sentence. It cannot be changed afterwards." },
            button: Link::new(format!("/adjudication/{}", next.id), "Judge the next"),
        })
    }
}

fn judged(docket: &Docket) -> Markup {
    let rows = docket.judged.iter().map(|(event, own)| {
        [
            Cell::text(event.shown.kind.label()),
            Cell::text(own.ruling.label()),
            Cell::text(own.sentence.clone()),
            Cell::text(moment(own.at)),
        ]
    });
    let columns = ["Event", "Your ruling", "Why", "When"].map(Column::words);
    let table =
        Table { caption: "The event, and what you said of it".to_owned(), columns, rows: rows.collect() };
    html! { h2 { "What you judged" } (table) }
}
