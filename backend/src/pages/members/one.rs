//! One member: its place in the network, and whether it may sign in.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::access::Membership;
use quietbeam_schema::centre::Centre;
use quietbeam_schema::ids::MemberId;
use serde::Deserialize;

use super::{Typed, joined, mendable, page};
use crate::access::Permit;
use crate::access::action::ManageMembers;
use crate::api::Problem;
use crate::api::brought::{Part, Query};
use crate::pages::components::{Mark, error_summary, role_word};
use crate::pages::form::{Posted, unreadable};
use crate::pages::frame::{Frame, Visit, see_other};
use crate::pages::trouble::Troubles;
use crate::registry::members::{self, Shown};
use crate::registry::{IfMatch, RegistryError, Version};
use crate::store::{Session, Store, StoreError, Writing};

/// What was done a moment ago.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(in crate::pages) struct Before {
    done: String,
}

#[get("/members/{member}")]
pub(in crate::pages) async fn open_member(
    permit: Permit<ManageMembers>,
    visit: Visit,
    id: Part<MemberId>,
    before: Query<Before>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let read = read(permit, id.0, &store).await?;
    let frame = visit.frame(&store).await?;
    let own = visit.signed()?.member().id == id.0;
    let said = Said { saved: before.0.done == "saved", own, refused: None };
    Ok(frame.show(&page(&read.0.printed_name, content(&frame, &read, &said))))
}

type Read = (Shown, Vec<Centre>);

async fn read(permit: Permit<ManageMembers>, id: MemberId, store: &Store) -> Result<Read, Problem> {
    let look = store.read(permit, move |session| {
        Ok::<_, StoreError>((session.find_member(id)?.into(), session.list_centres()?))
    });
    Ok(look.await?)
}

#[post("/members/{member}")]
pub(in crate::pages) async fn change(
    permit: Permit<ManageMembers>,
    visit: Visit,
    id: Part<MemberId>,
    posted: Posted,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let id = id.0;
    let if_match = IfMatch::parse(posted.one("read")).ok_or_else(unreadable)?;
    let typed = Typed::of(&posted);
    let asked = match posted.one("do") {
        "membership" => typed.membership().map(Asked::Place).map_err(Troubles::from),
        "close" => Ok(Asked::Enabled(false)),
        "open" => Ok(Asked::Enabled(true)),
        _ => return Err(unreadable()),
    };
    let troubles = match asked {
        Ok(asked) => match store.write(permit, move |session| carry_out(session, id, &if_match, asked)).await
        {
            Ok(_) => return Ok(see_other(&format!("/members/{id}?done=saved"))),
            Err(error) => mendable(error)?,
        },
        Err(troubles) => troubles,
    };
    let caller = visit.signed()?;
    let read = read(caller.permit()?, id, &store).await?;
    let frame = visit.frame(&store).await?;
    // Where only the account was to be closed or opened, no place was typed.
    let typed = (posted.one("do") == "membership").then_some(typed);
    let said = Said { saved: false, own: caller.member().id == id, refused: Some((typed, troubles)) };
    Ok(frame.refuse(&page("Must be mended: a member", content(&frame, &read, &said))))
}

enum Asked {
    Place(Membership),
    Enabled(bool),
}

fn carry_out(
    session: &mut Session<'_, ManageMembers, Writing>,
    id: MemberId,
    if_match: &IfMatch,
    asked: Asked,
) -> Result<Shown, RegistryError> {
    match asked {
        Asked::Place(membership) => members::change_membership(session, id, if_match, &membership),
        Asked::Enabled(enabled) => members::set_enabled(session, id, if_match, enabled),
    }
}

/// What the page says beside the member.
struct Said {
    saved: bool,
    own: bool,
    refused: Option<(Option<Typed>, Troubles)>,
}

fn content(frame: &Frame, (shown, centres): &Read, said: &Said) -> Markup {
    let troubles = said.refused.as_ref().map(|(_, troubles)| troubles);
    html! {
        div.title {
            div {
                h1 { (shown.printed_name) }
                p.quiet {
                    "Signs in as " span.strong { (shown.sign_in_name) } " · " (role_word(shown.role))
                    @if !shown.centres.is_empty() { " of " (joined(&shown.centres)) }
                    @if !shown.enabled { " · " (Mark::Locked.with("account closed")) }
                }
            }
            a href="/members" { "All members" }
        }
        @if said.saved { p role="status" { (Mark::Saved.with("Saved")) } }
        @if let Some(troubles) = troubles { (error_summary(troubles, "this can be kept")) }
        @if said.own {
            p { "This is you. Nobody changes the own role or closes the own account; another administrator does." }
        } @else {
            (place_form(frame, shown, centres, said))
            (account_form(frame, shown))
        }
        p.small {
            "A member is never deleted, because the audit trail names it. A forgotten password is renewed at the "
            "command line of the server: " code { "quietbeam member password" } "."
        }
    }
}

fn place_form(frame: &Frame, shown: &Shown, centres: &[Centre], said: &Said) -> Markup {
    let refused = said.refused.as_ref();
    let typed = refused.and_then(|(typed, _)| typed.as_ref());
    let present = Typed::from(shown);
    html! {
        form method="post" action={ "/members/" (shown.id) } {
            (frame.token())
            input type="hidden" name="do" value="membership";
            input type="hidden" name="read" value=(Version::of(shown).etag());
            div.fields { (typed.unwrap_or(&present).place(centres, refused.map(|(_, troubles)| troubles))) }
            div.mends { button.button type="submit" { "Change role and centres" } }
            p.small { "The member is signed out everywhere and signs in again." }
        }
    }
}

fn account_form(frame: &Frame, shown: &Shown) -> Markup {
    let (asked, verb, means) = match shown.enabled {
        true => ("close", "Close the account", "The member is signed out at once and cannot sign in again."),
        false => ("open", "Open the account again", "The member can sign in with the password it had."),
    };
    html! {
        form method="post" action={ "/members/" (shown.id) } {
            (frame.token())
            input type="hidden" name="do" value=(asked);
            input type="hidden" name="read" value=(Version::of(shown).etag());
            div.mends { button.button type="submit" { (verb) } }
            p.small { (means) }
        }
    }
}
