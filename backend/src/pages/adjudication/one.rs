//! One event before one judge.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::vocabulary::{Coded, HarmRuling};

use super::card::card;
use super::page;
use crate::access::Permit;
use crate::access::action::JudgeEvents;
use crate::api::Problem;
use crate::api::brought::Part;
use crate::pages::components::{Choice, Control, FieldRow, Lines, Pick, error_summary};
use crate::pages::form::Posted;
use crate::pages::frame::{Frame, Page, Visit, see_other};
use crate::pages::trouble::Troubles;
use crate::registry::RegistryError;
use crate::registry::adjudication::{self, Event};
use crate::store::{Refused, Session, Store, StoreError};

/// The event, with how many others wait.
struct Before {
    event: Event,
    others: usize,
}

/// The event, if it waits for this judge.
fn waiting<M>(session: &mut Session<'_, JudgeEvents, M>, id: &str) -> Result<Option<Before>, StoreError> {
    let mut waiting = adjudication::docket(session)?.waiting;
    let others = waiting.len().saturating_sub(1);
    let place = waiting.iter().position(|event| event.id == id);
    Ok(place.map(|place| Before { event: waiting.swap_remove(place), others }))
}

const GONE: &str = "/adjudication?gone=true";

#[get("/adjudication/{event}")]
pub(in crate::pages) async fn look(
    permit: Permit<JudgeEvents>,
    visit: Visit,
    event: Part<String>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let id = event.0;
    let Some(before) = store.read(permit, move |session| waiting(session, &id)).await? else {
        return Ok(see_other(GONE));
    };
    let frame = visit.frame(&store).await?;
    Ok(frame.show(&form(&frame, &before, &Sent::default(), None)))
}

/// What was sent.
#[derive(Clone, Default)]
struct Sent {
    ruling: String,
    sentence: String,
}

#[post("/adjudication/{event}")]
pub(in crate::pages) async fn send(
    permit: Permit<JudgeEvents>,
    visit: Visit,
    event: Part<String>,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let sent = Sent { ruling: posted.one("ruling").to_owned(), sentence: posted.one("sentence").to_owned() };
    let (id, typed) = (event.0.clone(), sent.clone());
    let kept = store.write(permit, move |session| {
        let ruling = HarmRuling::from_code(&typed.ruling)
            .ok_or_else(|| RegistryError::field("/ruling", "required", "choose one of the four rulings"))?;
        adjudication::judge(session, &id, ruling, &typed.sentence)?;
        let next = adjudication::docket(session)?.waiting.into_iter().next();
        Ok::<_, RegistryError>(next.map(|event| event.id))
    });
    let troubles = match kept.await {
        Ok(Some(next)) => return Ok(see_other(&format!("/adjudication/{next}"))),
        Ok(None) => return Ok(see_other("/adjudication")),
        Err(RegistryError::Store(StoreError::Refused(Refused::NotToBeJudged))) => {
            return Ok(see_other(GONE));
        }
        Err(error) => Troubles::of(error)?,
    };
    let reading = visit.signed()?.permit::<JudgeEvents>()?;
    let id = event.0;
    let Some(before) = store.read(reading, move |session| waiting(session, &id)).await? else {
        return Ok(see_other(GONE));
    };
    let frame = visit.frame(&store).await?;
    Ok(frame.refuse(&form(&frame, &before, &sent, Some(&troubles))))
}

fn form(frame: &Frame, before: &Before, sent: &Sent, troubles: Option<&Troubles>) -> Page {
    let title = if troubles.is_some() { "Must be mended: an event to judge" } else { "An event to judge" };
    page(
        title,
        html! {
            div.title {
                div {
                    h1 { "An event to judge" }
                    p.quiet { @match before.others { 0 => "The last one that waits for you.", 1 => "One more waits after it.", many => { (many) " more wait after it." } } }
                }
                a href="/adjudication" { "All events, and how to judge" }
            }
            @if let Some(troubles) = troubles { (error_summary(troubles, "your ruling is kept")) }
            (card(&before.event.shown))
            form.step method="post" action={ "/adjudication/" (before.event.id) } {
                (frame.token())
                div.fields { (rows(sent, troubles)) }
                div.mends { button.button.main type="submit" { "Keep the ruling" } }
                p.small { "It is kept under your name and cannot be changed. Whoever judges next does not see it." }
            }
        },
    )
}

fn rows(sent: &Sent, troubles: Option<&Troubles>) -> Markup {
    let picks = HarmRuling::LIST.codes.iter().map(Pick::of).collect();
    let chosen = Some(sent.ruling.as_str()).filter(|ruling| !ruling.is_empty());
    let ruling = Control::Choice(Choice { name: "ruling", picks, chosen });
    let sentence = Control::Lines(Lines { name: "sentence", value: &sent.sentence });
    html! {
        (FieldRow::of_form("ruling", "How grave was it?", None, ruling, troubles))
        (FieldRow::of_form("sentence", "Why", Some("one sentence that names nobody"), sentence, troubles))
    }
}
