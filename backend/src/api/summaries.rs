//! Safety summaries: drafted, approved, published, withdrawn; what is published
//! is read by everyone.

use actix_web::http::header::{ETAG, LOCATION};
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use quietbeam_schema::ids::{DataCutId, SummaryId, SummaryNumber};
use quietbeam_schema::summary::SummaryStage;
use quietbeam_schema::summary_design::DesignForm;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

use super::brought::{Body, IdempotencyKey, Part};
use super::caller::Signed;
use super::once::{Creation, Made};
use super::problem::Problem;
use crate::access::Permit;
use crate::access::action::{
    ApproveSummary, DraftSummary, PublishSummary, ReadSummaryDrafts, WithdrawSummary,
};
use crate::pages::public::{Shelf, as_published};
use crate::registry::{IfMatch, summaries};
use crate::store::{PublicBody, PublicSummary, Store, Summary};

/// A summary that is not, or not only, public.
#[derive(Serialize, ToSchema)]
pub(super) struct SummaryView {
    /// Its identifier.
    id: String,
    /// The data cut it was made from.
    data_cut: String,
    /// Where it stands, with who did which step when.
    #[schema(value_type = Object)]
    stage: SummaryStage,
    /// SHA-256 of what it says.
    content_hash: String,
    /// SHA-256 of what it says and of what could be learnt from it; also its ETag. An approver signs it.
    approval_hash: String,
    /// What it says, just as the public will see it.
    #[schema(value_type = Object)]
    content: Value,
    /// What each seat (an outsider, each centre, each pair of centres) could learn of each number
    /// that must not be told, from this summary and all before it. Never public; left out in lists.
    #[schema(value_type = Object)]
    #[serde(skip_serializing_if = "Option::is_none")]
    learnt: Option<Value>,
}

/// Summaries in any stage.
#[derive(Serialize, ToSchema)]
pub(super) struct SummariesView {
    /// The summaries, newest first.
    items: Vec<SummaryView>,
}

/// A published summary, in short.
#[derive(Serialize, ToSchema)]
pub(super) struct PublishedView {
    /// Its number.
    number: i64,
    /// When it was published, UTC.
    published_at: String,
    /// SHA-256 of what it says.
    content_hash: String,
    /// The hash of the data cut it was made from.
    data_cut_hash: String,
    /// Whether it was withdrawn, and why.
    withdrawn: Option<String>,
    /// The number of the summary that says it right.
    corrected_by: Option<i64>,
}

/// All published summaries.
#[derive(Serialize, ToSchema)]
pub(super) struct PublishedListView {
    /// The summaries, newest first.
    items: Vec<PublishedView>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct DraftBody {
    /// The data cut to summarise.
    #[schema(value_type = String)]
    data_cut: DataCutId,
    /// What it is to show: `first_year` and `last_year`, or `first_quarter` and `last_quarter` such as
    /// `2025Q3`; `tables` (`complication_class`, `detection_route`, `year`, `region`, `dose`, `staff`,
    /// `staff_dose`, `completeness`, `capture`), `comparison` (the identifier of one that carried out a plan on the same
    /// cut and whose report is final), `told_first` (`tables` or `comparison`: whose counts, where not all
    /// can be told), `profile` (`strict` or `two_tier`), `profile_numbers`
    /// (an object of whole numbers, the standard one of each that is left out: `threshold` 11,
    /// `least_centres` 3, `least_width` 5, `dominance` 10, `coalition` 2, and of two tiers `network_cases`
    /// 1000 and `network_centres` 5), `profile_reason` (why it shows more: for two tiers or a number below
    /// the standard one, and only then), `question` and `text` without any figure.
    #[serde(default)]
    #[schema(value_type = Object)]
    design: DesignForm,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct WithdrawBody {
    /// The public reason.
    reason: String,
    /// The number of a later summary that says it right.
    corrected_by: Option<i64>,
}

impl From<Summary> for SummaryView {
    fn from(summary: Summary) -> Self {
        let approval_hash = summary.approval_hash();
        let json = |text: &str| serde_json::from_str(text).unwrap_or_default();
        Self {
            id: summary.id.to_string(),
            data_cut: summary.cut.to_string(),
            stage: summary.stage,
            content_hash: summary.content_hash,
            approval_hash,
            content: json(&summary.content),
            learnt: summary.learnt.as_deref().map(json),
        }
    }
}

impl From<PublicSummary> for PublishedView {
    fn from(summary: PublicSummary) -> Self {
        let corrected_by = match &summary.body {
            PublicBody::Withdrawn { corrected_by, .. } => corrected_by.map(|successor| successor.0),
            PublicBody::InForce(_) => None,
        };
        Self {
            number: summary.number.0,
            published_at: summary.published_at.to_string(),
            content_hash: summary.content_hash,
            data_cut_hash: summary.cut_hash,
            withdrawn: match summary.body {
                PublicBody::InForce(_) => None,
                PublicBody::Withdrawn { reason, .. } => Some(reason),
            },
            corrected_by,
        }
    }
}

fn shown(summary: Summary) -> HttpResponse {
    let etag = summaries::version(&summary).etag();
    HttpResponse::Ok().insert_header((ETAG, etag)).json(SummaryView::from(summary))
}

/// Compose a summary from a data cut. Small cells are hidden before anyone sees it.
#[utoipa::path(tag = "Safety summaries", request_body = DraftBody, responses((status = 201, body = SummaryView)))]
#[post("/summary-drafts")]
pub(super) async fn draft(
    permit: Permit<DraftSummary>,
    signed: Signed,
    key: IdempotencyKey,
    body: Body<DraftBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let creation = Creation::new("POST /summary-drafts", key, "", &body.fingerprint);
    let DraftBody { data_cut, design } = body.value;
    let caller = signed.caller()?;
    let keep = caller.permit::<DraftSummary>()?;
    let permits = [permit, caller.permit()?];
    let reader = store.get_ref().clone();
    let composed = web::block(move || summaries::compose(&reader, permits, data_cut, design))
        .await
        .map_err(|_| Problem::busy())??;
    creation
        .make(&store, keep, move |session| {
            let id = session.draft_summary(&composed.new)?;
            let summary = session.find_summary(id)?;
            let version = Some(summaries::version(&summary));
            Ok(Made {
                location: format!("/api/v1/summary-drafts/{id}"),
                version,
                view: SummaryView::from(summary),
            })
        })
        .await
}

/// The summaries in any stage, newest first.
#[utoipa::path(tag = "Safety summaries", responses((status = 200, body = SummariesView)))]
#[get("/summary-drafts")]
pub(super) async fn drafts(
    permit: Permit<ReadSummaryDrafts>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let summaries = store.read(permit, |session| session.list_summaries()).await?;
    let in_short = |summary| SummaryView { learnt: None, ..SummaryView::from(summary) };
    Ok(HttpResponse::Ok().json(SummariesView { items: summaries.into_iter().map(in_short).collect() }))
}

/// One summary in any stage.
#[utoipa::path(tag = "Safety summaries", params(("id" = String, Path)), responses((status = 200, body = SummaryView)))]
#[get("/summary-drafts/{id}")]
pub(super) async fn read_draft(
    permit: Permit<ReadSummaryDrafts>,
    id: Part<SummaryId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    Ok(shown(store.read(permit, move |session| session.find_summary(id.0)).await?))
}

/// Approve the disclosure of exactly what was read; If-Match names it. It is attacked once more with
/// everything published by now: refused if somebody could work out a count, and to be read again if
/// the attack finds otherwise than it did.
#[utoipa::path(tag = "Safety summaries", params(("id" = String, Path), ("If-Match" = String, Header)),
    responses((status = 200, body = SummaryView)))]
#[post("/summary-drafts/{id}/approval")]
pub(super) async fn approve(
    permit: Permit<ApproveSummary>,
    signed: Signed,
    id: Part<SummaryId>,
    if_match: IfMatch,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let permits = [permit, signed.caller()?.permit::<ApproveSummary>()?];
    let store = store.get_ref().clone();
    let approved = web::block(move || summaries::approve(&store, permits, id.0, &if_match));
    Ok(shown(approved.await.map_err(|_| Problem::busy())??))
}

/// Publish an approved summary. Whoever approved or composed it cannot. It is attacked once more with
/// everything published by now.
#[utoipa::path(tag = "Safety summaries", params(("id" = String, Path)), responses((status = 200, body = SummaryView)))]
#[post("/summary-drafts/{id}/publication")]
pub(super) async fn publish(
    permit: Permit<PublishSummary>,
    signed: Signed,
    id: Part<SummaryId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let permits = [permit, signed.caller()?.permit::<PublishSummary>()?];
    let store = store.get_ref().clone();
    let published = web::block(move || summaries::publish(&store, permits, id.0));
    let (number, summary) = published.await.map_err(|_| Problem::busy())??;
    let location = format!("/api/v1/summaries/{}", number.0);
    Ok(HttpResponse::Ok().insert_header((LOCATION, location)).json(SummaryView::from(summary)))
}

/// Withdraw a published summary, with a public reason; a correction names the later one that says it
/// right.
#[utoipa::path(tag = "Safety summaries", params(("id" = String, Path)), request_body = WithdrawBody,
    responses((status = 200, body = SummaryView)))]
#[post("/summary-drafts/{id}/withdrawal")]
pub(super) async fn withdraw(
    permit: Permit<WithdrawSummary>,
    id: Part<SummaryId>,
    body: Body<WithdrawBody>,
    (store, shelf): (web::Data<Store>, web::Data<Shelf>),
) -> Result<HttpResponse, Problem> {
    let WithdrawBody { reason, corrected_by } = body.value;
    let by = corrected_by.map(SummaryNumber);
    let gone = store.write(permit, move |session| summaries::withdraw(session, id.0, &reason, by)).await?;
    shelf.clear();
    Ok(shown(gone))
}

/// What was published, newest first. Needs no sign-in.
#[utoipa::path(tag = "Safety summaries", responses((status = 200, body = PublishedListView)))]
#[get("/summaries")]
pub(super) async fn list(store: web::Data<Store>) -> Result<HttpResponse, Problem> {
    let published = store.read(Permit::public(), |session| session.list_published()).await?;
    let items = published.into_iter().map(PublishedView::from).collect();
    Ok(HttpResponse::Ok().json(PublishedListView { items }))
}

/// One published summary, byte by byte as it was published. Needs no sign-in.
#[utoipa::path(tag = "Safety summaries", params(("number" = i64, Path)), responses((status = 200, body = Object)))]
#[get("/summaries/{number}")]
pub(super) async fn read(
    number: Part<i64>,
    request: HttpRequest,
    (store, shelf): (web::Data<Store>, web::Data<Shelf>),
) -> Result<HttpResponse, Problem> {
    as_published(SummaryNumber(number.0), &request, (&store, &shelf)).await
}
