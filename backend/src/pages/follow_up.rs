//! The 30-day contacts: a row a case, as many as were made in one sitting. What is refused
//! comes back as it was typed; what was in order is kept. The later contacts stand below, each
//! with the way to its field.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::contact::{Contact, USUAL_DAYS};
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::vocabulary::{Coded, ProcedureType, Strategy};
use serde::Deserialize;
use std::collections::BTreeMap;

use super::components::{
    Cell, Choice, Column, FieldId, FormFoot, Joined, Mark, Pick, Table, Word, arm, case_code, error_summary,
};
use super::desk::{contact_mark, follow_up_of, late_rows};
use super::form::{Posted, unreadable};
use super::frame::{Frame, Page, Visit, see_other};
use super::trouble::{Trouble, Troubles};
use super::words::{capital, code_groups, counted};
use crate::access::Permit;
use crate::access::action::{ReadCase, RecordFollowUp};
use crate::api::Problem;
use crate::api::brought::Query;
use crate::registry::contacts::{self, Contacts, Learnt};
use crate::registry::late_contacts::{self, LateDue};
use crate::registry::{IfMatch, RegistryError, Version, cases};
use crate::store::{Awaiting, Conflict, Store, StoreError};

/// Rows of one sitting; what a form of this page may weigh holds them with room to spare.
const SHOWN: usize = 100;

const ASKED: &str = "asked";
const CHART: &str = "chart";
const LOST: &str = "lost";
const LATER: &str = "later";

/// What was saved a moment ago.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Before {
    saved: u32,
}

#[get("/follow-up")]
pub(super) async fn follow_up(
    _permit: Permit<RecordFollowUp>,
    visit: Visit,
    before: Query<Before>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    let (contacts, late) = due(&visit, &store).await?;
    let sitting = Sitting { saved: before.0.saved as usize, ..Sitting::default() };
    Ok(frame.show(&page(&frame, (&contacts, &late), &sitting)))
}

#[post("/follow-up")]
pub(super) async fn send(
    _permit: Permit<RecordFollowUp>,
    visit: Visit,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let rows = typed(&posted)?;
    all_within_reach(&visit, &store, rows.keys().copied().collect()).await?;
    let mut sitting = Sitting::default();
    for (code, row) in rows {
        let learnt = match row.learnt() {
            Ok(None) => continue,
            Ok(Some(learnt)) => learnt,
            Err(sentence) => {
                sitting.refuse(code, row, vec![(Asks::How, sentence.to_owned())]);
                continue;
            }
        };
        let read = row.read.clone();
        let permit = visit.signed()?.permit::<RecordFollowUp>()?;
        let work = store.write(permit, move |session| contacts::record(session, code, &read, &learnt));
        match work.await {
            Ok(_) => sitting.saved += 1,
            Err(error) => match refused(error)? {
                Refused::Meanwhile => sitting.meanwhile.push(code),
                Refused::Mend(sentences) => sitting.refuse(code, row, sentences),
            },
        }
    }
    if sitting.troubles.is_empty() && sitting.meanwhile.is_empty() {
        return Ok(see_other(&format!("/follow-up?saved={}", sitting.saved)));
    }
    let frame = visit.frame(&store).await?;
    let (contacts, late) = due(&visit, &store).await?;
    Ok(frame.refuse(&page(&frame, (&contacts, &late), &sitting)))
}

async fn due(visit: &Visit, store: &Store) -> Result<(Contacts, Vec<LateDue>), Problem> {
    let permit = visit.signed()?.permit::<ReadCase>()?;
    let both = store
        .read(permit, |session| Ok::<_, StoreError>((contacts::due(session)?, late_contacts::due(session)?)));
    Ok(both.await?)
}

/// Another centre's case is absent, before anything of the sitting is kept.
async fn all_within_reach(visit: &Visit, store: &Store, codes: Vec<CaseCode>) -> Result<(), Problem> {
    let permit = visit.signed()?.permit::<ReadCase>()?;
    let look = store.read(permit, move |session| {
        codes.into_iter().try_for_each(|code| cases::read(session, code).map(|_| ()))
    });
    Ok(look.await?)
}

/// A row as it was sent.
struct Typed {
    read: IfMatch,
    how: String,
    day: String,
}

impl Typed {
    /// Nothing where the row was left for another day.
    fn learnt(&self) -> Result<Option<Learnt>, &'static str> {
        let day = self.day.trim().to_owned();
        match (self.how.as_str(), day.is_empty()) {
            (ASKED, _) => Ok(Some(Learnt::Asked { day })),
            (CHART, _) => Ok(Some(Learnt::ChartRead { day })),
            (LOST, true) => Ok(Some(Learnt::Lost)),
            (LOST, false) => Err("Lost, and yet there is a day; clear the day, or say how it was learnt."),
            (_, true) => Ok(None),
            (_, false) => Err("There is a day; say how it was learnt, or clear the day."),
        }
    }
}

/// The rows that were sent, by their cases.
fn typed(posted: &Posted) -> Result<BTreeMap<CaseCode, Typed>, Problem> {
    let mut rows = BTreeMap::new();
    for (name, revision) in posted.fields() {
        let Some(code) = name.strip_prefix("read-") else { continue };
        let code: CaseCode = code.parse().map_err(|_| unreadable())?;
        let read = IfMatch::parse(revision).ok_or_else(unreadable)?;
        let one = |field: &str| posted.one(&format!("{field}-{code}")).to_owned();
        rows.insert(code, Typed { read, how: one("how"), day: one("day") });
    }
    Ok(rows)
}

/// The two controls of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Asks {
    How,
    Day,
}

impl Asks {
    fn id(self, code: CaseCode) -> FieldId {
        FieldId::of(&match self {
            Self::How => format!("how-{code}"),
            Self::Day => format!("day-{code}"),
        })
    }
}

/// Why a row was not kept.
enum Refused {
    Meanwhile,
    Mend(Vec<(Asks, String)>),
}

fn refused(error: RegistryError) -> Result<Refused, Problem> {
    match error {
        RegistryError::Stale(_)
        | RegistryError::Store(StoreError::Conflict(Conflict::StaleRevision { .. } | Conflict::Race)) => {
            Ok(Refused::Meanwhile)
        }
        other => {
            let day = FieldId::of("/follow_up/fu30_day");
            let asks = |trouble: &Trouble| if trouble.field == day { Asks::Day } else { Asks::How };
            let troubles = Troubles::of(other)?;
            Ok(Refused::Mend(troubles.iter().map(|one| (asks(one), one.sentence.clone())).collect()))
        }
    }
}

/// What became of a sitting.
#[derive(Default)]
struct Sitting {
    saved: usize,
    typed: BTreeMap<CaseCode, Typed>,
    troubles: Vec<(CaseCode, Asks, String)>,
    meanwhile: Vec<CaseCode>,
}

impl Sitting {
    fn refuse(&mut self, code: CaseCode, row: Typed, sentences: Vec<(Asks, String)>) {
        self.troubles.extend(sentences.into_iter().map(|(asks, sentence)| (code, asks, sentence)));
        self.typed.insert(code, row);
    }

    fn said(&self, code: CaseCode, asks: Asks) -> Option<&str> {
        let of = |(case, at, _): &&(CaseCode, Asks, String)| *case == code && *at == asks;
        self.troubles.iter().find(of).map(|(_, _, sentence)| sentence.as_str())
    }

    fn summary(&self) -> Markup {
        let row = |(code, asks, sentence): &(CaseCode, Asks, String)| Trouble {
            field: asks.id(*code),
            sentence: format!("{}: {sentence}", code_groups(code).join("\u{a0}")),
        };
        html! {
            @if let Some(troubles) = Troubles::of_rows(self.troubles.iter().map(row).collect()) {
                (error_summary(&troubles, "the rest of this sitting is kept"))
            }
            @for code in &self.meanwhile {
                p.meanwhile role="status" {
                    (case_code(code)) ": somebody else changed this case after you opened the page. "
                    "What stands there now was not overwritten. "
                    a href=(follow_up_of(code)) { "See what stands there" }
                }
            }
            @if self.saved > 0 {
                p role="status" {
                    (Mark::Saved.with(format!("{} saved", capital(&counted(self.saved, "case", "cases")))))
                }
            }
        }
    }
}

fn page(frame: &Frame, (contacts, late): (&Contacts, &[LateDue]), sitting: &Sitting) -> Page {
    let all = contacts.due.len();
    let title = match (all, contacts.overdue()) {
        (0, _) => "No 30-day contact waits".to_owned(),
        (all, 0) => capital(&counted(all, "30-day contact is due", "30-day contacts are due")),
        (all, late) => {
            let due = counted(all, "30-day contact is due", "30-day contacts are due");
            capital(&format!("{due}, {} overdue", quietbeam_analysis::study::numerals::in_words(late)))
        }
    };
    let content = html! {
        div.title {
            div {
                h1 { (title) }
                p.quiet {
                    "Usually made from day " (USUAL_DAYS.0) " to day " (USUAL_DAYS.1) "."
                    @if all > 0 { " A row left open waits for another day." }
                }
            }
        }
        (sitting.summary())
        @if all > 0 { (form(frame, contacts, sitting)) } @else if let Some(days) = contacts.next_opens_in {
            p { "The next one opens " @if days == 1 { "tomorrow" } @else { "in " (days) " days" } "." }
        }
        div.late id="late" { (late_rows(late, SHOWN, None)) }
    };
    Page { title: "Follow-up".to_owned(), word: Some(Word::FollowUp), content }
}

fn form(frame: &Frame, contacts: &Contacts, sitting: &Sitting) -> Markup {
    let table = Table {
        caption: "The longest waiting first".to_owned(),
        columns: ["Case", "Procedure", "Stands at", "What was learnt", "On day", "An event, or death"]
            .map(Column::words),
        rows: contacts.due.iter().take(SHOWN).map(|(case, contact)| row(case, *contact, sitting)).collect(),
    };
    let further = contacts.due.len().saturating_sub(SHOWN);
    html! {
        form.sitting method="post" action="/follow-up" {
            (frame.token())
            (table)
            @if further > 0 { p.quiet { "Further " (further) " follow once these are sent." } }
            (FormFoot {
                next: None,
                send: "Save what is filled in",
                does: None,
                further: Markup::default(),
                aside: html! { "\u{201c}No event\u{201d} can be said only where somebody was asked or the chart was read." },
            })
        }
    }
}

fn row(case: &Awaiting, contact: Contact, sitting: &Sitting) -> [Cell; 6] {
    let procedure = ProcedureType::from_code(&case.procedure).map_or("", Coded::label);
    let stands = match contact {
        Contact::Overdue { day } => html! { b.hard { "day " (day) " at least, overdue" } },
        Contact::Due { day } => html! { "day " (day) " of " (USUAL_DAYS.1) " at least" },
        Contact::Early { opens_in } => html! { "opens in " (opens_in) " days" },
    };
    [
        Cell::shown(html! { a href={ "/cases/" (case.code) } { (case_code(&case.code)) } }),
        Cell::shown(html! {
            span.of-case { (procedure) }
            @if let Some(strategy) = Strategy::from_code(&case.strategy_intended) { (arm(strategy)) }
        }),
        Cell::shown(html! { span.marked { (contact_mark(contact).shape()) span { (stands) } } }),
        Cell::shown(how(case, sitting)),
        Cell::shown(day(case, sitting)),
        Cell::shown(html! {
            a href=(follow_up_of(&case.code)) { "Open the case" span.unseen { " " (case.code) } }
        }),
    ]
}

fn how(case: &Awaiting, sitting: &Sitting) -> Markup {
    let id = Asks::How.id(case.code);
    let said = sitting.said(case.code, Asks::How);
    let message = format!("{}-message", id.as_str());
    let joined = Joined {
        id: &id,
        label: "What was learnt",
        described_by: said.map(|_| message.as_str()),
        invalid: said.is_some(),
    };
    let name = format!("how-{}", case.code);
    let pick = Pick::plain;
    let choice = Choice {
        name: &name,
        picks: vec![
            pick(ASKED, "No event: asked"),
            pick(CHART, "No event: chart read"),
            pick(LOST, "Lost"),
            pick(LATER, "Not yet"),
        ],
        chosen: sitting.typed.get(&case.code).map(|row| row.how.as_str()),
    };
    html! {
        input type="hidden" name={ "read-" (case.code) } value=(Version::of_revision(case.revision).etag());
        span.unseen id=(joined.label_id()) { "What was learnt about " (case.code) }
        (choice.draw(&joined))
        (must_be_mended(&message, said))
    }
}

fn day(case: &Awaiting, sitting: &Sitting) -> Markup {
    let id = Asks::Day.id(case.code);
    let said = sitting.said(case.code, Asks::Day);
    let message = format!("{}-message", id.as_str());
    html! {
        label { span.on-day { "on day" span.unseen { " for " (case.code) } }
            input.input.number.short id=(id) name={ "day-" (case.code) } inputmode="numeric" autocomplete="off"
                value=[sitting.typed.get(&case.code).map(|row| &row.day)]
                aria-invalid=[said.map(|_| "true")] aria-describedby=[said.map(|_| &message)];
        }
        (must_be_mended(&message, said))
    }
}

fn must_be_mended(id: &str, said: Option<&str>) -> Markup {
    html! {
        @if let Some(sentence) = said { p.message.hard id=(id) { b { "Must be mended." } " " (sentence) } }
    }
}
