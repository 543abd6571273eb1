//! How far all events have been judged, for a monitor.

use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_schema::adjudication::Settled;
use quietbeam_schema::vocabulary::{Coded, HarmRuling};

use crate::access::Permit;
use crate::access::action::ReadJudgements;
use crate::api::Problem;
use crate::pages::components::{Cell, Column, Table, Word, case_code};
use crate::pages::frame::{Page, Visit};
use crate::pages::words::{capital, counted};
use crate::registry::adjudication::{self, Event};
use crate::store::Store;

#[get("/adjudication/progress")]
pub(in crate::pages) async fn look(
    permit: Permit<ReadJudgements>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let events = store.read(permit, adjudication::progress).await?;
    Ok(frame.show(&Page {
        title: "How events were judged".to_owned(),
        word: Some(Word::Watching),
        content: whole(&events),
    }))
}

fn whole(events: &[Event]) -> Markup {
    let (open, settled): (Vec<_>, Vec<_>) = events.iter().partition(|event| event.settled() == Settled::Open);
    let unclear = settled.iter().filter(|event| event.settled().ruling() == Some(HarmRuling::CannotTell));
    let unclear = unclear.count();
    html! {
        div.title { div {
            h1 { "How events were judged" }
            p.quiet { "By people who do not know how the case was guided: two of them, a third where they differ." }
        } a href="/watching" { "Watching" } }
        p.lead {
            (capital(&counted(settled.len(), "event is settled", "events are settled"))) ", "
            (counted(open.len(), "is open", "are open")) "."
            @if unclear > 0 { " Of " (counted(unclear, "one", "the settled")) " too little is recorded to tell: ask the centre, and what it adds is judged anew." }
        }
        @if let Some(agreement) = adjudication::agreement(events) {
            h2 { "How far the judges agree" }
            p { (agreement.in_words) }
            p.small { "Kappa is 0 where they agree as often as chance would have it, and 1 where always. Who rules first changes from event to event." }
        }
        @if open.is_empty() { p { "Nothing is open." } } @else { h2 { "Open" } (table("Waiting for a judge", &open)) }
        @if !settled.is_empty() {
            h2 { "Settled" }
            details.fold { summary { "What was decided, event by event" } (table("Settled", &settled)) }
        }
    }
}

fn table(caption: &str, events: &[&Event]) -> Table<4> {
    let row = |event: &&Event| {
        let stands = match event.settled() {
            Settled::Open => match event.judgements.len() {
                0 => "by nobody".to_owned(),
                1 => "by one".to_owned(),
                _ => "two differ".to_owned(),
            },
            Settled::ByTwo(_) => "two agree".to_owned(),
            Settled::ByThird(_) => "a third judge decided".to_owned(),
        };
        [
            Cell::shown(html! { a href={ "/cases/" (event.case) } { (case_code(&event.case)) } }),
            Cell::text(event.shown.kind.label()),
            Cell::text(stands),
            Cell::text(event.settled().ruling().map_or("—", Coded::label)),
        ]
    };
    let columns = ["Case", "Event", "Judged", "Ruling"].map(Column::words);
    Table { caption: caption.to_owned(), columns, rows: events.iter().map(row).collect() }
}
