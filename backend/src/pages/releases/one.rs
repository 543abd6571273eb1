//! One summary in any stage: what it says, what could be learnt from it, and the next step.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_analysis::methods::disclosure::Learnt;
use quietbeam_analysis::study::summary::SafetySummary;
use quietbeam_schema::ids::{SummaryId, SummaryNumber};
use quietbeam_schema::summary::SummaryStage;

use super::{learnt, name, page, stands};
use crate::access::Permit;
use crate::access::action::{
    ApproveSummary, DraftSummary, PublishSummary, ReadSummaryDrafts, WithdrawSummary,
};
use crate::api::Problem;
use crate::api::brought::Part;
use crate::pages::components::{
    Control, FieldRow, Lines, Pick, Picker, caution, compared, error_summary, named_table,
};
use crate::pages::form::{Posted, unreadable};
use crate::pages::frame::{Frame, Visit, may, see_other};
use crate::pages::public::Shelf;
use crate::pages::trouble::Troubles;
use crate::pages::words::sentence;
use crate::registry::{IfMatch, RegistryError, summaries};
use crate::store::{Store, StoreError, Summary};

#[get("/releases/{id}")]
pub(in crate::pages) async fn look(
    permit: Permit<ReadSummaryDrafts>,
    visit: Visit,
    id: Part<SummaryId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let shown = Shown::read(permit, id.0, &store).await?;
    let frame = visit.frame(&store).await?;
    let content = shown.draw(&frame, Steps::of(&visit)?, (&Posted::default(), None));
    Ok(frame.show(&page(&name(&shown.kept), content)))
}

/// Takes the next step of a summary: approval, publication, withdrawal.
#[post("/releases/{id}")]
pub(in crate::pages) async fn send(
    permit: Permit<ReadSummaryDrafts>,
    visit: Visit,
    id: Part<SummaryId>,
    posted: Posted,
    (store, shelf): (web::Data<Store>, web::Data<Shelf>),
) -> Result<HttpResponse, Problem> {
    let troubles = match step(&visit, id.0, &posted, &store).await? {
        Ok(()) => {
            // What everyone is given may have been withdrawn just now.
            shelf.clear();
            return Ok(see_other(&format!("/releases/{}", id.0)));
        }
        Err(error) => mendable(error)?,
    };
    let shown = Shown::read(permit, id.0, &store).await?;
    let frame = visit.frame(&store).await?;
    let content = shown.draw(&frame, Steps::of(&visit)?, (&posted, Some(&troubles)));
    Ok(frame.refuse(&page(&format!("Must be mended: {}", name(&shown.kept).to_lowercase()), content)))
}

async fn step(
    visit: &Visit,
    id: SummaryId,
    posted: &Posted,
    store: &web::Data<Store>,
) -> Result<Result<(), RegistryError>, Problem> {
    let (caller, keeper) = (visit.signed()?, store.get_ref().clone());
    let done = match posted.one("do") {
        "approve" => {
            let permits = [caller.permit::<ApproveSummary>()?, caller.permit::<ApproveSummary>()?];
            let read = IfMatch::parse(&format!("\"{}\"", posted.one("read"))).ok_or_else(unreadable)?;
            web::block(move || summaries::approve(&keeper, permits, id, &read).map(drop)).await
        }
        "publish" => {
            let permits = [caller.permit::<PublishSummary>()?, caller.permit::<PublishSummary>()?];
            web::block(move || summaries::publish(&keeper, permits, id).map(drop)).await
        }
        "withdraw" => {
            let permit = caller.permit::<WithdrawSummary>()?;
            let reason = posted.one("reason").to_owned();
            let by = Some(posted.one("corrected_by")).filter(|number| !number.is_empty());
            let by = by.map(str::parse).transpose().map_err(|_| unreadable())?.map(SummaryNumber);
            let withdrawn = store.write(permit, move |session| summaries::withdraw(session, id, &reason, by));
            return Ok(withdrawn.await.map(drop));
        }
        _ => return Err(unreadable()),
    };
    done.map_err(|_| Problem::busy())
}

/// What whoever took the step can do about it; anything else goes on as it is.
fn mendable(error: RegistryError) -> Result<Troubles, Problem> {
    const STEP: &str = "next-step";
    match error {
        RegistryError::Stale(_) => Ok(Troubles::with(
            STEP,
            "More was published since this was read. It was attacked again: read what could be learnt now, then approve it.",
        )),
        RegistryError::RefusedOnItsWay(_) | RegistryError::SummaryDiffers(_) => {
            Ok(Troubles::with(STEP, sentence(error)))
        }
        RegistryError::Store(StoreError::Refused(why)) => Ok(Troubles::with(STEP, sentence(why))),
        other => Ok(Troubles::of(other)?),
    }
}

/// The steps that whoever looks may take.
struct Steps {
    composes: bool,
    approves: bool,
    publishes: bool,
    withdraws: bool,
}

impl Steps {
    fn of(visit: &Visit) -> Result<Self, Problem> {
        let caller = visit.signed()?;
        Ok(Self {
            composes: may::<DraftSummary>(caller),
            approves: may::<ApproveSummary>(caller),
            publishes: may::<PublishSummary>(caller),
            withdraws: may::<WithdrawSummary>(caller),
        })
    }
}

/// A summary with what it says and what could be learnt from it.
struct Shown {
    kept: Summary,
    cut: String,
    said: SafetySummary,
    learnt: Option<Learnt>,
    /// The numbers of later ones that are in force.
    later: Vec<String>,
}

impl Shown {
    async fn read(permit: Permit<ReadSummaryDrafts>, id: SummaryId, store: &Store) -> Result<Self, Problem> {
        let (kept, cut, all) = store
            .read(permit, move |session| {
                let kept = session.find_summary(id)?;
                let cut = session.find_cut(kept.cut)?.name;
                Ok::<_, StoreError>((kept, cut, session.list_summaries()?))
            })
            .await?;
        let own = number(&kept.stage);
        let in_force = |other: &Summary| match other.stage {
            SummaryStage::Published { number, .. } if own.is_some_and(|own| number.0 > own.0) => {
                Some(number.0.to_string())
            }
            _ => None,
        };
        let later = all.iter().filter_map(in_force).collect();
        let (said, learnt) = (summaries::said(&kept)?, summaries::learnt(&kept)?);
        Ok(Self { kept, cut, said, learnt, later })
    }

    fn draw(&self, frame: &Frame, may: Steps, (typed, troubles): (&Posted, Option<&Troubles>)) -> Markup {
        html! {
            div.title {
                div {
                    p.small { "Data cut “" (self.cut) "” · " (stands(&self.kept.stage)) }
                    h1 { (name(&self.kept)) }
                }
                a href="/releases" { "All releases" }
            }
            @if let Some(troubles) = troubles { (error_summary(troubles, "the next step can be taken")) }
            @if let SummaryStage::Withdrawn { reason, .. } = &self.kept.stage { p.lead { "Withdrawn: " (reason) } }
            (self.next(frame, &may, (typed, troubles)))
            section { h2 { (self.readers()) } (as_published(&self.said)) }
            @match &self.learnt {
                Some(learnt) => (learnt::section(learnt)),
                None => p { "What could be learnt from it was not kept when it was composed." },
            }
        }
    }

    /// Who reads what follows.
    fn readers(&self) -> &'static str {
        match self.kept.stage {
            SummaryStage::Draft { .. } | SummaryStage::Approved { .. } => "What the public will read",
            SummaryStage::Refused { .. } => "What the public would have read",
            SummaryStage::Published { .. } => "What the public reads",
            SummaryStage::Withdrawn { .. } => "What the public read",
        }
    }

    /// The form of the next step, for whoever may take it.
    fn next(&self, frame: &Frame, may: &Steps, (typed, troubles): (&Posted, Option<&Troubles>)) -> Markup {
        let address = format!("/releases/{}", self.kept.id);
        let form = |step: &str, says: &str, fields: Markup| {
            html! {
                form method="post" action=(address) {
                    (frame.token())
                    (fields)
                    div.mends { button.button.main type="submit" name="do" value=(step) { (says) } }
                }
            }
        };
        let step = match &self.kept.stage {
            SummaryStage::Draft { .. } if may.approves => form(
                "approve",
                "Approve exactly this",
                html! {
                    input type="hidden" name="read" value=(self.kept.approval_hash());
                    p { "You sign what the public reads and what could be learnt from it, both below." }
                    (self.profile())
                },
            ),
            SummaryStage::Approved { .. } if may.publishes => form(
                "publish",
                "Publish for everyone",
                html! {
                    p { "It gets the next number and can never be changed, only withdrawn. Whoever composed or approved it cannot publish it." }
                },
            ),
            SummaryStage::Refused { reason, .. } => html! {
                p { "Refused: " (reason) ". What was published meanwhile cannot be unread, so this summary ends here. What each seat could learn stands below." }
                @if may.composes {
                    p { a.button.main href={ "/releases/new?like=" (self.kept.id) } { "Compose it anew" } }
                    p.small { "With the same choices; it will hide more." }
                } @else {
                    p { "Whoever composes can compose it anew: it will hide more." }
                }
            },
            SummaryStage::Published { number, .. } if may.withdraws => html! {
                p { a href={ "/summaries/" (number.0) } { "As the public sees it" } }
                details.fold open[troubles.is_some()] {
                    summary { "Withdraw or correct it" }
                    (form("withdraw", "Withdraw it", self.withdrawal(typed, troubles)))
                }
            },
            _ => return html! { div id="next-step" {} },
        };
        html! { section.lit.next-step id="next-step" { h2 { "The next step" } (step) } }
    }

    /// What of its profile the approver signs besides: whatever shows more than the standard one, and why.
    fn profile(&self) -> Markup {
        let profile = self.said.design.profile();
        let Some(reason) = profile.reason() else { return html! {} };
        html! {
            p { b { "It shows more than the standard strict profile" } ": " (profile.shows_more().join("; ")) ". The reason that you sign: “" (reason) "”." }
        }
    }

    fn withdrawal(&self, typed: &Posted, troubles: Option<&Troubles>) -> Markup {
        let reason = Control::Lines(Lines { name: "reason", value: typed.one("reason") });
        let names: Vec<String> = self.later.iter().map(|number| format!("Safety summary {number}")).collect();
        let by = Control::Picker(Picker {
            name: "corrected_by",
            picks: self.later.iter().zip(&names).map(|(number, name)| Pick::plain(number, name)).collect(),
            chosen: Some(typed.one("corrected_by")).filter(|number| !number.is_empty()),
        });
        html! {
            div.fields {
                (FieldRow::of_form("reason", "Reason", Some("public, for ever"), reason, troubles))
                (FieldRow::of_form("corrected_by", "Corrected by", Some("a later one; empty where none says it right"), by, troubles))
            }
        }
    }
}

fn number(stage: &SummaryStage) -> Option<SummaryNumber> {
    match stage {
        SummaryStage::Published { number, .. } | SummaryStage::Withdrawn { number, .. } => Some(*number),
        SummaryStage::Draft { .. } | SummaryStage::Approved { .. } | SummaryStage::Refused { .. } => None,
    }
}

/// The question, the society's words and every table, as the public reads them.
pub(super) fn as_published(said: &SafetySummary) -> Markup {
    html! {
        @if let Some(question) = said.design.question() { h3 { (question) } }
        @for paragraph in said.design.paragraphs() { p { (paragraph) } }
        (named_table(&said.outcomes()))
        @for table in said.chosen_tables() { (named_table(table)) }
        (compared(said, named_table))
        p.small { "Hatched: not shown, so that nobody can be recognised, directly or by subtraction." }
        (named_table(&said.disclosure.table()))
        (caution("Small counts are hidden."))
    }
}
