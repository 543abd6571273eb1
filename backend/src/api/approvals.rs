//! The approvals of a centre.

use actix_web::{HttpResponse, get, post, web};
use quietbeam_schema::centre_approval::{Approval, Day, Terms};
use quietbeam_schema::ids::{ApprovalId, CentreCode};
use quietbeam_schema::vocabulary::ApprovalKind;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::brought::{Body, IdempotencyKey, Part};
use super::once::{Creation, Made};
use super::problem::Problem;
use crate::access::Permit;
use crate::access::action::{ManageCentres, ReadCentres};
use crate::registry::approvals;
use crate::store::Store;

/// An approval. It never changes; a renewal is another one.
#[derive(Serialize, ToSchema)]
pub(super) struct ApprovalView {
    /// Its identifier.
    id: String,
    /// `ethics_approval` or `data_agreement`.
    #[schema(value_type = String)]
    kind: ApprovalKind,
    /// How the centre itself calls it.
    reference: String,
    /// Its first day.
    #[schema(value_type = String)]
    valid_from: Day,
    /// Its last day.
    #[schema(value_type = String)]
    valid_until: Day,
    /// The approval that it renews.
    renews: Option<String>,
    /// Who recorded it.
    by: String,
    /// When, UTC.
    at: String,
    /// Why it was taken back, if it was.
    withdrawn_because: Option<String>,
    /// When it was taken back, UTC.
    withdrawn_at: Option<String>,
}

/// The approvals of a centre.
#[derive(Serialize, ToSchema)]
pub(super) struct ApprovalsView {
    /// The approvals, the one that holds longest first.
    items: Vec<ApprovalView>,
}

/// An approval to be recorded.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ApprovalBody {
    /// `ethics_approval` or `data_agreement`.
    #[schema(value_type = String)]
    kind: ApprovalKind,
    /// How the centre itself calls it; names nobody.
    reference: String,
    /// Its first day, such as 2026-04-01.
    #[schema(value_type = String)]
    valid_from: Day,
    /// Its last day.
    #[schema(value_type = String)]
    valid_until: Day,
    /// The approval that it renews, if it does.
    #[schema(value_type = Option<String>)]
    renews: Option<ApprovalId>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct WithdrawalBody {
    /// Why, in 3 to 500 characters that name nobody.
    #[serde(default)]
    reason: String,
}

impl From<Approval> for ApprovalView {
    fn from(approval: Approval) -> Self {
        let Approval { id, terms, renews, by, at, withdrawn, .. } = approval;
        let Terms { kind, reference, valid_from, valid_until } = terms;
        Self {
            id: id.to_string(),
            kind,
            reference,
            valid_from,
            valid_until,
            renews: renews.map(|id| id.to_string()),
            by: by.to_string(),
            at: at.to_string(),
            withdrawn_at: withdrawn.as_ref().map(|withdrawn| withdrawn.at.to_string()),
            withdrawn_because: withdrawn.map(|withdrawn| withdrawn.reason),
        }
    }
}

/// The approvals of a centre, the one that holds longest first.
#[utoipa::path(tag = "Centres", params(("code" = String, Path)), responses((status = 200, body = ApprovalsView)))]
#[get("/centres/{code}/approvals")]
pub(super) async fn list_approvals(
    permit: Permit<ReadCentres>,
    code: Part<CentreCode>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let all = store.read(permit, move |session| {
        session.find_centre(code.0)?;
        session.list_approvals(code.0)
    });
    let items = all.await?.into_iter().map(ApprovalView::from).collect();
    Ok(HttpResponse::Ok().json(ApprovalsView { items }))
}

/// Record an approval of a centre, or the renewal of one.
#[utoipa::path(tag = "Centres", params(("code" = String, Path)), request_body = ApprovalBody,
    responses((status = 201, body = ApprovalView)))]
#[post("/centres/{code}/approvals")]
pub(super) async fn record_approval(
    permit: Permit<ManageCentres>,
    code: Part<CentreCode>,
    key: IdempotencyKey,
    body: Body<ApprovalBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let centre = code.0;
    let creation =
        Creation::new("POST /centres/{code}/approvals", key, &centre.to_string(), &body.fingerprint);
    let ApprovalBody { kind, reference, valid_from, valid_until, renews } = body.value;
    let terms = Terms { kind, reference, valid_from, valid_until };
    creation
        .make(&store, permit, move |session| {
            let approval = approvals::record(session, centre, terms, renews)?;
            let location = format!("/api/v1/centres/{centre}/approvals");
            Ok(Made { location, version: None, view: ApprovalView::from(approval) })
        })
        .await
}

/// Take an approval back, at once. It stays readable.
#[utoipa::path(tag = "Centres", params(("code" = String, Path), ("id" = String, Path)),
    request_body = WithdrawalBody, responses((status = 200, body = ApprovalView)))]
#[post("/centres/{code}/approvals/{id}/withdrawal")]
pub(super) async fn withdraw_approval(
    permit: Permit<ManageCentres>,
    place: Part<(CentreCode, ApprovalId)>,
    body: Body<WithdrawalBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let reason = body.value.reason;
    let approval = store.write(permit, move |session| approvals::withdraw(session, place.0, &reason)).await?;
    Ok(HttpResponse::Ok().json(ApprovalView::from(approval)))
}
