//! What was published of the network, with the centre's own figures beside: the way back to those
//! who gave the data. Of other centres it shows what everyone reads.

use actix_web::{HttpResponse, get, web};
use maud::{Markup, html};
use quietbeam_analysis::study::summary::{SafetySummary, TableBeside, TableCell, TableRow};
use quietbeam_schema::centre::Centre;
use quietbeam_schema::ids::{CentreCode, SummaryNumber};
use serde::Deserialize;

use super::{Page, Visit, Word};
use crate::access::Permit;
use crate::access::action::ReadOwnPicture;
use crate::api::Problem;
use crate::api::brought::Query;
use crate::pages::components::caution;
use crate::registry::RegistryError;
use crate::registry::own_summary::own_beside;
use crate::registry::summaries::content_of;
use crate::store::{PublicBody, PublicSummary, Store, StoreError};

/// Which centre and which summary; a blank asks for the first centre within reach, and for the
/// newest summary in force.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(in crate::pages) struct Asked {
    centre: String,
    summary: String,
}

#[get("/our-picture/published")]
pub(in crate::pages) async fn published(
    permit: Permit<ReadOwnPicture>,
    visit: Visit,
    asked: Query<Asked>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let Asked { centre, summary } = asked.0;
    let frame = visit.frame(&store).await?;
    let in_force = in_force(store.read(Permit::public(), |session| session.list_published()).await?)?;
    let number = |chosen: &Said| chosen.record.number.0.to_string();
    let chosen = match summary.trim() {
        "" => in_force.first(),
        named => Some(
            in_force.iter().find(|said| number(said) == named).ok_or(StoreError::Absent("safety summary"))?,
        ),
    };
    let chosen = chosen.cloned();
    let (centres, shown) = store
        .read(permit, move |session| {
            let centres = session.list_centres()?;
            let shown = super::chosen(&centre, &centres)?
                .map(|code| Shown::read(session, code, chosen))
                .transpose()?;
            Ok::<_, RegistryError>((centres, shown))
        })
        .await?;
    let content = html! {
        div.title {
            div {
                h1 { "Published, and ours beside" }
                p.quiet { "What everyone reads of the network, with this centre's own cases of the same data cut and years." }
            }
            a href="/our-picture" { "Our picture" }
        }
        @if in_force.len() > 1 || centres.len() > 1 { (chooser(&centres, &in_force, shown.as_ref())) }
        @match &shown {
            Some(shown) => (shown.draw()),
            None => p { "There is no centre yet." },
        }
    };
    Ok(frame.show(&Page {
        title: "Published, and ours beside".to_owned(),
        word: Some(Word::OurPicture),
        content,
    }))
}

/// A summary in force.
#[derive(Clone)]
struct Said {
    record: PublicSummary,
    summary: SafetySummary,
}

/// Those in force, newest first: what was withdrawn is no longer to be relied on.
fn in_force(all: Vec<PublicSummary>) -> Result<Vec<Said>, RegistryError> {
    let read = |record: PublicSummary| match &record.body {
        PublicBody::InForce(content) => {
            let summary = content_of(content)?;
            Ok(Some(Said { record, summary }))
        }
        PublicBody::Withdrawn { .. } => Ok(None),
    };
    all.into_iter().map(read).filter_map(Result::transpose).collect()
}

/// A centre, and the tables if anything is in force.
struct Shown {
    centre: CentreCode,
    chosen: Option<(Said, Vec<TableBeside>)>,
}

impl Shown {
    fn read(
        session: &mut crate::store::Session<'_, ReadOwnPicture>,
        centre: CentreCode,
        chosen: Option<Said>,
    ) -> Result<Self, RegistryError> {
        session.find_centre(centre)?;
        let beside = |said: Said| {
            let tables = own_beside(session, centre, (&said.record, &said.summary))?;
            Ok::<_, RegistryError>((said, tables))
        };
        Ok(Self { centre, chosen: chosen.map(beside).transpose()? })
    }

    fn draw(&self) -> Markup {
        let Some((said, tables)) = &self.chosen else {
            return html! { p { "No safety summary is in force." } };
        };
        let number = said.record.number.0;
        html! {
            p.lead {
                "Centre " (self.centre) " beside "
                a href={ "/summaries/" (number) } { "safety summary " (number) } "."
            }
            p {
                "The lines of the network hold this centre's cases too. A centre's own numbers are small and swing by chance: "
                "a difference says little, and nothing about a person. Only the network's lines were published; keep the own ones within the centre."
            }
            @for table in tables { (drawn(table)) }
            p.small {
                "Hatched: not shown to anyone, so that nobody can be recognised. “–”: no case of this centre stands there, or too few for the number to say anything. Rows without a case of anyone are left out."
            }
            (caution("Cases were not randomised, and centres differ in their patients."))
        }
    }
}

/// Whether nobody has anything there: rows of nothing would hide the others.
fn is_empty(row: &TableRow, own: &[Option<TableCell>]) -> bool {
    let is_none = |cell: &TableCell| cell.count() == Some(0);
    row.cells.iter().all(is_none) && own.iter().flatten().all(is_none)
}

/// A table with two lines a row: the network's, and the centre's.
fn drawn(TableBeside { published: table, own }: &TableBeside) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label=(table.caption) { table.beside {
            caption { (table.caption) }
            thead { tr {
                th scope="col" { (table.stub) }
                th scope="col" { "Whose" }
                @for column in &table.columns { th.number scope="col" { (column.label) } }
            } }
            @for (row, own) in table.rows.iter().zip(own).filter(|(row, own)| !is_empty(row, own)) {
                tbody {
                    tr {
                        th scope="rowgroup" rowspan="2" { (row.label) }
                        th scope="row" { "Network" }
                        @for cell in &row.cells {
                            @if cell.is_hidden() { td.not-shown { span { (cell.text()) } } } @else { td.number { (cell.text()) } }
                        }
                    }
                    tr.own {
                        th scope="row" { "Ours" }
                        @for cell in own { td.number { (own_text(*cell)) } }
                    }
                }
            }
        } }
    }
}

fn own_text(cell: Option<TableCell>) -> String {
    match cell {
        Some(cell) if !cell.is_hidden() => cell.text(),
        _ => "–".to_owned(),
    }
}

fn chooser(centres: &[Centre], in_force: &[Said], shown: Option<&Shown>) -> Markup {
    let centre = shown.map(|shown| shown.centre);
    let number = shown.and_then(|shown| shown.chosen.as_ref()).map(|(said, _)| said.record.number);
    html! {
        form.filters method="get" action="/our-picture/published" {
            @if centres.len() > 1 {
                div {
                    label.label for="filter-centre" { "Centre" }
                    select.select id="filter-centre" name="centre" {
                        @for one in centres {
                            option value=(one.code) selected[Some(one.code) == centre] { (one.code) ", " (one.name) }
                        }
                    }
                }
            }
            div {
                label.label for="filter-summary" { "Safety summary" }
                select.select id="filter-summary" name="summary" {
                    @for said in in_force {
                        @let SummaryNumber(one) = said.record.number;
                        option value=(one) selected[Some(said.record.number) == number] { (one) }
                    }
                }
            }
            div { button.button type="submit" { "Show" } }
        }
    }
}
