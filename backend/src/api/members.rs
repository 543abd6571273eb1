//! Members of the registry, for administrators.

use actix_web::http::header::ETAG;
use actix_web::{HttpResponse, get, post, put, web};
use quietbeam_schema::access::{Membership, Role};
use quietbeam_schema::ids::{CentreCode, MemberId};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use utoipa::ToSchema;

use super::brought::{Body, IdempotencyKey, Part};
use super::once::{Creation, Made};
use super::problem::Problem;
use crate::access::Permit;
use crate::access::action::ManageMembers;
use crate::access::member::{NewMember, SignInName};
use crate::access::password::Password;
use crate::access::session::{SignInDesk, SignInError};
use crate::registry::members::{self, Shown};
use crate::registry::{IfMatch, Version, words};
use crate::store::Store;

/// A member.
#[derive(Serialize, ToSchema)]
pub(super) struct MemberView {
    /// The identifier.
    id: String,
    /// The name to sign in with.
    sign_in_name: String,
    /// The name as printed.
    printed_name: String,
    /// The role.
    role: &'static str,
    /// The centres, for a role that belongs to centres.
    centres: Vec<String>,
    /// Whether the member may sign in.
    enabled: bool,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewMemberBody {
    /// The name to sign in with: 3 to 64 letters, digits and `. _ - @ +`.
    sign_in_name: String,
    /// The name as printed beside what the member signs.
    printed_name: String,
    /// The role.
    #[schema(value_type = String, example = "coordinator")]
    role: Role,
    /// The centres, for a role that belongs to centres.
    #[serde(default)]
    #[schema(value_type = Vec<String>)]
    centres: BTreeSet<CentreCode>,
    /// The first password: at least 15 characters. The member changes it.
    password: String,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct MembershipBody {
    /// The role.
    #[schema(value_type = String)]
    role: Role,
    /// The centres, for a role that belongs to centres.
    #[serde(default)]
    #[schema(value_type = Vec<String>)]
    centres: BTreeSet<CentreCode>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct EnabledBody {
    /// Whether the member may sign in.
    enabled: bool,
}

/// Members.
#[derive(Serialize, ToSchema)]
pub(super) struct MembersView {
    /// The members in the order they were created.
    items: Vec<MemberView>,
}

impl From<Shown> for MemberView {
    fn from(shown: Shown) -> Self {
        Self {
            id: shown.id.to_string(),
            sign_in_name: shown.sign_in_name,
            printed_name: shown.printed_name,
            role: shown.role.name(),
            centres: shown.centres.iter().map(ToString::to_string).collect(),
            enabled: shown.enabled,
        }
    }
}

/// All members.
#[utoipa::path(tag = "Members", responses((status = 200, body = MembersView)))]
#[get("/members")]
pub(super) async fn list(
    permit: Permit<ManageMembers>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let members = store.read(permit, |session| session.list_members()).await?;
    let items = members.into_iter().map(|member| Shown::from(member).into()).collect();
    Ok(HttpResponse::Ok().json(MembersView { items }))
}

/// Create a member.
#[utoipa::path(tag = "Members", request_body = NewMemberBody, responses((status = 201, body = MemberView)))]
#[post("/members")]
pub(super) async fn create(
    permit: Permit<ManageMembers>,
    key: IdempotencyKey,
    body: Body<NewMemberBody>,
    desk: web::Data<SignInDesk>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let creation = Creation::new("POST /members", key, "", &body.fingerprint);
    let NewMemberBody { sign_in_name, printed_name, role, centres, password } = body.value;
    let membership =
        Membership::new(role, centres).map_err(|error| Problem::field("/centres", "value", error))?;
    let sign_in_name: SignInName =
        sign_in_name.parse().map_err(|error| Problem::field("/sign_in_name", "value", error))?;
    let printed_name = checked_name(&printed_name)?;
    let password = Password::new(&password, sign_in_name.as_str())
        .map_err(|error| Problem::field("/password", "password", error))?;
    let password = desk.passwords().hash(password).await.map_err(SignInError::from)?;
    let new = NewMember { sign_in_name, printed_name, membership, password };
    creation
        .make(&store, permit, move |session| {
            let shown = members::create(session, new)?;
            Ok(Made {
                location: format!("/api/v1/members/{}", shown.id),
                version: Some(Version::of(&shown)),
                view: MemberView::from(shown),
            })
        })
        .await
}

/// One member.
#[utoipa::path(tag = "Members", params(("id" = String, Path)), responses((status = 200, body = MemberView)))]
#[get("/members/{id}")]
pub(super) async fn read(
    permit: Permit<ManageMembers>,
    id: Part<MemberId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let member = store.read(permit, move |session| session.find_member(id.0)).await?;
    Ok(answer(member.into()))
}

/// Give a member another role or other centres. The member's sign-ins end.
#[utoipa::path(tag = "Members", params(("id" = String, Path)), request_body = MembershipBody,
    responses((status = 200, body = MemberView)))]
#[put("/members/{id}/membership")]
pub(super) async fn change_membership(
    permit: Permit<ManageMembers>,
    id: Part<MemberId>,
    if_match: IfMatch,
    body: Body<MembershipBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let MembershipBody { role, centres } = body.value;
    let membership =
        Membership::new(role, centres).map_err(|error| Problem::field("/centres", "value", error))?;
    let shown = store
        .write(permit, move |session| members::change_membership(session, id.0, &if_match, &membership))
        .await?;
    Ok(answer(shown))
}

/// Disable a member, or enable it again. A disabled member's sign-ins end at once.
#[utoipa::path(tag = "Members", params(("id" = String, Path)), request_body = EnabledBody,
    responses((status = 200, body = MemberView)))]
#[put("/members/{id}/enabled")]
pub(super) async fn set_enabled(
    permit: Permit<ManageMembers>,
    id: Part<MemberId>,
    if_match: IfMatch,
    body: Body<EnabledBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let enabled = body.value.enabled;
    let shown =
        store.write(permit, move |session| members::set_enabled(session, id.0, &if_match, enabled)).await?;
    Ok(answer(shown))
}

fn answer(shown: Shown) -> HttpResponse {
    let etag = Version::of(&shown).etag();
    HttpResponse::Ok().insert_header((ETAG, etag)).json(MemberView::from(shown))
}

/// A member's name is wanted here, so only its shape is checked.
fn checked_name(text: &str) -> Result<String, Problem> {
    words::line(text, 120).map_err(|error| Problem::field("/printed_name", "value", error))
}
