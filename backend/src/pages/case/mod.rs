//! A case as it stands: its strand, its fields with the questions about them, its
//! complications and its follow-up.

pub(super) mod answer;
pub(super) mod ask;
pub(super) mod change;
pub(super) mod history;

use actix_web::{HttpResponse, get, web};
use maud::{Markup, Render, html};
use quietbeam_schema::case::{CaseForm, CaseRecord};
use quietbeam_schema::completeness::{FieldStand, SectionStand, sections};
use quietbeam_schema::data_query::Stage;
use quietbeam_schema::endpoint::Derived;
use quietbeam_schema::finding::Place as FieldPlace;
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::instant::Instant;
use quietbeam_schema::vocabulary::{Coded, ProcedureType, Strategy};

use self::answer::Answering;
use crate::access::Permit;
use crate::access::action::{AnswerQuery, ChangeCase, ListQueries, RaiseQuery, ReadCase, ReadHistory};
use crate::api::Problem;
use crate::api::brought::Part as PathPart;
use crate::pages::about::About;
use crate::pages::components::{FieldId, Mark, Word, arm, case_code, complication_card, query_thread};
use crate::pages::figures::{Place, Strand, Stretch};
use crate::pages::frame::{Page, Visit, may};
use crate::pages::shown::entered;
use crate::pages::words::moment;
use crate::registry::RegistryError;
use crate::registry::cases::{self, Shown};
use crate::store::{PageRequest, QueryFilter, QueryRow, Store, StoreError};

#[get("/cases/{code}")]
pub(super) async fn case(
    permit: Permit<ReadCase>,
    visit: Visit,
    code: PathPart<CaseCode>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let answering = may::<AnswerQuery>(visit.signed()?).then(|| Answering::new(&frame, code.0));
    let page = page(permit, &visit, (code.0, answering), &store).await?;
    Ok(frame.show(&page))
}

/// The page of a case, with forms to answer its questions where the member may.
async fn page(
    permit: Permit<ReadCase>,
    visit: &Visit,
    (code, answering): (CaseCode, Option<Answering>),
    store: &Store,
) -> Result<Page, Problem> {
    let (shown, record, now) = store
        .read(permit, move |session| {
            let shown = cases::read(session, code)?;
            let now = session.now();
            let record = cases::record_of(&shown.row, now).ok();
            Ok::<_, RegistryError>((shown, record, now))
        })
        .await?;
    let caller = visit.signed()?;
    let queries = match caller.permit::<ListQueries>() {
        Ok(permit) => {
            store.read(permit, move |session| questions(session.list_queries(&about(code), all())?)).await?
        }
        Err(_) => Vec::new(),
    };
    let form = cases::form_of(&shown.row)?;
    let view = CaseView {
        shown,
        record,
        form,
        queries,
        answering,
        now,
        has_history: may::<ReadHistory>(caller),
        asks: may::<RaiseQuery>(caller),
        changes: may::<ChangeCase>(caller),
    };
    Ok(Page { title: format!("Case {code}"), word: Some(Word::Cases), content: view.render() })
}

fn about(code: CaseCode) -> QueryFilter {
    QueryFilter { code: Some(code), ..QueryFilter::default() }
}

fn all() -> PageRequest {
    PageRequest { after: None, limit: 200 }
}

fn questions(page: crate::store::Page<QueryRow>) -> Result<Vec<QueryRow>, StoreError> {
    Ok(page.rows)
}

/// How the fields of a case stand: filled, empty, or with a question that waits.
pub(super) fn strand_of(sections: &[SectionStand], queries: &[QueryRow]) -> Strand {
    let waits = |field: &FieldStand| {
        let id = id_of(field);
        queries.iter().any(|row| matches!(row.query.stage, Stage::Open { .. }) && is_about(row, &id))
    };
    let place = |field: &FieldStand| match (waits(field), field.filled) {
        (true, _) => Place::ToAnswer,
        (false, true) => Place::Filled,
        (false, false) => Place::Empty,
    };
    let stretch = |section: &SectionStand| Stretch {
        label: section.label.to_owned(),
        to: format!("#{}", section.key),
        places: section.fields.iter().map(place).collect(),
    };
    Strand(sections.iter().filter(|section| !section.fields.is_empty()).map(stretch).collect())
}

fn id_of(field: &FieldStand) -> FieldId {
    FieldId::of(&FieldPlace::new(field.part, field.variable.key).pointer())
}

fn is_about(row: &QueryRow, id: &FieldId) -> bool {
    About::of(row.query.field.as_deref()).is_some_and(|about| about.id() == *id)
}

struct CaseView {
    shown: Shown,
    /// Absent when the case was entered under a form that the present rules cannot read.
    record: Option<CaseRecord>,
    form: CaseForm,
    queries: Vec<QueryRow>,
    /// Absent for who may not answer.
    answering: Option<Answering>,
    now: Instant,
    has_history: bool,
    /// Whether who looks may ask.
    asks: bool,
    /// Whether the member may change it.
    changes: bool,
}

impl Render for CaseView {
    fn render(&self) -> Markup {
        let sections = sections(&self.form);
        let strand = strand_of(&sections, &self.queries);
        html! {
            (self.title())
            @if let Some(answering) = &self.answering { (answering.summary()) }
            (strand.overview(&html! {
                @match strand.count(Place::ToAnswer) {
                    0 => span.quiet { "nothing to answer" },
                    number => (Mark::ToAnswer.with(format!("{number} to answer"))),
                }
                @if let Some(derived) = &self.shown.derived { (meaning(derived)) }
            }))
            div.sheet.record {
                @for (ordinal, section) in sections.iter().enumerate() { (self.section(ordinal + 1, section)) }
            }
            (self.other_queries(&sections))
        }
    }
}

impl CaseView {
    fn title(&self) -> Markup {
        let row = &self.shown.row;
        let index = &row.content.index;
        let procedure = ProcedureType::from_code(&index.procedure).map_or("", Coded::label);
        html! {
            div.title {
                div {
                    h1 { "Case " (case_code(&row.code)) }
                    p.quiet {
                        (procedure) " · " (index.period) " · centre " (row.centre) " · "
                        @if let Some(strategy) = Strategy::from_code(&index.strategy_intended) { (arm(strategy)) " intended" }
                    }
                }
                div.quiet {
                    "Revision " (row.revision) ", " (moment(row.at))
                    @if self.has_history { " · " a href={ "/cases/" (row.code) "/history" } { "History" } }
                    @if self.asks { " · " a href={ "/cases/" (row.code) "/ask" } { "Ask about the case" } }
                    @if self.changes { " · " a href={ "/cases/" (row.code) "/change" } { "Change, or read a dose report" } }
                }
            }
        }
    }

    fn section(&self, ordinal: usize, section: &SectionStand) -> Markup {
        html! {
            section id=(section.key) {
                div.section-head {
                    span.ordinal { (ordinal) }
                    h2 { (section.label) }
                    span.aside { (self.state(section)) }
                }
                @match section.key {
                    "complications" => (self.complications(section)),
                    _ => { @if !section.fields.is_empty() { dl.facts { @for field in &section.fields { (self.field(field)) } } } },
                }
            }
        }
    }

    fn state(&self, section: &SectionStand) -> Markup {
        html! {
            @match (section.key, section.fields.len()) {
                ("complications", 0) => "none reported",
                ("exposure", 0) => (Mark::Locked.with("no X-ray used: every dose is 0")),
                ("follow_up", _) if self.form.follow_up.is_none() => "not recorded yet",
                (_, all) => { (section.filled()) " of " (all) },
            }
        }
    }

    fn field(&self, field: &FieldStand) -> Markup {
        let id = id_of(field);
        let value = self.form.part(field.part).and_then(|entries| entered(field.variable, entries));
        let asked: Vec<&QueryRow> = self.queries.iter().filter(|row| is_about(row, &id)).collect();
        let waits = asked.iter().any(|row| matches!(row.query.stage, Stage::Open { .. }));
        html! {
            div.asked[!asked.is_empty()].to-answer[waits] id=(id) {
                dt { (field.variable.label) }
                dd.empty[!field.filled] {
                    (value.as_deref().unwrap_or("empty"))
                    @if self.asks { (self.ask(field)) }
                }
                @if !asked.is_empty() { dd.questions { @for row in asked { (self.question(row)) } } }
            }
        }
    }

    /// Where a monitor asks about a field.
    fn ask(&self, field: &FieldStand) -> Markup {
        let pointer = FieldPlace::new(field.part, field.variable.key).pointer();
        let query = serde_urlencoded::to_string([("field", pointer)]).unwrap_or_default();
        html! {
            a.ask href={ "/cases/" (self.shown.row.code) "/ask?" (query) } {
                "Ask" span.unseen { " about " (field.variable.label) }
            }
        }
    }

    fn question(&self, row: &QueryRow) -> Markup {
        html! {
            (query_thread(&row.query, self.now))
            @if self.asks { p.small.judge { a href={ "/queries/" (row.query.id) } { "Judge this question" } } }
            @if let Some(answering) = &self.answering { (answering.form(&row.query)) }
        }
    }

    fn complications(&self, section: &SectionStand) -> Markup {
        let events = self.record.as_ref().map_or(&[][..], |record| record.complications());
        let tier = |at: usize| self.shown.derived.as_ref()?.harm_tiers.get(at)?.used();
        html! {
            @if !events.is_empty() {
                div.cards { @for (at, event) in events.iter().enumerate() { (complication_card(event, tier(at))) } }
            }
            @if !section.fields.is_empty() {
                dl.facts { @for field in &section.fields { (self.field(field)) } }
            }
        }
    }

    /// Questions about the case as a whole, or about a field that no longer applies.
    fn other_queries(&self, sections: &[SectionStand]) -> Markup {
        let fields: Vec<FieldId> = sections.iter().flat_map(|section| &section.fields).map(id_of).collect();
        let other: Vec<&QueryRow> =
            self.queries.iter().filter(|row| !fields.iter().any(|id| is_about(row, id))).collect();
        html! {
            @if !other.is_empty() {
                section id="queries" {
                    h2 { "Other questions" }
                    @for row in other { (self.question(row)) }
                }
            }
        }
    }
}

/// What the rules derive, in a few words.
fn meaning(derived: &Derived) -> Markup {
    let yes = |value: Option<bool>| match value {
        Some(true) => "yes",
        Some(false) => "no",
        None => "not known",
    };
    html! {
        span { "Acute success: " b { (derived.acute_success.used().map_or("not known", Coded::label)) } }
        span { "Major harm within 30 days: " b { (yes(derived.major_within_30_days)) } }
        @if derived.crossed_over { span { b { "X-ray was used after all" } "; the case stays in its arm" } }
    }
}
