//! Signing in and out with a browser.

use actix_web::http::StatusCode;
use actix_web::http::header::LOCATION;
use actix_web::{HttpResponse, get, post, web};
use maud::{Markup, html};
use serde::Deserialize;

use super::components::error_summary;
use super::form::Form;
use super::frame::{Visit, answer, public_page, see_other};
use super::trouble::Troubles;
use crate::access::session::{SignInDesk, SignInError};
use crate::api::Problem;
use crate::api::cookie::CookieRule;

/// Where everybody begins who does not come from elsewhere.
const DESK: &str = "/desk";

/// Where to go after signing in.
#[derive(Deserialize)]
pub(super) struct From {
    #[serde(default)]
    to: String,
}

/// What the sign-in form sends.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct SignIn {
    account: String,
    password: String,
    #[serde(default)]
    to: String,
}

/// The sign-in page that leads back to a place of this registry.
pub(crate) fn sign_in_address(place: &str) -> String {
    match serde_urlencoded::to_string([("to", place)]) {
        Ok(query) if place != "/" => format!("/sign-in?{query}"),
        _ => "/sign-in".to_owned(),
    }
}

/// A place of this registry and no other: an address that a stranger wrote must not lead
/// away from here under our name.
fn own_place(to: &str) -> &str {
    let own = to.starts_with('/') && !to.starts_with("//") && !to.starts_with("/api/") && to.len() <= 1_000;
    let plain = to.bytes().all(|byte| byte.is_ascii_graphic() && byte != b'\\');
    if own && plain { to } else { DESK }
}

#[get("/sign-in")]
pub(super) async fn sign_in_page(visit: Visit, from: web::Query<From>) -> HttpResponse {
    if visit.caller().is_some() {
        return see_other(own_place(&from.to));
    }
    let said = if visit.sign_in_is_over() { Said::Over } else { Said::Nothing };
    answer(StatusCode::OK, page(&said, "", &from.to))
}

#[post("/sign-in")]
pub(super) async fn sign_in(
    visit: Visit,
    form: Form<SignIn>,
    desk: web::Data<SignInDesk>,
    cookies: web::Data<CookieRule>,
) -> Result<HttpResponse, Problem> {
    let SignIn { account, password, to } = form.0;
    match desk.sign_in_browser(&account, password, visit.request_id()).await {
        Ok(cookie) => {
            if let Some(former) = visit.caller() {
                desk.sign_out(former).await?;
            }
            let mut answer = HttpResponse::SeeOther();
            answer.insert_header((LOCATION, own_place(&to)));
            Ok(answer.cookie(cookies.set(cookie.0)).finish())
        }
        Err(SignInError::Refused) => {
            let sentence =
                "Account name and password do not match, or the account is closed. Type both again.";
            let refused = Said::Refused(Troubles::with("account", sentence));
            Ok(answer(StatusCode::UNPROCESSABLE_ENTITY, page(&refused, &account, &to)))
        }
        Err(error) => Err(error.into()),
    }
}

#[post("/sign-out")]
pub(super) async fn sign_out(
    visit: Visit,
    desk: web::Data<SignInDesk>,
    cookies: web::Data<CookieRule>,
) -> Result<HttpResponse, Problem> {
    if let Some(caller) = visit.caller() {
        desk.sign_out(caller).await?;
    }
    let mut answer = HttpResponse::SeeOther();
    Ok(answer.insert_header((LOCATION, "/sign-in")).cookie(cookies.end()).finish())
}

enum Said {
    Nothing,
    Over,
    Refused(Troubles),
}

fn page(said: &Said, account: &str, to: &str) -> Markup {
    let title = if matches!(said, Said::Refused(_)) { "Must be mended: sign in" } else { "Sign in" };
    public_page(
        title,
        "Research registry",
        &html! {
            div.sign-in {
                div {
                    (channels())
                    h1 { "With the beam, or without it" }
                    p.lead {
                        "The centres of this network record every catheter ablation here, whether "
                        span.one-line { "X-ray" } " was used or not, so that the two ways can be compared fairly."
                    }
                    p { a href="/summaries" { "Published safety summaries" } " are open to everyone and need no sign-in." }
                }
                section.sheet {
                    h2 { "Sign in" }
                    @match said {
                        Said::Nothing => {},
                        Said::Over => p role="status" {
                            "Your sign-in is over. Sign in again and you come back to the same place."
                        },
                        Said::Refused(troubles) => (error_summary(troubles, "you can sign in")),
                    }
                    (the_form(said, account, to))
                    hr;
                    p.small { "Cannot get in? An administrator of the registry can renew your account. No e-mail is sent from here." }
                }
            }
            p.never { "Never enter a name, a full date or a hospital number in this registry. It has no field for them." }
        },
    )
}

fn the_form(said: &Said, account: &str, to: &str) -> Markup {
    let refused = matches!(said, Said::Refused(_));
    html! {
        form.stack method="post" action="/sign-in" {
            input type="hidden" name="to" value=(to);
            div {
                label.label for="account" { "Account name" }
                input.input id="account" name="account" value=(account) autocomplete="username" autocapitalize="none"
                    spellcheck="false" required autofocus[!refused] aria-invalid=[refused.then_some("true")];
            }
            div {
                label.label for="password" { "Password" }
                input.input id="password" name="password" type="password" autocomplete="current-password" required
                    aria-describedby="password-note" aria-invalid=[refused.then_some("true")];
                p.small id="password-note" { "Pasting and password keepers work here." }
            }
            button.button.main type="submit" { "Sign in" }
        }
    }
}

/// Two channels of a recorder: the heart beats evenly, the beam is silent.
fn channels() -> Markup {
    let beat = "h36l7-7 7 7h9l5 5 6-42 6 52 4-15h12l10-9 10 9h24.25";
    let trace = format!("M0 40{beat}{beat}{beat}{beat}");
    html! {
        div.channels {
            span { "heart" }
            svg viewBox="0 0 545 56" aria-hidden="true" { path.ink d=(trace) stroke-width="2" stroke-linejoin="round" {} }
            span { "beam" }
            svg viewBox="0 0 545 12" aria-hidden="true" { path.ink d="M0 6h545" stroke-width="2" {} }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_is_led_elsewhere_under_our_name() {
        for own in ["/cases", "/cases/K7M4QX2R9D?part=1", "/desk#air_kerma"] {
            assert_eq!(own_place(own), own);
        }
        let long = format!("/{}", "x".repeat(1_000));
        for foreign in [
            "",
            "//evil.example",
            "/\\evil.example",
            "https://evil.example",
            "cases",
            "/a\nb",
            "/api/v1/me",
            &long,
        ] {
            assert_eq!(own_place(foreign), DESK, "{foreign}");
        }
    }

    #[test]
    fn the_way_back_is_written_into_the_address() {
        assert_eq!(sign_in_address("/"), "/sign-in");
        assert_eq!(
            sign_in_address("/cases?period=2026Q3&x=%20"),
            "/sign-in?to=%2Fcases%3Fperiod%3D2026Q3%26x%3D%2520"
        );
    }
}
