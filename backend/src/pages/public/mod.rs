//! What everyone may read without signing in: the published safety summaries, page by page and as
//! files. Everything here shows what was published and computes nothing from it.

mod cite;
mod embed;
mod feed;
mod index;
mod page;
mod shelf;
mod squares;
mod table;

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, get, web};
use maud::html;
use quietbeam_analysis::study::summary::SafetySummary;
use quietbeam_schema::ids::SummaryNumber;
use serde::Deserialize;

use super::frame::{Visit, answer};
use crate::access::Permit;
use crate::api::{Problem, withdrawn};
use crate::config::Network;
use crate::store::{PublicBody, PublicSummary, Store, StoreError};
use shelf::{Form, Kept};

pub(crate) use shelf::Shelf;

/// What stands in the head of these pages for the public.
const PLACE: &str = "Safety summaries";

/// A summary in force: what it says, as it was published.
struct Published {
    record: PublicSummary,
    said: Said,
}

/// The content of a summary.
#[derive(Deserialize)]
struct Said {
    data_cut_name: String,
    data_cut_hash: String,
    software: String,
    #[serde(flatten)]
    summary: SafetySummary,
}

impl Published {
    fn read(record: PublicSummary, content: &str) -> Result<Self, Problem> {
        let said = serde_json::from_str(content).map_err(|error| {
            tracing::error!(%error, "a published summary cannot be shown");
            Problem::broken()
        })?;
        Ok(Self { record, said })
    }

    /// The day of publication.
    fn day(&self) -> String {
        day(&self.record)
    }

    /// The question it answers.
    fn title(&self) -> &str {
        self.said
            .summary
            .design
            .question()
            .unwrap_or("How safe was ablation with and without X-ray in our network?")
    }
}

/// The day of publication: the first ten characters of its time.
fn day(record: &PublicSummary) -> String {
    record.published_at.to_string()[..10].to_owned()
}

async fn find(store: &Store, number: SummaryNumber) -> Result<PublicSummary, Problem> {
    Ok(store.read(Permit::public(), move |session| session.find_published(number)).await?)
}

/// One published summary.
#[get("/summaries/{number}")]
pub(super) async fn one(
    visit: Visit,
    number: web::Path<i64>,
    request: HttpRequest,
    (store, shelf, network): (web::Data<Store>, web::Data<Shelf>, web::Data<Network>),
) -> Result<HttpResponse, Problem> {
    let number = SummaryNumber(*number);
    // Who is signed in sees it in the own frame, which nobody else may be given.
    if visit.caller().is_none()
        && let Some(kept) = shelf.find(number, Form::Page)
    {
        return Ok(kept.answer(&request));
    }
    let read = shelf.cleared();
    let record = find(&store, number).await?;
    let title = format!("Safety summary {}", number.0);
    if let PublicBody::Withdrawn { .. } = &record.body {
        let content = gone(&record);
        return Ok(answer(StatusCode::GONE, visit.draw_open(&store, (&title, PLACE), content).await?));
    }
    let published = in_force(record)?;
    let drawn = visit.draw_open(&store, (&title, PLACE), page::whole(&published, &network)).await?;
    if visit.caller().is_some() {
        return Ok(answer(StatusCode::OK, drawn));
    }
    let kept = Kept::new(Form::Page, number, drawn.into_string());
    Ok(shelf.keep(read, (number, Form::Page), kept).answer(&request))
}

/// The summary if it is in force; else that it was withdrawn, and why.
fn in_force(record: PublicSummary) -> Result<Published, Problem> {
    match record.body.clone() {
        PublicBody::InForce(content) => Published::read(record, &content),
        PublicBody::Withdrawn { reason, corrected_by, .. } => Err(withdrawn(&reason, corrected_by)),
    }
}

/// What stands at the address of a summary that is no longer to be relied on.
fn gone(record: &PublicSummary) -> maud::Markup {
    let PublicBody::Withdrawn { at, reason, corrected_by } = &record.body else { return html! {} };
    html! {
        h1 { "Safety summary " (record.number.0) " was withdrawn" }
        p.lead { (reason) }
        p { "Withdrawn " (at.to_string()[..10]) ". Its numbers are no longer to be relied on." }
        @if let Some(SummaryNumber(number)) = corrected_by {
            p { "Corrected by " a href={ "/summaries/" (number) } { "safety summary " (number) } "." }
        }
        p { a href="/summaries" { "All safety summaries" } }
    }
}

/// A summary in another form: its tables for another page, as delimited text, typeset, or who published
/// it when.
#[get("/summaries/{number}/{file}")]
pub(super) async fn file(
    asked: web::Path<(i64, String)>,
    request: HttpRequest,
    (store, shelf, network): (web::Data<Store>, web::Data<Shelf>, web::Data<Network>),
) -> Result<HttpResponse, Problem> {
    let (number, file) = asked.into_inner();
    let number = SummaryNumber(number);
    let form =
        Form::named(&file).ok_or_else(|| Problem::from(StoreError::Absent("file of a safety summary")))?;
    if let Some(kept) = shelf.find(number, form) {
        return Ok(kept.answer(&request));
    }
    let read = shelf.cleared();
    let published = in_force(find(&store, number).await?)?;
    let body = match form {
        // The page has its own address, and the content is the API's.
        Form::Page | Form::Json | Form::Embed => embed::page(&published, &network).into_string().into_bytes(),
        Form::Table => table::as_text(&published)?,
        Form::Cite => cite::as_json(&published, &network)?,
        #[cfg(feature = "pdf")]
        Form::Paper => page::on_paper(&published, &network).typeset().await?,
    };
    Ok(shelf.keep(read, (number, form), Kept::new(form, number, body)).answer(&request))
}

/// The content of a summary, byte by byte as it was published.
pub(crate) async fn as_published(
    number: SummaryNumber,
    request: &HttpRequest,
    (store, shelf): (&Store, &Shelf),
) -> Result<HttpResponse, Problem> {
    if let Some(kept) = shelf.find(number, Form::Json) {
        return Ok(kept.answer(request));
    }
    let read = shelf.cleared();
    let record = find(store, number).await?;
    match record.body {
        PublicBody::InForce(content) => {
            let kept = Kept::content(content, &record.content_hash);
            Ok(shelf.keep(read, (number, Form::Json), kept).answer(request))
        }
        PublicBody::Withdrawn { reason, corrected_by, .. } => Err(withdrawn(&reason, corrected_by)),
    }
}

/// Adds the public pages. The feed stands before the summaries, which would take it for a number.
pub(super) fn routes(config: &mut web::ServiceConfig) {
    config.service(index::index).service(feed::feed).service(one).service(file);
}
