//! The approvals of a centre: whoever belongs to it sees how it stands, an administrator
//! records, renews and withdraws.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::centre_approval::{Approval, Day, DayError, Standing, Terms};
use quietbeam_schema::ids::{ApprovalId, CentreCode};
use quietbeam_schema::vocabulary::{ApprovalKind, Coded};
use serde::Deserialize;

use super::picks;
use crate::access::Permit;
use crate::access::action::{ManageCentres, ReadCentres};
use crate::api::Problem;
use crate::api::brought::{Part, Query};
use crate::clock::Clock;
use crate::pages::components::{
    Cell, Choice, Column, Control, FieldId, FieldRow, Mark, Pick, Picker, Table, Text, Word, error_summary,
};
use crate::pages::form::Posted;
use crate::pages::frame::{Frame, Page, Visit, may, see_other};
use crate::pages::trouble::{Trouble, Troubles};
use crate::pages::words::{capital, moment};
use crate::registry::approvals;
use crate::store::Store;

/// What is asked for in the address.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(in crate::pages) struct Asked {
    done: String,
    /// The approval to be renewed.
    renew: Option<ApprovalId>,
}

#[get("/centres/{centre}/approvals")]
pub(in crate::pages) async fn look(
    permit: Permit<ReadCentres>,
    visit: Visit,
    centre: Part<CentreCode>,
    asked: Query<Asked>,
    (store, clock): (web::Data<Store>, web::Data<Clock>),
) -> Result<HttpResponse, Problem> {
    let all = read(permit, centre.0, &store).await?;
    let frame = visit.frame(&store).await?;
    let renewed = asked.0.renew.and_then(|id| all.iter().find(|approval| approval.id == id));
    let typed = renewed.map(Typed::renewing).unwrap_or_default();
    let view = View {
        frame: &frame,
        centre: centre.0,
        all: &all,
        today: Day::of(clock.now()),
        manages: may::<ManageCentres>(visit.signed()?),
        done: &asked.0.done,
        typed,
        troubles: None,
    };
    Ok(frame.show(&view.page()))
}

#[post("/centres/{centre}/approvals")]
pub(in crate::pages) async fn send(
    permit: Permit<ManageCentres>,
    visit: Visit,
    centre: Part<CentreCode>,
    posted: Posted,
    (store, clock): (web::Data<Store>, web::Data<Clock>),
) -> Result<HttpResponse, Problem> {
    let centre = centre.0;
    let typed = Typed::of(&posted);
    let troubles = match if typed.withdraws {
        withdraw(permit, centre, &typed, &store).await?
    } else {
        record(permit, centre, &typed, &store).await?
    } {
        Ok(done) => return Ok(see_other(&format!("/centres/{centre}/approvals?done={done}"))),
        Err(troubles) => troubles,
    };
    let all = read(visit.signed()?.permit()?, centre, &store).await?;
    let frame = visit.frame(&store).await?;
    let (today, troubles) = (Day::of(clock.now()), Some(troubles));
    let view = View { frame: &frame, centre, all: &all, today, manages: true, done: "", typed, troubles };
    Ok(frame.refuse(&view.page()))
}

async fn read(
    permit: Permit<ReadCentres>,
    centre: CentreCode,
    store: &Store,
) -> Result<Vec<Approval>, Problem> {
    let all = store.read(permit, move |session| {
        session.find_centre(centre)?;
        session.list_approvals(centre)
    });
    Ok(all.await?)
}

/// What was done, or what must be mended first.
type Done = Result<&'static str, Troubles>;

async fn record(
    permit: Permit<ManageCentres>,
    centre: CentreCode,
    typed: &Typed,
    store: &Store,
) -> Result<Done, Problem> {
    let terms = match typed.terms() {
        Ok(terms) => terms,
        Err(troubles) => {
            // Whoever asks for a centre that is not there learns that first.
            store.read(permit, move |session| session.find_centre(centre)).await?;
            return Ok(Err(troubles));
        }
    };
    let renews = typed.renews.parse().ok();
    let kept = store.write(permit, move |session| approvals::record(session, centre, terms, renews)).await;
    Ok(match kept {
        Ok(_) => Ok("recorded"),
        Err(error) => Err(Troubles::of(error)?),
    })
}

async fn withdraw(
    permit: Permit<ManageCentres>,
    centre: CentreCode,
    typed: &Typed,
    store: &Store,
) -> Result<Done, Problem> {
    if typed.approval.is_empty() {
        // Whoever asks for a centre that is not there learns that first.
        store.read(permit, move |session| session.find_centre(centre)).await?;
        return Ok(Err(Troubles::with("approval", "Choose which one.")));
    }
    let id = typed.approval.parse::<ApprovalId>().map_err(|_| Problem::absent())?;
    let reason = typed.reason.clone();
    let kept = store.write(permit, move |session| approvals::withdraw(session, (centre, id), &reason)).await;
    Ok(match kept {
        Ok(_) => Ok("withdrawn"),
        Err(error) => Err(Troubles::of(error)?),
    })
}

/// What was typed into either form.
#[derive(Default)]
struct Typed {
    kind: String,
    reference: String,
    valid_from: String,
    valid_until: String,
    renews: String,
    withdraws: bool,
    approval: String,
    reason: String,
}

impl Typed {
    fn of(posted: &Posted) -> Self {
        let one = |name: &str| posted.one(name).trim().to_owned();
        Self {
            kind: one("kind"),
            reference: one("reference"),
            valid_from: one("valid_from"),
            valid_until: one("valid_until"),
            renews: one("renews"),
            withdraws: one("do") == "withdraw",
            approval: one("approval"),
            reason: one("reason"),
        }
    }

    /// A renewal begins the day after.
    fn renewing(old: &Approval) -> Self {
        Self {
            kind: old.terms.kind.code().to_owned(),
            reference: old.terms.reference.clone(),
            valid_from: old.terms.valid_until.plus(1).to_string(),
            renews: old.id.to_string(),
            ..Self::default()
        }
    }

    fn terms(&self) -> Result<Terms, Troubles> {
        let mut troubles = Vec::new();
        let mut trouble = |field: &str, sentence: String| {
            troubles.push(Trouble { field: FieldId::of(field), sentence });
        };
        let kind = ApprovalKind::from_code(&self.kind);
        if kind.is_none() {
            trouble("kind", "Choose the kind.".to_owned());
        }
        let mut day = |field: &str, text: &str| {
            let said = |error: DayError| trouble(field, format!("{}.", capital(&error.to_string())));
            text.parse::<Day>().map_err(said).ok()
        };
        let (from, until) = (day("valid_from", &self.valid_from), day("valid_until", &self.valid_until));
        match (kind, from, until, Troubles::of_rows(troubles)) {
            (Some(kind), Some(valid_from), Some(valid_until), None) => {
                Ok(Terms { kind, reference: self.reference.clone(), valid_from, valid_until })
            }
            (_, _, _, troubles) => Err(troubles.unwrap_or_else(|| Troubles::with("kind", "Type it again."))),
        }
    }
}

/// How a kind of approval stands, in a sentence.
pub(in crate::pages) fn stands(kind: ApprovalKind, standing: Standing, today: Day) -> String {
    let days = |number: i64| if number == 1 { "1 day".to_owned() } else { format!("{number} days") };
    let label = kind.label();
    match (standing, standing.runs_out_in(today)) {
        (Standing::NeverRecorded, _) => format!("{label}: none recorded"),
        (Standing::Begins { on }, _) => format!("{label} begins on {on}"),
        (Standing::Withdrawn, _) => format!("{label} was withdrawn"),
        (Standing::Holds { .. }, Some(0)) => format!("{label} ends today"),
        (Standing::Holds { .. }, Some(left)) => format!("{label} ends in {}", days(left)),
        (Standing::Holds { until }, None) => format!("{label} holds until {until}"),
        (Standing::Ended { on }, _) => format!("{label} ended {} ago", days(today.since(on))),
    }
}

/// The same, heavier where it runs out or stands in the way.
pub(in crate::pages) fn stands_shown(kind: ApprovalKind, standing: Standing, today: Day) -> Markup {
    let weight = match standing {
        Standing::NeverRecorded => None,
        Standing::Holds { .. } => standing.runs_out_in(today).map(|_| "runs-out"),
        Standing::Begins { .. } | Standing::Withdrawn | Standing::Ended { .. } => Some("in-the-way"),
    };
    html! { span class=[weight] { (stands(kind, standing, today)) } }
}

struct View<'f> {
    frame: &'f Frame,
    centre: CentreCode,
    all: &'f [Approval],
    today: Day,
    manages: bool,
    done: &'f str,
    typed: Typed,
    troubles: Option<Troubles>,
}

impl View<'_> {
    fn page(&self) -> Page {
        let refused = if self.troubles.is_some() { "Must be mended: a" } else { "A" };
        Page {
            title: format!("{refused}pprovals of {}", self.centre),
            word: self.manages.then_some(Word::Centres),
            content: self.draw(),
        }
    }

    fn draw(&self) -> Markup {
        let before = if self.typed.withdraws { "it can be withdrawn" } else { "the approval can be kept" };
        html! {
            div.title {
                div {
                    h1 { "Approvals of " (self.centre) }
                    p.quiet {
                        "Once one of a kind is recorded, cases are taken only while it holds, and only of "
                        "quarters that it covers whole."
                    }
                }
                @if self.manages { a href={ "/centres/" (self.centre) } { "Centre " (self.centre) } }
                @else { a href="/desk" { "Back to the desk" } }
            }
            @if self.done == "recorded" { p role="status" { (Mark::Saved.with("Recorded")) } }
            @if self.done == "withdrawn" { p role="status" { (Mark::Saved.with("Withdrawn")) } }
            @if let Some(troubles) = &self.troubles { (error_summary(troubles, before)) }
            ul.plain.stands {
                @for kind in ApprovalKind::all() {
                    li { (stands_shown(*kind, Standing::of(self.all, *kind, self.today), self.today)) }
                }
            }
            @if self.all.is_empty() { p { "None is recorded yet, so nothing hangs on one." } }
            @else { (self.table()) }
            @if self.manages { (self.recording()) (self.withdrawing()) }
            @else { p.small { "An administrator records approvals, renews and withdraws them." } }
        }
    }

    fn table(&self) -> Table<5> {
        let row = |approval: &Approval| {
            let terms = &approval.terms;
            let renew = format!("/centres/{}/approvals?renew={}#record", self.centre, approval.id);
            let says = match &approval.withdrawn {
                Some(withdrawn) => html! { "withdrawn " (moment(withdrawn.at)) ": " (withdrawn.reason) },
                None => html! {
                    @if terms.valid_from > self.today { "begins later" }
                    @else if terms.valid_until < self.today { "has ended" }
                    @else { "in force" }
                    @if self.manages {
                        " · "
                        a href=(renew) { "Renew" span.unseen { " " (terms.kind.label()) ", " (terms.reference) } }
                    }
                },
            };
            let day = |day: Day| Cell::shown(html! { span.one-line { (day) } });
            [
                Cell::text(terms.kind.label()),
                Cell::text(&terms.reference),
                day(terms.valid_from),
                day(terms.valid_until),
                Cell::shown(says),
            ]
        };
        Table {
            caption: "All that were recorded, the one that holds longest first".to_owned(),
            columns: ["Kind", "The centre's own reference", "First day", "Last day", "Now"]
                .map(Column::words),
            rows: self.all.iter().map(row).collect(),
        }
    }

    fn recording(&self) -> Markup {
        let typed = &self.typed;
        let troubles = self.troubles.as_ref().filter(|_| !typed.withdraws);
        let text = |name, value| Control::Text(Text { name, value, number_in: None });
        let kind = Control::Choice(Choice {
            name: "kind",
            picks: picks::<ApprovalKind>(),
            chosen: Some(&typed.kind),
        });
        let renews = !typed.renews.is_empty();
        html! {
            section id="record" {
                h2 { @if renews { "Renew" } @else { "Record an approval" } }
                form method="post" action={ "/centres/" (self.centre) "/approvals" } {
                    (self.frame.token())
                    @if renews { input type="hidden" name="renews" value=(typed.renews); }
                    div.fields {
                        (FieldRow::of_form("kind", "Kind", None, kind, troubles))
                        (FieldRow::of_form("reference", "The centre's own reference", Some("names nobody"), text("reference", &typed.reference), troubles))
                        (FieldRow::of_form("valid_from", "First day", Some("such as 2026-04-01"), text("valid_from", &typed.valid_from), troubles))
                        (FieldRow::of_form("valid_until", "Last day", Some("cases are still taken on it"), text("valid_until", &typed.valid_until), troubles))
                    }
                    div.mends { button.button.main type="submit" { @if renews { "Record the renewal" } @else { "Record it" } } }
                }
            }
        }
    }

    fn withdrawing(&self) -> Markup {
        let in_force = self.all.iter().filter(|approval| approval.withdrawn.is_none());
        let pick = |approval: &Approval| {
            let terms = &approval.terms;
            let label = format!("{}, {}, until {}", terms.kind.label(), terms.reference, terms.valid_until);
            (approval.id.to_string(), label)
        };
        let picks: Vec<_> = in_force.map(pick).collect();
        let which = Control::Picker(Picker {
            name: "approval",
            picks: picks.iter().map(|(id, label)| Pick::plain(id, label)).collect(),
            chosen: Some(self.typed.approval.as_str()).filter(|chosen| !chosen.is_empty()),
        });
        let troubles = self.troubles.as_ref().filter(|_| self.typed.withdraws);
        let reason = Control::Text(Text { name: "reason", value: &self.typed.reason, number_in: None });
        html! {
            @if !picks.is_empty() {
                section id="withdraw" {
                    h2 { "Withdraw one" }
                    p.small { "It no longer counts from this moment on. What the centre sent before stays." }
                    form method="post" action={ "/centres/" (self.centre) "/approvals" } {
                        (self.frame.token())
                        input type="hidden" name="do" value="withdraw";
                        div.fields {
                            (FieldRow::of_form("approval", "Which", None, which, troubles))
                            (FieldRow::of_form("reason", "Why", Some("names nobody"), reason, troubles))
                        }
                        div.mends { button.button type="submit" { "Withdraw" } }
                    }
                }
            }
        }
    }
}
