//! The centre's desk: what needs doing today, in order, each leading to the very field. The
//! other roles begin with what they can do.

mod approval_rows;
mod draft_rows;
mod first;
mod late_rows;

use actix_web::{HttpResponse, get, web};
use maud::{Markup, Render, html};
use quietbeam_schema::centre_approval::Day;
use quietbeam_schema::contact::{Contact, USUAL_DAYS};
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::instant::Instant;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{Coded, FluoroUsed, ProcedureType, Strategy};
use std::collections::BTreeMap;

use self::approval_rows::{approval_rows, approvals_in_margin, is_blocking, worrying};
use self::draft_rows::draft_rows;
pub(super) use self::late_rows::late_rows;
use crate::access::Permit;
use crate::access::action::{
    KeepOwnAccount, ListQueries, ReadCase, ReadCentres, ReadScreeningLog, SubmitCase,
};
use crate::access::session::Caller;
use crate::api::Problem;
use crate::clock::Clock;
use crate::pages::about::About;
use crate::pages::assets::script;
use crate::pages::components::{Age, Link, Mark, Word, WorkGroup, WorkRow, arm, case_code};
use crate::pages::figures::DenominatorBar;
use crate::pages::frame::{Page, Visit};
use crate::pages::starting::starting;
use crate::pages::words::{age, capital, counted};
use crate::registry::approvals::{self, CentreStanding};
use crate::registry::contacts::{self, Contacts};
use crate::registry::drafts::{self, Draft};
use crate::registry::late_contacts::{self, LateDue};
use crate::registry::queries;
use crate::store::{Awaiting, QueryRow, ScreeningRow, Store, StoreError, StrategyCount};

/// Rows of one kind that the desk shows; the rest is a link away.
const SHOWN: usize = 8;

/// The desk, or the starting page of a role without one.
#[get("/desk")]
pub(super) async fn desk(
    _permit: Permit<KeepOwnAccount>,
    visit: Visit,
    store: web::Data<Store>,
    clock: web::Data<Clock>,
) -> Result<HttpResponse, Problem> {
    let frame = visit.frame(&store).await?;
    if !frame.role().belongs_to_centres() {
        return Ok(frame.show(&starting(frame.role())));
    }
    let caller = visit.signed()?;
    let waits = Waits::read(caller, &store, clock.now()).await?;
    Ok(frame.show(&Page { title: "Desk".to_owned(), word: Some(Word::Desk), content: waits.render() }))
}

/// What waits at a centre.
struct Waits {
    now: Instant,
    contacts: Contacts,
    late: Vec<LateDue>,
    queries: Vec<QueryRow>,
    open_queries: usize,
    log: Vec<ScreeningRow>,
    strategies: Vec<StrategyCount>,
    drafts: Vec<Draft>,
    approvals: Vec<CentreStanding>,
}

impl Waits {
    async fn read(caller: &Caller, store: &Store, now: Instant) -> Result<Self, Problem> {
        let (contacts, late, strategies) = store
            .read(caller.permit::<ReadCase>()?, |session| {
                let late = late_contacts::due(session)?;
                Ok::<_, StoreError>((contacts::due(session)?, late, session.strategy_counts()?))
            })
            .await?;
        let (queries, open_queries) = store
            .read(caller.permit::<ListQueries>()?, |session| {
                let oldest = queries::longest_waiting(session, SHOWN as u8)?;
                Ok::<_, StoreError>((oldest, queries::count_open(session)?))
            })
            .await?;
        let permit = caller.permit::<ReadScreeningLog>()?;
        let log = store.read(permit, |session| session.list_screening()).await?;
        let drafts = store.read(caller.permit::<SubmitCase>()?, drafts::list).await?;
        let approvals = store.read(caller.permit::<ReadCentres>()?, approvals::standings).await?;
        Ok(Self { now, contacts, late, queries, open_queries, log, strategies, drafts, approvals })
    }

    /// Quarters that are over with lines that nobody has signed.
    fn unsigned(&self) -> BTreeMap<Quarter, (usize, DenominatorBar)> {
        let mut quarters: BTreeMap<Quarter, (usize, DenominatorBar)> = BTreeMap::new();
        for row in self.log.iter().filter(|row| row.line.period < self.now.quarter()) {
            let (unsigned, bar) = quarters.entry(row.line.period).or_default();
            bar.add(&row.counts);
            *unsigned += usize::from(row.signed_by.is_none());
        }
        quarters.retain(|_, (unsigned, _)| *unsigned > 0);
        quarters
    }

    fn today(&self) -> Day {
        Day::of(self.now)
    }

    fn title(&self) -> String {
        let contacts = self.contacts.due.len() + self.late.len();
        let approvals = worrying(&self.approvals, self.today()).len();
        let all = contacts + self.open_queries + self.drafts.len() + self.unsigned().len() + approvals;
        let ended = self.approvals.iter().filter(|of| is_blocking(of.standing)).count();
        let title = match (all, self.contacts.overdue() + ended) {
            (0, _) => "Nothing waits".to_owned(),
            (all, 0) => counted(all, "thing waits", "things wait"),
            (all, urgent) => {
                format!(
                    "{}, {}",
                    counted(all, "thing waits", "things wait"),
                    counted(urgent, "is urgent", "are urgent")
                )
            }
        };
        capital(&title)
    }

    fn contact_rows(&self) -> WorkGroup {
        let (all, overdue) = (self.contacts.due.len(), self.contacts.overdue());
        let late = if overdue > 0 { format!(", {overdue} overdue") } else { String::new() };
        WorkGroup {
            title: "30-day contacts",
            count: format!("{all} due{late}"),
            all: Some(Link::new("/follow-up", "Enter several at once")),
            rows: self
                .contacts
                .due
                .iter()
                .take(SHOWN)
                .map(|(case, contact)| contact_row(case, *contact))
                .collect(),
        }
    }

    fn query_rows(&self) -> WorkGroup {
        let row = |row: &QueryRow| WorkRow {
            mark: Mark::ToAnswer,
            about: case_code(&row.query.code),
            sentence: row.query.sentence.render(),
            age: Age::Usual(age(row.query.raised_at, self.now)),
            verb: Link::new(field_of(row), "Answer"),
            verb_about: row.query.code.to_string(),
        };
        WorkGroup {
            title: "Data queries",
            count: format!("{} open", self.open_queries),
            all: Some(Link::new("/queries", "See all that wait")),
            rows: self.queries.iter().map(row).collect(),
        }
    }

    fn signature_rows(&self) -> WorkGroup {
        let unsigned = self.unsigned();
        let row = |(quarter, (lines, bar)): (&Quarter, &(usize, DenominatorBar))| WorkRow {
            mark: Mark::ToSign,
            about: html! { (quarter) },
            sentence: html! { "Screening log: " (bar.sentence()) },
            age: Age::Usual(format!("{lines} unsigned")),
            verb: Link::new(format!("/screening-log#{quarter}"), "Show"),
            verb_about: quarter.to_string(),
        };
        WorkGroup {
            title: "To sign",
            count: format!("{}, by the centre lead", unsigned.len()),
            all: None,
            rows: unsigned.iter().map(row).collect(),
        }
    }

    fn margin(&self) -> Markup {
        let latest = self.log.iter().map(|row| row.line.period).max();
        html! {
            @if let Some(quarter) = latest {
                @let bar = self.bar_of(quarter);
                section {
                    h2 { "Quarter " (quarter.quarter()) " of " (quarter.year()) }
                    (bar)
                    @match bar.missing() {
                        0 => p.quiet { "Every eligible case was sent in." },
                        missing => p.strong { (capital(&counted(missing as usize, "eligible case is", "eligible cases are"))) " still missing." },
                    }
                }
            } @else {
                section {
                    h2 { "Screening log" }
                    p.quiet { "Nothing is entered yet. Without it nobody can tell whether every case was sent in." }
                }
            }
        }
    }

    /// Strategies of the newest quarter with a case; the arms are not compared here.
    fn without_x_ray(&self) -> Markup {
        let Some(newest) = self.strategies.iter().map(|count| count.period.as_str()).max() else {
            return html! {};
        };
        let sum = |test: &dyn Fn(&StrategyCount) -> bool| -> u32 {
            let of_quarter = self.strategies.iter().filter(|count| count.period == newest);
            of_quarter.filter(|count| test(count)).map(|count| count.cases).sum()
        };
        let zero =
            |count: &StrategyCount| Strategy::from_code(&count.strategy_intended) == Some(Strategy::Zero);
        let beam = |count: &StrategyCount| {
            FluoroUsed::from_code(&count.fluoro_used).is_some_and(FluoroUsed::beam_on)
        };
        let (all, intended) = (sum(&|_| true), sum(&zero));
        let crossed = sum(&|count| zero(count) && beam(count));
        html! {
            section {
                h2 { "Without X-ray, " (newest) }
                dl {
                    dt { (arm(Strategy::Zero)) " intended" } dd { (intended) " of " (all) }
                    dt { "X-ray used after all" } dd { (crossed) " of " (intended) }
                }
                p.small { "Your own cases of that quarter. No comparison is drawn here." }
            }
        }
    }

    fn bar_of(&self, quarter: Quarter) -> DenominatorBar {
        let mut bar = DenominatorBar::default();
        self.log.iter().filter(|row| row.line.period == quarter).for_each(|row| bar.add(&row.counts));
        bar
    }
}

impl Render for Waits {
    fn render(&self) -> Markup {
        html! {
            (script("desk.js"))
            div.title { h1 { (self.title()) } a.button href="/cases/new" data-key="N" { "Enter a case" } }
            div.sides {
                div {
                    (self.start_here())
                    (self.contact_rows())
                    (late_rows(&self.late, SHOWN, Some(Link::new("/follow-up#late", "See all"))))
                    (self.query_rows())
                    (draft_rows(&self.drafts, SHOWN, self.now))
                    (self.signature_rows())
                    (approval_rows(&self.approvals, self.today()))
                }
                aside.margin {
                    (self.margin())
                    (self.without_x_ray())
                    (approvals_in_margin(&self.approvals, self.today()))
                }
            }
        }
    }
}

pub(super) fn contact_mark(contact: Contact) -> Mark {
    let day = match contact {
        Contact::Early { .. } => 0,
        Contact::Due { day } | Contact::Overdue { day } => day,
    };
    Mark::Window { day, last: USUAL_DAYS.1 }
}

fn contact_row(case: &Awaiting, contact: Contact) -> WorkRow {
    let age = match contact {
        Contact::Early { opens_in } => Age::Usual(format!("opens in {opens_in} days")),
        Contact::Due { day } => Age::Usual(format!("day {day} of {} at least", USUAL_DAYS.1)),
        Contact::Overdue { day } => Age::Overdue(format!("day {day} at least, overdue")),
    };
    let procedure = ProcedureType::from_code(&case.procedure).map_or("", Coded::label);
    WorkRow {
        mark: contact_mark(contact),
        about: case_code(&case.code),
        sentence: html! {
            span { (procedure) }
            @if let Some(strategy) = Strategy::from_code(&case.strategy_intended) { (arm(strategy)) }
        },
        age,
        verb: Link::new(follow_up_of(&case.code), "Show"),
        verb_about: case.code.to_string(),
    }
}

/// The follow-up on the case's page.
pub(super) fn follow_up_of(code: &CaseCode) -> String {
    format!("/cases/{code}#follow_up")
}

/// The field that a question is about, on the case's page.
pub(super) fn field_of(row: &QueryRow) -> String {
    let about = About::of(row.query.field.as_deref());
    let anchor = about.map_or_else(|| "queries".to_owned(), |about| about.id().as_str().to_owned());
    format!("/cases/{}#{anchor}", row.query.code)
}
