//! The screening log as it stands: by quarter and group of procedures, what was performed,
//! eligible and sent in, and who signed it.

use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_analysis::study::numerals::count;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::Coded;
use std::collections::BTreeMap;

use super::components::{Cell, Column, Mark, Table, Word};
use super::figures::DenominatorBar;
use super::frame::{Page, Visit};
use crate::access::Permit;
use crate::access::action::ReadScreeningLog;
use crate::api::Problem;
use crate::store::{ScreeningRow, Store};

#[get("/screening-log")]
pub(super) async fn screening_log(
    permit: Permit<ReadScreeningLog>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let rows = store.read(permit, |session| session.list_screening()).await?;
    let mut quarters: BTreeMap<(Quarter, CentreCode), Vec<ScreeningRow>> = BTreeMap::new();
    for row in rows {
        quarters.entry((row.line.period, row.line.centre)).or_default().push(row);
    }
    let content = html! {
        div.title {
            div {
                h1 { "Screening log" }
                p.quiet { "Every ablation counts here, sent in or not. Without it nobody can tell whether only the good cases were sent." }
            }
        }
        @if quarters.is_empty() { p { "Nothing is entered yet." } }
        @for ((quarter, centre), rows) in quarters.iter().rev() { (of_quarter(*quarter, *centre, rows)) }
    };
    Ok(frame.show(&Page { title: "Screening log".to_owned(), word: Some(Word::ScreeningLog), content }))
}

fn of_quarter(quarter: Quarter, centre: CentreCode, rows: &[ScreeningRow]) -> Markup {
    let mut bar = DenominatorBar::default();
    rows.iter().for_each(|row| bar.add(&row.counts));
    let row = |row: &ScreeningRow| {
        let counts = &row.counts;
        let signed = match row.signed_by {
            Some(_) => Mark::Locked.with("signed"),
            None => Mark::ToSign.with("not signed"),
        };
        [
            Cell::text(row.line.group.label()),
            Cell::text(count(counts.performed())),
            Cell::text(count(counts.eligible())),
            Cell::text(count(counts.submitted())),
            Cell::shown(signed),
        ]
    };
    let table = Table {
        caption: format!("{quarter}, centre {centre}"),
        columns: [
            Column::words("Group of procedures"),
            Column::numbers("Performed"),
            Column::numbers("Eligible"),
            Column::numbers("Sent in"),
            Column::words("Signature"),
        ],
        rows: rows.iter().map(row).collect(),
    };
    html! {
        section.log id=(quarter) { div { (table) } div.log-bar { (bar) } }
    }
}
