//! The list of cases: filters that live in the address, completeness at a glance.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::centre::Centre;
use quietbeam_schema::completeness::sections;
use quietbeam_schema::ids::{CaseCode, CentreCode, CentreCodeError};
use quietbeam_schema::value::FieldValue;
use quietbeam_schema::vocabulary::{
    Coded, Completeness, ProcedureGroup, ProcedureType, RecordState, Strategy, YesNo,
};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

use super::case::strand_of;
use super::components::{Cell, Column, FieldId, Table, Word, arm, case_code, error_summary, filter};
use super::form::Form;
use super::frame::{Frame, Page, Visit, may};
use super::trouble::{Trouble, Troubles};
use super::words::sentence;
use crate::access::Permit;
use crate::access::action::{ExportCases, ImportFiles, ListQueries, ReadCase};
use crate::access::session::Caller;
use crate::api::Problem;
use crate::api::brought::Query;
use crate::api::cases::may_search;
use crate::api::cursor::List;
use crate::api::exports;
use crate::api::problem::BAD_QUERY;
use crate::export::Format;
use crate::registry::case_list::{self, CaseSearch};
use crate::registry::cases::form_of;
use crate::store::{CaseFilter, CaseRow, PageRequest, QueryFilter, QueryRow, Store, StoreError};

/// What is asked for; a blank asks for everything.
#[derive(Deserialize, Serialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Asked {
    period: String,
    group: String,
    procedure: String,
    strategy: String,
    state: String,
    completeness: String,
    open_query: String,
    centre: String,
    #[serde(skip_serializing)]
    after: Option<String>,
}

/// How the listed cases are taken out.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct TakeOut {
    format: Format,
}

/// Hands the cases that the filters of the address leave over as a file.
#[post("/cases/take-out")]
pub(super) async fn take_out(
    permit: Permit<ExportCases>,
    visit: Visit,
    asked: Query<Asked>,
    form: Form<TakeOut>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let caller = visit.signed()?;
    let search = asked.0.search().map_err(|troubles| {
        let sentences: Vec<&str> = troubles.iter().map(|trouble| trouble.sentence.as_str()).collect();
        Problem::new(&BAD_QUERY, sentences.join(" "))
    })?;
    exports::take_out(permit, caller, search, form.0.format, store.get_ref().clone()).await
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
    let (search, troubles) = match asked.search() {
        Ok(search) => (Some(search), None),
        Err(troubles) => (None, Some(troubles)),
    };
    if let Some(search) = &search {
        may_search(caller, search)?;
    }
    let (page, periods, centres) = store
        .read(permit, move |session| {
            let page = match search {
                Some(search) => case_list::list(session, &search, request)?,
                None => crate::store::Page { rows: Vec::new(), next: None },
            };
            Ok::<_, StoreError>((page, session.case_periods()?, session.list_centres()?))
        })
        .await?;
    let queries = open_queries(caller, &store, &page.rows).await?;
    let rows = list.show(page, |row| row);
    let frame = visit.frame(&store).await?;
    let choices = Choices { periods, centres, questions: may::<ListQueries>(caller) };
    let to_take = !rows.items.is_empty() && may::<ExportCases>(caller);
    let content = html! {
        div.title {
            h1 { "Cases" }
            @if may::<ImportFiles>(caller) { a href="/imports" { "Bring in a file" } }
            @if to_take { a href="#take-out" { "Take out these cases" } }
        }
        @if let Some(troubles) = &troubles { (error_summary(troubles, "cases can be listed")) }
        (choices.filters(&asked))
        @if troubles.is_some() {}
        @else if rows.items.is_empty() { p { "No case fits." } }
        @else { div.case-list { (table(&rows.items, &queries)?) } }
        @if let Some(next) = &rows.next { p { a href=(asked.further(next)) rel="next" { "Further cases" } } }
        @if to_take { (taking_out(&frame, &asked, choices.centres.len() > 1)) }
    };
    let page = Page { title: "Cases".to_owned(), word: Some(Word::Cases), content };
    Ok(if troubles.is_some() { frame.refuse(&page) } else { frame.show(&page) })
}

impl Asked {
    /// What is asked for, or every filter that says something no case can have.
    fn search(&self) -> Result<CaseSearch, Troubles> {
        let mut troubles = Vec::new();
        let search = CaseSearch {
            filter: CaseFilter {
                centre: centre(&self.centre, &mut troubles),
                period: value(("period", "Quarter"), &self.period, &mut troubles),
                procedure_group: value(("group", "Group"), &self.group, &mut troubles),
                procedure: value(("procedure", "Procedure"), &self.procedure, &mut troubles),
                strategy_intended: value(("strategy", "Intended strategy"), &self.strategy, &mut troubles),
                state: value(("state", "State"), &self.state, &mut troubles),
                open_query: value(("open_query", "Question open"), &self.open_query, &mut troubles),
            },
            completeness: value(("completeness", "Filled in"), &self.completeness, &mut troubles),
        };
        Troubles::of_rows(troubles).map_or(Ok(search), Err)
    }

    /// The filters as they stand in the address.
    fn query(&self) -> String {
        serde_urlencoded::to_string(self).unwrap_or_default()
    }

    fn further(&self, after: &str) -> String {
        format!("/cases?{}&after={after}", self.query())
    }
}

/// One filter; a blank is none.
fn value<T: FieldValue>((name, label): (&str, &str), text: &str, troubles: &mut Vec<Trouble>) -> Option<T> {
    let text = text.trim();
    if text.is_empty() {
        return None;
    }
    let refused = |problem| trouble(name, format!("{label}: what was asked for {problem}."));
    T::parse(text).map_err(|problem| troubles.push(refused(problem))).ok()
}

fn centre(text: &str, troubles: &mut Vec<Trouble>) -> Option<CentreCode> {
    let text = text.trim();
    if text.is_empty() {
        return None;
    }
    let refused = |problem| trouble("centre", format!("Centre: {}", sentence(problem)));
    text.parse().map_err(|problem: CentreCodeError| troubles.push(refused(problem))).ok()
}

fn trouble(name: &str, sentence: String) -> Trouble {
    Trouble { field: FieldId::of(&format!("filter-{name}")), sentence }
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
                let filter = QueryFilter {
                    state: Some("open".to_owned()),
                    code: Some(code),
                    ..QueryFilter::default()
                };
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
                form.filters method="post" action={ "/cases/take-out?" (asked.query()) } {
                    (frame.token())
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

/// What the filters offer to whoever looks.
struct Choices {
    periods: Vec<String>,
    centres: Vec<Centre>,
    /// What was asked about the cases is theirs to see.
    questions: bool,
}

impl Choices {
    fn filters(&self, asked: &Asked) -> Markup {
        let all = Some("all");
        let same =
            |texts: Vec<String>| texts.into_iter().map(|text| (text.clone(), text)).collect::<Vec<_>>();
        let centres = same(self.centres.iter().map(|centre| centre.code.to_string()).collect());
        html! {
            form.filters method="get" action="/cases" {
                (filter("period", "Quarter", &asked.period, &same(self.periods.clone()), all))
                (filter("group", "Group", &asked.group, &coded::<ProcedureGroup>(), all))
                (filter("procedure", "Procedure", &asked.procedure, &coded::<ProcedureType>(), all))
                (filter("strategy", "Intended strategy", &asked.strategy, &coded::<Strategy>(), all))
                (filter("completeness", "Filled in", &asked.completeness, &coded::<Completeness>(), all))
                @if self.questions {
                    (filter("state", "State", &asked.state, &coded::<RecordState>(), all))
                    (filter("open_query", "Question open", &asked.open_query, &coded::<YesNo>(), all))
                }
                @if centres.len() > 1 { (filter("centre", "Centre", &asked.centre, &centres, all)) }
                div { button.button type="submit" { "Show" } }
            }
        }
    }
}

/// The codes of a list with their labels.
fn coded<C: Coded>() -> Vec<(String, String)> {
    C::all().iter().map(|code| (code.code().to_owned(), code.label().to_owned())).collect()
}
