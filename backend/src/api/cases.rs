//! Cases: checked, submitted, read, changed with a reason, followed up.

use actix_web::http::header::ETAG;
use actix_web::{HttpResponse, get, post, put, web};
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::endpoint::Derived;
use quietbeam_schema::finding::Finding;
use quietbeam_schema::ids::{CaseCode, CentreCode};
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{
    Completeness, ProcedureGroup, ProcedureType, RecordState, Strategy, YesNo,
};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::{IntoParams, ToSchema};

use super::brought::{Body, IdempotencyKey, Json, Part, Query};
use super::caller::Signed;
use super::cursor::{List, Rows};
use super::once::{Creation, Made};
use super::problem::{Problem, ProblemError};
use crate::access::Permit;
use crate::access::action::{ChangeCase, ListQueries, ReadCase, ReadHistory, RecordFollowUp, SubmitCase};
use crate::access::session::Caller;
use crate::clock::Clock;
use crate::registry::case_list::{self, CaseSearch};
use crate::registry::cases::{self, NewRecord, Shown, Submitted};
use crate::registry::{IfMatch, RegistryError, Version};
use crate::store::{CaseFilter, CaseRow, Store};

/// Which centre a new case belongs to, for members of several.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(super) struct CentreQuery {
    /// The centre; may be left out by members of one centre.
    #[param(value_type = Option<String>)]
    centre: Option<CentreCode>,
}

/// Which cases are listed.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(super) struct ListQuery {
    /// Only of this centre.
    #[param(value_type = Option<String>)]
    centre: Option<CentreCode>,
    /// Only of this quarter, such as 2026Q3.
    #[param(value_type = Option<String>)]
    period: Option<Quarter>,
    /// Only of this group of procedures.
    #[param(value_type = Option<String>)]
    procedure_group: Option<ProcedureGroup>,
    /// Only of this procedure.
    #[param(value_type = Option<String>)]
    procedure: Option<ProcedureType>,
    /// Only with this intended strategy.
    #[param(value_type = Option<String>)]
    strategy_intended: Option<Strategy>,
    /// `submitted` (every question about it is settled) or `queried`, for whoever may see the
    /// questions.
    #[param(value_type = Option<String>)]
    state: Option<RecordState>,
    /// `complete` or `something_left`.
    #[param(value_type = Option<String>)]
    completeness: Option<Completeness>,
    /// `yes`: a question waits for an answer; `no`: none does. For whoever may see the questions.
    #[param(value_type = Option<String>)]
    open_query: Option<YesNo>,
    /// Rows wanted, 1 to 200.
    limit: Option<u32>,
    /// The `next` of the page before.
    cursor: Option<String>,
}

/// A case as it stands.
#[derive(Serialize, ToSchema)]
pub(super) struct CaseView {
    /// The case code.
    #[schema(value_type = String)]
    code: CaseCode,
    /// The centre.
    #[schema(value_type = String)]
    centre: CentreCode,
    /// Counted from 1.
    revision: i64,
    /// When this revision was written, UTC.
    at: String,
    /// The version of the form.
    form_version: String,
    /// The record with the dictionary's keys.
    #[schema(value_type = Object)]
    record: Value,
    /// What the rules derive from it.
    #[schema(value_type = Option<Object>)]
    derived: Option<Derived>,
}

/// What was stored, and what is asked about it.
#[derive(Serialize, ToSchema)]
pub(super) struct SubmittedView {
    /// The case code.
    #[schema(value_type = String)]
    code: CaseCode,
    /// The centre.
    #[schema(value_type = String)]
    centre: CentreCode,
    /// Counted from 1.
    revision: i64,
    /// SHA-256 of the stored record.
    record_hash: String,
    /// Each raised a data query.
    to_answer: Vec<ProblemError>,
}

/// What a check found; nothing was stored.
#[derive(Serialize, ToSchema)]
pub(super) struct CheckedView {
    /// Whether the case could be submitted.
    acceptable: bool,
    /// What must be mended or may be answered.
    findings: Vec<ProblemError>,
}

/// The whole record as it is to be, and why.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ChangeBody {
    /// The whole record.
    #[schema(value_type = Object)]
    case: Json,
    /// Why, in 3 to 500 characters that name nobody.
    #[serde(default)]
    reason: String,
}

/// The follow-up as it is to be.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct FollowUpBody {
    /// The follow-up.
    #[schema(value_type = Object)]
    follow_up: Json,
    /// Why, where one was recorded before.
    reason: Option<String>,
}

/// One revision.
#[derive(Serialize, ToSchema)]
pub(super) struct RevisionView {
    /// Counted from 1.
    revision: i64,
    /// Who wrote it.
    by: String,
    /// When, UTC.
    at: String,
    /// Why, from the second on.
    reason: Option<String>,
    /// The record as it then stood.
    #[schema(value_type = Object)]
    record: Value,
}

/// Everything that ever stood in a case.
#[derive(Serialize, ToSchema)]
pub(super) struct HistoryView {
    /// All revisions in order.
    revisions: Vec<RevisionView>,
    /// What was done to it, with values before and after.
    #[schema(value_type = Vec<Object>)]
    trail: Vec<super::audit::EventView>,
}

fn record_value(row: &CaseRow) -> Value {
    serde_json::from_str(&row.content.record).unwrap_or_default()
}

impl From<Shown> for CaseView {
    fn from(shown: Shown) -> Self {
        let Shown { row, derived } = shown;
        let record = record_value(&row);
        let CaseRow { code, centre, revision, at, content, .. } = row;
        Self {
            code,
            centre,
            revision,
            at: at.to_string(),
            form_version: content.form_version,
            record,
            derived,
        }
    }
}

impl From<Submitted> for SubmittedView {
    fn from(submitted: Submitted) -> Self {
        let to_answer = submitted.queries.iter().map(ProblemError::from).collect();
        let saved = submitted.saved;
        Self {
            code: saved.code,
            centre: saved.centre,
            revision: saved.revision,
            record_hash: saved.record_hash,
            to_answer,
        }
    }
}

fn changed(submitted: Submitted) -> HttpResponse {
    let etag = Version::of_revision(submitted.saved.revision).etag();
    HttpResponse::Ok().insert_header((ETAG, etag)).json(SubmittedView::from(submitted))
}

/// Check a case by every rule, and store nothing.
#[utoipa::path(tag = "Cases", request_body = Object, responses((status = 200, body = CheckedView)))]
#[post("/cases/check")]
pub(super) async fn check(
    _permit: Permit<SubmitCase>,
    body: Body<Json>,
    clock: web::Data<Clock>,
) -> Result<HttpResponse, Problem> {
    let views = |findings: &[Finding]| findings.iter().map(ProblemError::from).collect();
    let found = match cases::check(&CaseForm::from_json(body.value), clock.now()) {
        Ok(ready) => CheckedView { acceptable: true, findings: views(ready.queries()) },
        Err(RegistryError::Findings(findings)) => {
            CheckedView { acceptable: false, findings: views(&findings) }
        }
        Err(error) => return Err(error.into()),
    };
    Ok(HttpResponse::Ok().json(found))
}

/// Submit a case. Without a code of its own it gets one.
#[utoipa::path(tag = "Cases", params(CentreQuery), request_body = Object,
    responses((status = 201, body = SubmittedView)))]
#[post("/cases")]
pub(super) async fn submit(
    permit: Permit<SubmitCase>,
    query: Query<CentreQuery>,
    key: IdempotencyKey,
    body: Body<Json>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let centre = query.0.centre;
    let of = centre.map(|code| code.to_string()).unwrap_or_default();
    let creation = Creation::new("POST /cases", key, &of, &body.fingerprint);
    let form = CaseForm::from_json(body.value);
    creation
        .make(&store, permit, move |session| {
            let submitted = cases::submit(session, &form, centre)?;
            Ok(Made {
                location: format!("/api/v1/cases/{}", submitted.saved.code),
                version: Some(Version::of_revision(submitted.saved.revision)),
                view: SubmittedView::from(submitted),
            })
        })
        .await
}

/// Whoever does not see what was asked about a case cannot learn it from a filter.
pub(crate) fn may_search(caller: &Caller, search: &CaseSearch) -> Result<(), Problem> {
    if search.filter.is_about_queries() {
        caller.permit::<ListQueries>()?;
    }
    Ok(())
}

/// The current cases, newest first.
#[utoipa::path(tag = "Cases", params(ListQuery), responses((status = 200, body = Rows<CaseView>)))]
#[get("/cases")]
pub(super) async fn list(
    permit: Permit<ReadCase>,
    signed: Signed,
    query: Query<ListQuery>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let query = query.0;
    let search = CaseSearch {
        filter: CaseFilter {
            centre: query.centre,
            period: query.period,
            procedure_group: query.procedure_group,
            procedure: query.procedure,
            strategy_intended: query.strategy_intended,
            state: query.state,
            open_query: query.open_query,
        },
        completeness: query.completeness,
    };
    let caller = signed.caller()?;
    may_search(caller, &search)?;
    let list = List::of("cases", caller.actor(), &search);
    let page = list.page(query.limit, query.cursor.as_deref())?;
    let rows = store
        .read(permit, move |session| {
            let page = case_list::list(session, &search, page)?;
            let now = session.now();
            Ok::<_, RegistryError>(list.show(page, |row| CaseView::from(cases::shown(row, now))))
        })
        .await?;
    Ok(HttpResponse::Ok().json(rows))
}

/// One case as it stands, with what the rules derive from it.
#[utoipa::path(tag = "Cases", params(("code" = String, Path)), responses((status = 200, body = CaseView)))]
#[get("/cases/{code}")]
pub(super) async fn read(
    permit: Permit<ReadCase>,
    code: Part<CaseCode>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let shown = store.read(permit, move |session| cases::read(session, code.0)).await?;
    let etag = Version::of_revision(shown.row.revision).etag();
    Ok(HttpResponse::Ok().insert_header((ETAG, etag)).json(CaseView::from(shown)))
}

/// Change a submitted case, with a reason. The old revision stays readable.
#[utoipa::path(tag = "Cases", params(("code" = String, Path)), request_body = ChangeBody,
    responses((status = 200, body = SubmittedView)))]
#[put("/cases/{code}")]
pub(super) async fn change(
    permit: Permit<ChangeCase>,
    code: Part<CaseCode>,
    if_match: IfMatch,
    body: Body<ChangeBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let ChangeBody { case, reason } = body.value;
    let form = CaseForm::from_json(case);
    let submitted = store
        .write(permit, move |session| {
            cases::change(session, code.0, &if_match, NewRecord { form: &form, reason: &reason })
        })
        .await?;
    Ok(changed(submitted))
}

/// Record the follow-up of a case. The first needs no reason, a later change does.
#[utoipa::path(tag = "Cases", params(("code" = String, Path)), request_body = FollowUpBody,
    responses((status = 200, body = SubmittedView)))]
#[put("/cases/{code}/follow-up")]
pub(super) async fn record_follow_up(
    permit: Permit<RecordFollowUp>,
    code: Part<CaseCode>,
    if_match: IfMatch,
    body: Body<FollowUpBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let FollowUpBody { follow_up, reason } = body.value;
    let submitted = store
        .write(permit, move |session| {
            cases::record_follow_up(session, code.0, &if_match, follow_up, reason.as_deref())
        })
        .await?;
    Ok(changed(submitted))
}

/// Every revision of a case, with who, when and why.
#[utoipa::path(tag = "Cases", params(("code" = String, Path)), responses((status = 200, body = HistoryView)))]
#[get("/cases/{code}/history")]
pub(super) async fn history(
    permit: Permit<ReadHistory>,
    code: Part<CaseCode>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let history = store.read(permit, move |session| session.case_history(code.0)).await?;
    let revision = |row: CaseRow| RevisionView {
        revision: row.revision,
        by: row.actor.to_string(),
        at: row.at.to_string(),
        record: record_value(&row),
        reason: row.reason,
    };
    let view = HistoryView {
        revisions: history.revisions.into_iter().map(revision).collect(),
        trail: history.trail.into_iter().map(super::audit::EventView::from).collect(),
    };
    Ok(HttpResponse::Ok().json(view))
}
