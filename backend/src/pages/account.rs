//! The own account: its password, where it is signed in, how the pages look and work.

use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use quietbeam_schema::ids::SignInId;
use serde::Deserialize;

use super::components::{
    Cell, Choice, Column, Control, FieldId, FieldRow, Mark, Pick, Secret, State, Table, error_summary,
    role_word,
};
use super::form::{Posted, unreadable};
use super::frame::{Page, Visit, see_other};
use super::sign_in::sign_in_address;
use super::trouble::Troubles;
use super::words::{moment, sentence};
use crate::access::Permit;
use crate::access::action::KeepOwnAccount;
use crate::access::password::Password;
use crate::access::preference::Preferences;
use crate::access::session::{Caller, PasswordChangeError, SignInDesk};
use crate::api::Problem;
use crate::api::brought::Query;
use crate::store::{OwnSignIn, SignInKind, Store};

/// What was done a moment ago.
#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Before {
    done: String,
}

#[get("/account")]
pub(super) async fn account(
    _permit: Permit<KeepOwnAccount>,
    visit: Visit,
    before: Query<Before>,
    desk: web::Data<SignInDesk>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let done = match before.0.done.as_str() {
        "preferences" => Some("Saved"),
        "ended" => Some("The sign-in is over"),
        _ => None,
    };
    let content = content(&visit, &store, &desk, Said { done, troubles: None }).await?;
    Ok(visit.frame(&store).await?.show(&page(content)))
}

#[post("/account")]
pub(super) async fn keep(
    permit: Permit<KeepOwnAccount>,
    visit: Visit,
    posted: Posted,
    desk: web::Data<SignInDesk>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let caller = visit.signed()?;
    let troubles = match posted.one("do") {
        "password" => match change_password(caller, &posted, &desk).await? {
            None => return Ok(see_other(&sign_in_address("/account"))),
            Some(troubles) => troubles,
        },
        "end" => {
            let id: SignInId = posted.one("sign_in").parse().map_err(|_| Problem::absent())?;
            store.write(permit, move |session| session.sign_out(id)).await?;
            return Ok(see_other("/account?done=ended"));
        }
        "preferences" => match preferences(&posted) {
            Ok(chosen) => {
                store.write(permit, move |session| session.keep_preferences(chosen)).await?;
                return Ok(see_other("/account?done=preferences"));
            }
            Err(troubles) => troubles,
        },
        _ => return Err(unreadable()),
    };
    let content = content(&visit, &store, &desk, Said { done: None, troubles: Some(troubles) }).await?;
    Ok(visit.frame(&store).await?.refuse(&page(content)))
}

/// What must be mended, if anything.
async fn change_password(
    caller: &Caller,
    posted: &Posted,
    desk: &SignInDesk,
) -> Result<Option<Troubles>, Problem> {
    let new = match Password::new(posted.one("new"), caller.member().sign_in_name.as_str()) {
        Ok(new) => new,
        Err(error) => return Ok(Some(Troubles::with("new", sentence(error)))),
    };
    match desk.change_password(caller, posted.one("present").to_owned(), new).await {
        Ok(()) => Ok(None),
        Err(wrong @ PasswordChangeError::NotThePresentOne) => {
            Ok(Some(Troubles::with("present", wrong.to_string())))
        }
        Err(PasswordChangeError::SignIn(error)) => Err(error.into()),
    }
}

fn preferences(posted: &Posted) -> Result<Preferences, Troubles> {
    let theme = posted.one("theme").parse();
    let theme = theme.map_err(|_| Troubles::with("theme", "Choose one of the three."))?;
    let single_keys = posted.one("single_keys").parse();
    let single_keys = single_keys.map_err(|_| Troubles::with("single_keys", "Choose on or off."))?;
    Ok(Preferences { theme, single_keys })
}

/// What the page says beside what it shows.
struct Said {
    done: Option<&'static str>,
    troubles: Option<Troubles>,
}

impl Said {
    fn state(&self, field: &FieldId) -> State {
        self.troubles.as_ref().map_or(State::Quiet, |troubles| troubles.state(field))
    }
}

fn page(content: Markup) -> Page {
    Page { title: "Your account".to_owned(), word: None, content }
}

async fn content(visit: &Visit, store: &Store, desk: &SignInDesk, said: Said) -> Result<Markup, Problem> {
    let caller = visit.signed()?;
    let (own, token) = (desk.sign_ins(caller).await?, visit.frame(store).await?.token());
    let member = caller.member();
    let centres: Vec<String> = member.membership.centres().iter().map(ToString::to_string).collect();
    Ok(html! {
        div.title { div {
            h1 { "Your account" }
            p.quiet {
                (member.printed_name) ", " (role_word(member.membership.role()).to_lowercase())
                @if !centres.is_empty() { " of " (centres.join(", ")) }
                ". You sign in as " span.strong { (member.sign_in_name.as_str()) } "."
            }
        } }
        @if let Some(done) = said.done { p role="status" { (Mark::Saved.with(done)) } }
        @if let Some(troubles) = &said.troubles { (error_summary(troubles, "this can be kept")) }
        h2 id="look" { "How the pages look and work" }
        (preference_form(member.preferences, &said, &token))
        h2 id="password" { "Password" }
        (password_form(&said, &token))
        h2 id="sign-ins" { "Where you are signed in" }
        (sign_ins(&own, caller.sign_in(), &token))
    })
}

fn preference_form(present: Preferences, said: &Said, token: &Markup) -> Markup {
    let choice = |name, label, second, picks: &[(&'static str, &'static str)], chosen| {
        let id = FieldId::of(name);
        let picks = picks.iter().map(|(value, label)| Pick::plain(value, label)).collect();
        FieldRow {
            state: said.state(&id),
            id,
            label,
            second: Some(second),
            control: Control::Choice(Choice { name, picks, chosen: Some(chosen) }),
            note: None,
            help: None,
        }
    };
    let themes = [("system", "as this machine has it"), ("light", "light"), ("dark", "dark")];
    let keys = [("on", "on"), ("off", "off")];
    let note = "such as N on the desk; turn them off when you speak to the machine";
    html! {
        form method="post" action="/account" {
            (token)
            input type="hidden" name="do" value="preferences";
            div.fields {
                (choice("theme", "Light or dark", "on every machine you use", &themes, present.theme.name()))
                (choice("single_keys", "Single keys", note, &keys, present.single_keys.name()))
            }
            div.mends { button.button type="submit" { "Save" } }
        }
    }
}

fn password_form(said: &Said, token: &Markup) -> Markup {
    let secret = |name, label, second, purpose| {
        let id = FieldId::of(name);
        FieldRow {
            state: said.state(&id),
            id,
            label,
            second,
            control: Control::Secret(Secret { name, purpose }),
            note: None,
            help: None,
        }
    };
    let rule = "at least 15 characters; a sentence of your own is easy to remember";
    html! {
        form method="post" action="/account" {
            (token)
            input type="hidden" name="do" value="password";
            div.fields {
                (secret("present", "Present password", None, "current-password"))
                (secret("new", "New password", Some(rule), "new-password"))
            }
            div.mends { button.button type="submit" { "Change the password" } }
            p.small { "Every sign-in ends, this one too. Pasting and password keepers work here." }
        }
    }
}

fn sign_ins(own: &[OwnSignIn], present: SignInId, token: &Markup) -> Markup {
    let row = |one: &OwnSignIn| {
        let what = match (one.kind, one.id == present) {
            (_, true) => "This browser",
            (SignInKind::Browser, false) => "A browser",
            (SignInKind::Api, false) => "A program",
        };
        let end = html! {
            form method="post" action="/account" {
                (token)
                input type="hidden" name="do" value="end";
                input type="hidden" name="sign_in" value=(one.id);
                button.as-link type="submit" { "End" span.unseen { ": " (what) ", begun " (moment(one.began_at)) } }
            }
        };
        [
            Cell::text(what),
            Cell::text(moment(one.began_at)),
            Cell::text(moment(one.last_used_at)),
            Cell::shown(end),
        ]
    };
    let table = Table {
        caption: "Newest first".to_owned(),
        columns: ["What", "Begun", "Last used", "End"].map(Column::words),
        rows: own.iter().map(row).collect(),
    };
    html! {
        p { "A sign-in ends by itself after half an hour without use, and after twelve hours in any case." }
        (table)
    }
}
