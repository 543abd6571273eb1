//! The index of everything that was published.

use actix_web::http::StatusCode;
use actix_web::{HttpResponse, get, web};
use maud::html;

use super::{PLACE, day};
use crate::access::Permit;
use crate::api::Problem;
use crate::pages::components::{Cell, Column, Table, caution};
use crate::pages::frame::{Visit, answer};
use crate::store::{PublicBody, PublicSummary, Store};

#[get("/summaries")]
pub(super) async fn index(visit: Visit, store: web::Data<Store>) -> Result<HttpResponse, Problem> {
    let summaries = store.read(Permit::public(), |session| session.list_published()).await?;
    let content = html! {
        h1 { "Safety summaries" }
        p.lead { "Aggregate counts of ablation with and without X-ray in our network. Small counts are hidden, so that nobody can be recognised." }
        @if summaries.is_empty() {
            p { "Nothing has been published yet." }
        } @else {
            (table(&summaries))
            p.small { "To be told of the next one: " a href="/summaries/feed.xml" { "feed" } ", in the Atom format (RFC 4287)." }
        }
        (caution("Ask your own team what fits you."))
    };
    Ok(answer(StatusCode::OK, visit.draw_open(&store, ("Safety summaries", PLACE), content).await?))
}

fn table(summaries: &[PublicSummary]) -> Table<3> {
    let row = |summary: &PublicSummary| {
        let state = match &summary.body {
            PublicBody::InForce(_) => html! { "in force" },
            PublicBody::Withdrawn { reason, .. } => html! { "withdrawn: " (reason) },
        };
        let number = summary.number.0;
        [
            Cell::shown(html! { a href={ "/summaries/" (number) } { "Safety summary " (number) } }),
            Cell::text(day(summary)),
            Cell::shown(state),
        ]
    };
    Table {
        caption: "What has been published".to_owned(),
        columns: ["Summary", "Published", "State"].map(Column::words),
        rows: summaries.iter().map(row).collect(),
    }
}
