//! Signing in and out, and the own account.

use actix_web::{HttpResponse, delete, get, post, put, web};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::brought::Body;
use super::caller::{Signed, asked};
use super::members::MemberView;
use super::problem::{Problem, SIGN_IN_FAILED};
use crate::access::Permit;
use crate::access::action::KeepOwnAccount;
use crate::access::password::Password;
use crate::access::session::{Granted, PasswordChangeError, SignInDesk, SignInError};
use crate::store::Store;

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SignIn {
    /// The name to sign in with.
    sign_in_name: String,
    /// The password.
    password: String,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Refresh {
    /// The refresh token that came last; it serves once.
    refresh_token: String,
}

#[derive(Serialize, ToSchema)]
pub(super) struct TokenView {
    /// To be sent as `Authorization: Bearer …`.
    access_token: String,
    /// Always `Bearer`.
    token_type: &'static str,
    /// Seconds until the access token expires.
    expires_in: i64,
    /// To be exchanged for the next two tokens.
    refresh_token: String,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewPassword {
    /// The present password.
    present: String,
    /// The new one: at least 15 characters.
    new: String,
}

impl From<Granted> for TokenView {
    fn from(granted: Granted) -> Self {
        let Granted { access_token, expires_in, refresh_token } = granted;
        Self { access_token, token_type: "Bearer", expires_in, refresh_token }
    }
}

/// Sign in.
#[utoipa::path(tag = "Sign-in", request_body = SignIn, responses((status = 200, body = TokenView)))]
#[post("/sessions")]
pub(super) async fn sign_in(
    request: actix_web::HttpRequest,
    body: Body<SignIn>,
    desk: web::Data<SignInDesk>,
) -> Result<HttpResponse, Problem> {
    let SignIn { sign_in_name, password } = body.value;
    let asked = asked(&request)?;
    let granted = desk.sign_in(&sign_in_name, password, asked.request_id()).await?;
    Ok(HttpResponse::Ok().json(TokenView::from(granted)))
}

/// Exchange a refresh token for the next two tokens. A token shown twice ends the sign-in.
#[utoipa::path(tag = "Sign-in", request_body = Refresh, responses((status = 200, body = TokenView)))]
#[post("/sessions/refresh")]
pub(super) async fn refresh(
    request: actix_web::HttpRequest,
    body: Body<Refresh>,
    desk: web::Data<SignInDesk>,
) -> Result<HttpResponse, Problem> {
    let asked = asked(&request)?;
    let granted = desk.refresh(&body.value.refresh_token, asked.request_id()).await?;
    Ok(HttpResponse::Ok().json(TokenView::from(granted)))
}

/// Sign out: access and refresh token end at once.
#[utoipa::path(tag = "Sign-in", responses((status = 204)))]
#[delete("/sessions/current")]
pub(super) async fn sign_out(signed: Signed, desk: web::Data<SignInDesk>) -> Result<HttpResponse, Problem> {
    desk.sign_out(signed.caller()?).await?;
    Ok(HttpResponse::NoContent().finish())
}

/// The own account.
#[utoipa::path(tag = "Sign-in", responses((status = 200, body = MemberView)))]
#[get("/me")]
pub(super) async fn me(
    permit: Permit<KeepOwnAccount>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let member = store.read(permit, |session| session.own_account()).await?;
    Ok(HttpResponse::Ok().json(MemberView::from(crate::registry::members::Shown::from(member))))
}

/// Choose a new password. All sign-ins end, this one too. A wrong present password is noted
/// in the audit trail.
#[utoipa::path(tag = "Sign-in", request_body = NewPassword, responses((status = 204)))]
#[put("/me/password")]
pub(super) async fn change_password(
    _permit: Permit<KeepOwnAccount>,
    signed: Signed,
    body: Body<NewPassword>,
    desk: web::Data<SignInDesk>,
) -> Result<HttpResponse, Problem> {
    let NewPassword { present, new } = body.value;
    let caller = signed.caller()?;
    let new = Password::new(&new, caller.member().sign_in_name.as_str())
        .map_err(|error| Problem::field("/new", "password", error))?;
    match desk.change_password(caller, present, new).await {
        Ok(()) => Ok(HttpResponse::NoContent().finish()),
        Err(wrong @ PasswordChangeError::NotThePresentOne) => {
            Err(Problem::field("/present", "password", wrong))
        }
        Err(PasswordChangeError::SignIn(error)) => Err(error.into()),
    }
}

impl From<SignInError> for Problem {
    fn from(error: SignInError) -> Self {
        match error {
            SignInError::Refused => Problem::new(
                &SIGN_IN_FAILED,
                "Name and password do not match, or the sign-in is over. Sign in again.",
            ),
            SignInError::Store(error) => error.into(),
            SignInError::Hashing(error) => {
                tracing::error!(%error, "sign-in failed");
                Problem::broken()
            }
            SignInError::Issue(error) => {
                tracing::error!(%error, "sign-in failed");
                Problem::broken()
            }
        }
    }
}
