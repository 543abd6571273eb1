//! The list of cases: filters that live in the address, completeness at a glance.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::completeness::sections;
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::vocabulary::{Coded, ProcedureGroup, ProcedureType, Strategy};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

use super::case::strand_of;
use super::components::{Cell, Column, Pick, Table, Word, arm, case_code};
use super::form::Form;
use super::frame::{Frame, Page, Visit, may};
use crate::access::Permit;
use crate::access::action::{ExportCases, ListQueries, ReadCase};
use crate::access::session::Caller;
use crate::api::Problem;
use crate::api::brought::Query;
use crate::api::cursor::List;
use crate::api::exports;
use crate::export::Format;
use crate::registry::cases::form_of;
use crate::store::{CaseFilter, CaseRow, PageRequest, QueryFilter, QueryRow, Store, StoreError};

/// What is asked for; a blank asks for everything.
#[derive(Deserialize, Serialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Asked {
    period: String,
    group: String,
    strategy: String,
    centre: String,
    #[serde(skip_serializing)]
    after: Option<String>,
}

/// Which of the listed cases are taken out, and how they are written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct TakeOut {
    #[serde(default)]
    period: String,
    #[serde(default)]
    group: String,
    #[serde(default)]
    strategy: String,
    #[serde(default)]
    centre: String,
    format: Format,
}

/// Hands the cases that the filters leave over as a file.
#[post("/cases/take-out")]
pub(super) async fn take_out(
    permit: Permit<ExportCases>,
    visit: Visit,
    form: Form<TakeOut>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let TakeOut { period, group, strategy, centre, format } = form.0;
    let asked = Asked { period, group, strategy, centre, after: None };
    // No centre has a code that cannot be read.
    let filter = asked.filter().ok_or_else(Problem::absent)?;
    exports::take_out(permit, visit.signed()?, filter, format, store.get_ref().clone()).await
}

#[get("/cases")]
pub(super) async fn cases(
    permit: Permit<ReadCase>,
    visit: Visit,
    asked: Query<Asked>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let asked = asked.0;
    let caller = visit.signed()?;
    let list = List::of("pages of cases", caller.actor(), &asked);
    let request = list.page(None, asked.after.as_deref())?;
    let filter = asked.filter();
    let (page, choices) = store
        .read(permit, move |session| {
            let choices = (session.case_periods()?, session.list_centres()?);
            let page = match filter {
                Some(filter) => session.list_cases(&filter, request)?,
                // No centre has such a code, so there is nothing to list.
                None => crate::store::Page { rows: Vec::new(), next: None },
            };
            Ok::<_, StoreError>((page, choices))
        })
        .await?;
    let queries = open_queries(caller, &store, &page.rows).await?;
    let rows = list.show(page, |row| row);
    let (periods, centres) = choices;
    let centres: Vec<String> = centres.iter().map(|centre| centre.code.to_string()).collect();
    let frame = visit.frame(&store).await?;
    let to_take = !rows.items.is_empty() && may::<ExportCases>(caller);
    let content = html! {
        div.title {
            h1 { "Cases" }
            @if to_take { a href="#take-out" { "Take out these cases" } }
        }
        (filters(&asked, &periods, &centres))
        @if rows.items.is_empty() { p { "No case fits." } }
        @else { div.case-list { (table(&rows.items, &queries)?) } }
        @if let Some(next) = &rows.next { p { a href=(asked.further(next)) rel="next" { "Further cases" } } }
        @if to_take { (taking_out(&frame, &asked, centres.len() > 1)) }
    };
    Ok(frame.show(&Page { title: "Cases".to_owned(), word: Some(Word::Cases), content }))
}

impl Asked {
    /// `None` when nothing can fit.
    fn filter(&self) -> Option<CaseFilter> {
        let text = |text: &String| (!text.trim().is_empty()).then(|| text.trim().to_owned());
        let centre = match text(&self.centre) {
            Some(code) => Some(code.parse().ok()?),
            None => None,
        };
        Some(CaseFilter {
            centre,
            period: text(&self.period),
            procedure_group: text(&self.group),
            strategy_intended: text(&self.strategy),
        })
    }

    fn further(&self, after: &str) -> String {
        let query = serde_urlencoded::to_string(self).unwrap_or_default();
        format!("/cases?{query}&after={after}")
    }
}

/// The questions that wait about these cases, where the member may see them.
async fn open_queries(
    caller: &Caller,
    store: &Store,
    rows: &[CaseRow],
) -> Result<BTreeMap<CaseCode, Vec<QueryRow>>, Problem> {
    let Ok(permit) = caller.permit::<ListQueries>() else { return Ok(BTreeMap::new()) };
    let codes: Vec<CaseCode> = rows.iter().map(|row| row.code).collect();
    let all = store
        .read(permit, move |session| {
            let mut found = BTreeMap::new();
            for code in codes {
                let filter = QueryFilter { state: Some("open".to_owned()), code: Some(code), centre: None };
                found.insert(code, session.list_queries(&filter, PageRequest::first())?.rows);
            }
            Ok::<_, StoreError>(found)
        })
        .await?;
    Ok(all)
}

fn table(rows: &[CaseRow], queries: &BTreeMap<CaseCode, Vec<QueryRow>>) -> Result<Table<6>, StoreError> {
    let row = |row: &CaseRow| {
        let index = &row.content.index;
        let asked = queries.get(&row.code).map_or(&[][..], Vec::as_slice);
        let strand = strand_of(&sections(&form_of(row)?), asked);
        let procedure = ProcedureType::from_code(&index.procedure).map_or("", Coded::label);
        let intended = Strategy::from_code(&index.strategy_intended).map_or_else(|| html! {}, arm);
        Ok([
            Cell::shown(html! { a href={ "/cases/" (row.code) } { (case_code(&row.code)) } }),
            Cell::text(&index.period),
            Cell::text(procedure),
            Cell::shown(intended),
            Cell::shown(strand.small()),
            Cell::text(strand.state()),
        ])
    };
    Ok(Table {
        caption: "Newest first".to_owned(),
        columns: ["Case", "Quarter", "Procedure", "Intended", "Filled in", "State"].map(Column::words),
        rows: rows.iter().map(row).collect::<Result<_, StoreError>>()?,
    })
}

/// The way to have the listed cases as a file.
fn taking_out(frame: &Frame, asked: &Asked, several_centres: bool) -> Markup {
    let hidden = [
        ("period", &asked.period),
        ("group", &asked.group),
        ("strategy", &asked.strategy),
        ("centre", &asked.centre),
    ];
    html! {
        section.take-out id="take-out" {
            h2 { "Take out these cases" }
            @if several_centres && asked.centre.is_empty() {
                p.small { "Choose one centre above first: a file holds the cases of one." }
            } @else {
                p.small {
                    "All that the filters leave, with complications and follow-up. Taking the file in again "
                    "changes nothing. It holds remarks and operator codes: keep it at your centre."
                }
                form.filters method="post" action="/cases/take-out" {
                    (frame.token())
                    @for (name, value) in hidden { input type="hidden" name=(name) value=(value); }
                    div {
                        label.label for="take-out-format" { "Written as" }
                        select.select id="take-out-format" name="format" {
                            @for format in Format::ALL { option value=(format.word()) { (format.label()) } }
                        }
                    }
                    div { button.button type="submit" { "Take out" } }
                }
            }
        }
    }
}

fn filters(asked: &Asked, periods: &[String], centres: &[String]) -> Markup {
    let same =
        |texts: &'_ [String]| texts.iter().map(|text| (text.clone(), text.clone())).collect::<Vec<_>>();
    let coded = |code: &str, label: &str| (code.to_owned(), label.to_owned());
    let groups: Vec<_> =
        ProcedureGroup::all().iter().map(|group| coded(group.code(), group.label())).collect();
    let arms: Vec<_> = Strategy::all().iter().map(|arm| coded(arm.code(), arm.label())).collect();
    html! {
        form.filters method="get" action="/cases" {
            (filter("period", "Quarter", &asked.period, &same(periods)))
            (filter("group", "Procedures", &asked.group, &groups))
            (filter("strategy", "Intended strategy", &asked.strategy, &arms))
            @if centres.len() > 1 { (filter("centre", "Centre", &asked.centre, &same(centres))) }
            div { button.button type="submit" { "Show" } }
        }
    }
}

fn filter(name: &str, label: &str, chosen: &str, picks: &[(String, String)]) -> Markup {
    let picks: Vec<Pick<'_>> = picks.iter().map(|(value, label)| Pick::plain(value, label)).collect();
    html! {
        div {
            label.label for={ "filter-" (name) } { (label) }
            select.select id={ "filter-" (name) } name=(name) {
                option value="" { "all" }
                @for pick in &picks { option value=(pick.value) selected[pick.value == chosen] { (pick.label) } }
            }
        }
    }
}
