//! Data cuts: the list and taking one, what one holds, and how two differ.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_analysis::study::numerals::{count, share};
use quietbeam_schema::ids::{CentreCode, DataCutId};
use quietbeam_schema::vocabulary::{Coded, Exclusion};
use serde::Deserialize;
use std::collections::BTreeMap;

use super::components::{
    Cell, Column, Control, FieldRow, Table, Text, Word, as_blocks, caution, error_summary, filter,
};
use super::form::Posted;
use super::frame::{Frame, Page, Visit, may, see_other};
use super::trouble::Troubles;
use super::words::moment;
use crate::access::Permit;
use crate::access::action::{ReadDataCuts, RunComparison, TakeDataCut};
use crate::api::Problem;
use crate::api::brought::{Part, Query};
use crate::registry::RegistryError;
use crate::registry::cuts::{self, Against, Difference, Held};
use crate::store::{Conflict, DataCut, Refused, Store, StoreError};

fn page(title: &str, content: Markup) -> Page {
    Page { title: title.to_owned(), word: Some(Word::DataCuts), content }
}

#[get("/data-cuts")]
pub(super) async fn list(
    permit: Permit<ReadDataCuts>,
    visit: Visit,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let all = store.read(permit, |session| session.list_cuts()).await?;
    let frame = visit.frame(&store).await?;
    let takes = may::<TakeDataCut>(visit.signed()?);
    Ok(frame.show(&page("Data cuts", whole_list(&frame, &all, takes.then_some(("", None))))))
}

#[post("/data-cuts")]
pub(super) async fn take(
    permit: Permit<TakeDataCut>,
    visit: Visit,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let name = posted.one("name").trim().to_owned();
    let wanted = name.clone();
    let troubles = match store.write(permit, move |session| cuts::take(session, &wanted)).await {
        Ok(cut) => return Ok(see_other(&format!("/data-cuts/{}", cut.id))),
        Err(error) => mendable(error)?,
    };
    let reading = visit.signed()?.permit::<ReadDataCuts>()?;
    let all = store.read(reading, |session| session.list_cuts()).await?;
    let frame = visit.frame(&store).await?;
    let content = whole_list(&frame, &all, Some((&name, Some(&troubles))));
    Ok(frame.refuse(&page("Must be mended: data cuts", content)))
}

/// What the investigator can mend; anything else goes on as it is.
fn mendable(error: RegistryError) -> Result<Troubles, Problem> {
    match error {
        RegistryError::Store(StoreError::Conflict(Conflict::Taken(_))) => {
            Ok(Troubles::with("name", "Another cut has this name; choose another."))
        }
        RegistryError::Store(StoreError::Refused(Refused::NothingToCut)) => {
            Ok(Troubles::with("name", "No case has been sent in yet, so there is nothing to freeze."))
        }
        other => Ok(Troubles::of(other)?),
    }
}

/// The list; with what is typed for a further cut where who looks may take one.
fn whole_list(frame: &Frame, all: &[DataCut], takes: Option<(&str, Option<&Troubles>)>) -> Markup {
    html! {
        div.title {
            div {
                h1 { "Data cuts" }
                p.quiet { "Everything that stood in the registry at one moment, under a hash. A cut never changes." }
            }
        }
        @if let Some((_, Some(troubles))) = takes { (error_summary(troubles, "the data are frozen")) }
        @if all.is_empty() { p { "No cut was taken yet." } } @else { (table(all)) }
        @if let Some((name, troubles)) = takes {
            @let name = FieldRow::of_form("name", "Name", Some("such as the quarter it closes"), Control::Text(Text { name: "name", value: name, number_in: None }), troubles);
            form method="post" action="/data-cuts" {
                (frame.token())
                h2 { "Freeze the data now" }
                div.fields {
                    (FieldRow { note: Some(html! { "Stands on every result of the cut; on a published summary everyone reads it." }), ..name })
                }
                div.mends { button.button.main type="submit" { "Take a data cut" } }
            }
        }
    }
}

fn table(all: &[DataCut]) -> Table<4> {
    let row = |cut: &DataCut| {
        [
            Cell::shown(html! { a href={ "/data-cuts/" (cut.id) } { (cut.name) } }),
            Cell::text(moment(cut.at)),
            Cell::text(count(cut.cases.unsigned_abs())),
            Cell::shown(html! { code { (&cut.content_hash[..12]) } }),
        ]
    };
    Table {
        caption: "The newest first".to_owned(),
        columns: [
            Column::words("Cut"),
            Column::words("Taken"),
            Column::numbers("Cases"),
            Column::words("Hash begins with"),
        ],
        rows: all.iter().map(row).collect(),
    }
}

/// The other cut to set beside this one.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Beside {
    with: Option<DataCutId>,
}

/// A cut with what it holds, and with the cut beside it.
struct Shown {
    cut: DataCut,
    held: BTreeMap<CentreCode, Held>,
    against: Against,
    others: Vec<DataCut>,
    beside: Option<Other>,
}

/// A reason for which a plan may leave cases out, and how many stand under it.
type Reason = (Exclusion, fn(&Against) -> u32);

/// Another cut, how it differs and what stood against its cases.
struct Other {
    cut: DataCut,
    found: BTreeMap<CentreCode, Difference>,
    against: Against,
}

#[get("/data-cuts/{id}")]
pub(super) async fn one(
    permit: Permit<ReadDataCuts>,
    visit: Visit,
    (id, beside): (Part<DataCutId>, Query<Beside>),
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let with = beside.0.with;
    let shown = store
        .read(permit, move |session| {
            let cut = session.find_cut(id.0)?;
            let mut others = session.list_cuts()?;
            others.retain(|other| other.id != cut.id);
            let beside = match with {
                None => None,
                Some(id) => {
                    let other = session.find_cut(id)?;
                    let found = cuts::differences(session, (&cut, &other))?;
                    Some(Other { against: cuts::against(session, &other)?, cut: other, found })
                }
            };
            let (held, against) = (cuts::holds(session, &cut)?, cuts::against(session, &cut)?);
            Ok::<_, StoreError>(Shown { held, against, cut, others, beside })
        })
        .await?;
    let frame = visit.frame(&store).await?;
    let compares = may::<RunComparison>(visit.signed()?);
    Ok(frame.show(&page(&format!("Data cut {}", shown.cut.name), shown.draw(compares))))
}

impl Shown {
    fn draw(&self, compares: bool) -> Markup {
        let cut = &self.cut;
        html! {
            div.title {
                div {
                    p.small { "Data cut · taken " (moment(cut.at)) }
                    h1 { (cut.name) }
                    p.quiet { (count(cut.cases.unsigned_abs())) " cases" }
                }
                a href="/data-cuts" { "All data cuts" }
            }
            div.sides {
                div {
                    (as_blocks(&self.held()))
                    @if let Some(other) = &self.beside { (differences(cut, &other.cut, &other.found)) }
                    (self.stood_against())
                    (caution("Cases of a cut are pseudonymous research data."))
                }
                aside.margin {
                    @if compares {
                        section { h2 { "From here" } p { a href={ "/comparisons?cut=" (cut.id) } { "Carry out a plan on it" } } }
                    }
                    @if !self.others.is_empty() { (self.choose()) }
                    section {
                        h2 { "SHA-256 of its content" }
                        p.small { code { (cut.content_hash) } }
                        p.small { "Over code, revision and record of each case, then the screening log." }
                    }
                }
            }
        }
    }

    fn held(&self) -> Table<5> {
        let row = |(centre, held): (&CentreCode, &Held)| {
            [
                Cell::text(centre.to_string()),
                Cell::text(count(held.cases)),
                Cell::text(count(held.performed)),
                Cell::text(if held.eligible == 0 {
                    "not entered".to_owned()
                } else {
                    share(held.cases.min(held.eligible), held.eligible, 0)
                }),
                Cell::text(format!("{} of {}", held.signed, held.lines)),
            ]
        };
        Table {
            caption: "What it holds".to_owned(),
            columns: [
                Column::words("Centre"),
                Column::numbers("Cases"),
                Column::numbers("Performed, by the screening log"),
                Column::numbers("Cases of the eligible"),
                Column::numbers("Lines of the log signed"),
            ],
            rows: self.held.iter().map(row).collect(),
        }
    }

    /// What a plan may leave out for it, of this cut and the one beside it.
    fn stood_against(&self) -> Markup {
        let reasons: [Reason; 3] = [
            (Exclusion::ApprovalMissing, |against| against.approval_missing),
            (Exclusion::DenominatorUnsigned, |against| against.denominator_unsigned),
            (Exclusion::QuestionOpen, |against| against.question_open),
        ];
        let cell = |against: &Against, of: fn(&Against) -> u32| Cell::text(count(of(against)));
        let note = html! { p.small { "All of them are in the cut. A plan says which of these reasons leave cases out; its report then tells how many of each arm." } };
        let caption = "Cases against which something stood when it was taken".to_owned();
        match &self.beside {
            None => {
                let row = |(rule, of): &Reason| [Cell::text(rule.label()), cell(&self.against, *of)];
                let columns = [Column::words("What"), Column::numbers("Cases")];
                let rows = reasons.iter().map(row).collect();
                html! { section id="against" { (Table { caption, columns, rows }) (note) } }
            }
            Some(other) => {
                let row = |(rule, of): &Reason| {
                    [Cell::text(rule.label()), cell(&self.against, *of), cell(&other.against, *of)]
                };
                let columns = [
                    Column::words("What"),
                    Column::numbers(&self.cut.name),
                    Column::numbers(&other.cut.name),
                ];
                let rows = reasons.iter().map(row).collect();
                html! { section id="against" { (Table { caption, columns, rows }) (note) } }
            }
        }
    }

    fn choose(&self) -> Markup {
        let picks: Vec<(String, String)> =
            self.others.iter().map(|other| (other.id.to_string(), other.name.clone())).collect();
        let chosen = self.beside.as_ref().map(|other| other.cut.id.to_string()).unwrap_or_default();
        html! {
            section {
                h2 { "Set beside another cut" }
                form.stack method="get" action={ "/data-cuts/" (self.cut.id) } {
                    (filter("with", "Cut", &chosen, &picks, None))
                    div { button.button type="submit" { "Compare" } }
                }
            }
        }
    }
}

fn differences(cut: &DataCut, other: &DataCut, found: &BTreeMap<CentreCode, Difference>) -> Markup {
    let (earlier, later) = if cut.boundary_seq <= other.boundary_seq { (cut, other) } else { (other, cut) };
    let row = |(centre, difference): (&CentreCode, &Difference)| {
        [
            Cell::text(centre.to_string()),
            Cell::text(count(difference.added)),
            Cell::text(count(difference.changed)),
            Cell::text(count(difference.same)),
            Cell::text(count(difference.gone)),
        ]
    };
    let table = Table {
        caption: format!("From {} to {}", earlier.name, later.name),
        columns: [
            Column::words("Centre"),
            Column::numbers("Added"),
            Column::numbers("Changed"),
            Column::numbers("The same"),
            Column::numbers("Gone"),
        ],
        rows: found.iter().map(row).collect(),
    };
    html! { section id="differences" { (table) } }
}
