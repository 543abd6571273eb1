//! Safety summaries on their way to the public, for those who compose, approve and publish them.

pub(super) mod compose;
mod learnt;
pub(super) mod one;

use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_schema::ids::{DataCutId, SummaryNumber};
use quietbeam_schema::summary::SummaryStage;
use std::collections::BTreeMap;

use super::components::{Cell, Column, Table, Word};
use super::frame::{Page, Visit, may};
use super::words::moment;
use crate::access::Permit;
use crate::access::action::{DraftSummary, ReadSummaryDrafts};
use crate::api::Problem;
use crate::store::{Store, StoreError, Summary};

fn page(title: &str, content: Markup) -> Page {
    Page { title: title.to_owned(), word: Some(Word::Releases), content }
}

#[get("/releases")]
pub(super) async fn list(
    permit: Permit<ReadSummaryDrafts>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (all, cuts) = store
        .read(permit, |session| Ok::<_, StoreError>((session.list_summaries()?, session.list_cuts()?)))
        .await?;
    let cuts = cuts.into_iter().map(|cut| (cut.id, cut.name)).collect();
    let composes = may::<DraftSummary>(visit.signed()?);
    let frame = visit.frame(&store).await?;
    let content = html! {
        div.title {
            div {
                h1 { "Releases" }
                p.quiet { "A safety summary is composed by one person, approved by a second and published by a third." }
            }
            @if composes { a.button.main href="/releases/new" { "Compose a summary" } }
        }
        @if all.is_empty() { p { "No summary was composed yet." } } @else { (table(&all, &cuts)) }
    };
    Ok(frame.show(&page("Releases", content)))
}

fn table(all: &[Summary], cuts: &BTreeMap<DataCutId, String>) -> Table<4> {
    let row = |summary: &Summary| {
        [
            Cell::shown(html! { a href={ "/releases/" (summary.id) } { (name(summary)) } }),
            Cell::text(cuts.get(&summary.cut).map_or("", String::as_str)),
            Cell::text(moment(drafted(&summary.stage).at)),
            Cell::text(stands(&summary.stage)),
        ]
    };
    Table {
        caption: "The newest first".to_owned(),
        columns: ["Summary", "Data cut", "Composed", "Stands"].map(Column::words),
        rows: all.iter().map(row).collect(),
    }
}

/// What a summary is called: its public number, or the end of its identifier.
fn name(summary: &Summary) -> String {
    match &summary.stage {
        SummaryStage::Published { number, .. } | SummaryStage::Withdrawn { number, .. } => {
            format!("Safety summary {}", number.0)
        }
        SummaryStage::Draft { .. } | SummaryStage::Approved { .. } | SummaryStage::Refused { .. } => {
            let id = summary.id.to_string();
            format!("Draft {}", &id[id.len() - 6..])
        }
    }
}

fn drafted(stage: &SummaryStage) -> quietbeam_schema::summary::Step {
    match stage {
        SummaryStage::Draft { drafted }
        | SummaryStage::Approved { drafted, .. }
        | SummaryStage::Refused { drafted, .. }
        | SummaryStage::Published { drafted, .. }
        | SummaryStage::Withdrawn { drafted, .. } => *drafted,
    }
}

/// Where a summary stands, in words.
fn stands(stage: &SummaryStage) -> String {
    match stage {
        SummaryStage::Draft { .. } => "draft, waits for approval".to_owned(),
        SummaryStage::Approved { .. } => "approved, waits for publication".to_owned(),
        SummaryStage::Refused { .. } => "refused, to be composed anew".to_owned(),
        SummaryStage::Published { .. } => "published".to_owned(),
        SummaryStage::Withdrawn { corrected_by: Some(SummaryNumber(by)), .. } => {
            format!("corrected by safety summary {by}")
        }
        SummaryStage::Withdrawn { .. } => "withdrawn".to_owned(),
    }
}
