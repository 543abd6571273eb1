//! What came of an import: its counts, and the codes of the rows that had none.

use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_analysis::study::numerals::count;
use quietbeam_schema::ids::ImportId;
use serde::Deserialize;

use super::{download, kind_words, page};
use crate::access::Permit;
use crate::access::action::ImportFiles;
use crate::api::Problem;
use crate::api::brought::{Part, Query};
use crate::pages::components::{Cell, Column, Mark, Table, case_code};
use crate::pages::frame::Visit;
use crate::pages::words::{capital, counted, moment};
use crate::registry::imports::Kept;
use crate::store::{Receipt, Store, StoreError};

/// How somebody came here.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(in crate::pages) struct Came {
    /// It was stored a moment ago.
    now: bool,
    /// The very files had been stored before.
    before: bool,
}

#[get("/imports/receipts/{id}")]
pub(in crate::pages) async fn look(
    permit: Permit<ImportFiles>,
    visit: Visit,
    id: Part<ImportId>,
    came: Query<Came>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (receipt, kept) = read(permit, id.0, &store).await?;
    let frame = visit.frame(&store).await?;
    Ok(frame.show(&page("Brought in", content(&receipt, &kept, &came.0))))
}

async fn read(
    permit: Permit<ImportFiles>,
    id: ImportId,
    store: &Store,
) -> Result<(Receipt, Kept), StoreError> {
    store
        .read(permit, move |session| {
            let receipt = session.receipt(id)?;
            let kept = Kept::of(&receipt)?;
            Ok::<_, StoreError>((receipt, kept))
        })
        .await
}

fn content(receipt: &Receipt, kept: &Kept, came: &Came) -> Markup {
    let changes = &kept.changes;
    let refused: u64 = kept.files.iter().map(|file| file.counts.refused).sum();
    html! {
        div.title {
            div {
                h1 { (title(changes.new, changes.changed)) }
                p.quiet { "Brought in " (moment(receipt.at)) " for centre " (receipt.centre) }
            }
            @if came.now { (Mark::Saved.with("Stored")) }
        }
        @if came.before {
            p.lead { "These very files were brought in before. Nothing changed now; this is what came of them then." }
        }
        (table(kept))
        p {
            (count(changes.unchanged)) " unchanged, " (count(changes.to_answer)) " to answer. "
            a href="/cases" { "To the cases" }
        }
        @if refused > 0 {
            p.message.hard {
                b { "Left out. " } (count(refused)) " rows could not be taken. Mend them and bring in those rows alone: "
                "a row without a case code that is brought in twice becomes two cases."
            }
        }
        @if !changes.codes.is_empty() { (codes_table(receipt, kept)) }
    }
}

fn title(new: u64, changed: u64) -> String {
    let cases = |number: u64| counted(usize::try_from(number).unwrap_or(usize::MAX), "case", "cases");
    let are = |number: u64| if number == 1 { "is" } else { "are" };
    capital(&match (new, changed) {
        (new, 0) => format!("{} {} stored", cases(new), are(new)),
        (0, changed) => format!("{} {} changed", cases(changed), are(changed)),
        (new, changed) => format!("{} {} stored, {} changed", cases(new), are(new), cases(changed)),
    })
}

fn table(kept: &Kept) -> Markup {
    let table = Table {
        caption: "The rows of the files".to_owned(),
        columns: [
            Column::words("File"),
            Column::numbers("Read"),
            Column::numbers("Taken"),
            Column::numbers("Left out"),
        ],
        rows: kept
            .files
            .iter()
            .map(|file| {
                [
                    Cell::text(kind_words(file.file)),
                    Cell::text(count(file.counts.read)),
                    Cell::text(count(file.counts.accepted)),
                    Cell::text(count(file.counts.refused)),
                ]
            })
            .collect(),
    };
    html! { div.short-table { (table) } }
}

/// Codes that are shown at once; all of them are in the file.
const SHOWN: usize = 500;

fn codes_table(receipt: &Receipt, kept: &Kept) -> Markup {
    let codes = &kept.changes.codes;
    let table = Table {
        caption: "Codes that were issued".to_owned(),
        columns: [Column::words("Row"), Column::words("Case")],
        rows: codes
            .iter()
            .take(SHOWN)
            .map(|issued| {
                let link = html! { a href={ "/cases/" (issued.code) } { (case_code(&issued.code)) } };
                [Cell::text(count(issued.row)), Cell::shown(link)]
            })
            .collect(),
    };
    html! {
        section.issued id="codes" {
            p {
                "These rows came without a code. Keep the codes beside your own list: nobody else can tell whose case is whose. "
                a href={ "/imports/receipts/" (receipt.id) "/codes.csv" } { "Download the codes" }
            }
            (table)
            @if codes.len() > SHOWN { p.quiet { "And " (count((codes.len() - SHOWN) as u64)) " more in the download." } }
        }
    }
}

/// The codes by row, as delimited text.
#[get("/imports/receipts/{id}/codes.csv")]
pub(in crate::pages) async fn codes_as_text(
    permit: Permit<ImportFiles>,
    id: Part<ImportId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (_, kept) = read(permit, id.0, &store).await?;
    let rows = kept.changes.codes.iter().map(|issued| format!("{},{}\r\n", issued.row, issued.code));
    let text = format!("row,case_code\r\n{}", rows.collect::<String>());
    Ok(download("text/csv; charset=utf-8", "issued-codes.csv", text.into_bytes()))
}
