//! Data queries: raised, answered, closed.

use actix_web::{HttpResponse, get, post, web};
use quietbeam_schema::data_query::{Origin, Stage};
use quietbeam_schema::ids::{CaseCode, CentreCode, DataQueryId};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::brought::{Body, IdempotencyKey, Part, Query};
use super::caller::Signed;
use super::cursor::{List, Rows};
use super::once::{Creation, Made};
use super::problem::{BAD_QUERY, Problem};
use crate::access::Permit;
use crate::access::action::{AnswerQuery, CloseQuery, ListQueries, RaiseQuery};
use crate::registry::queries;
use crate::store::{QueryFilter, QueryRow, Question, Store};

/// A question about a case.
#[derive(Serialize, ToSchema)]
pub(super) struct QueryView {
    /// Its identifier.
    id: String,
    /// The case.
    case_code: String,
    /// The centre.
    centre: String,
    /// JSON pointer to the field, if it is one.
    field: Option<String>,
    /// The rule that asks; absent if a monitor asks.
    rule: Option<String>,
    /// The question.
    sentence: String,
    /// Who asked.
    raised_by: String,
    /// When, UTC.
    raised_at: String,
    /// `open`, `answered` or `closed`, with what that stage knows.
    #[schema(value_type = Object)]
    stage: Stage,
}

impl From<QueryRow> for QueryView {
    fn from(row: QueryRow) -> Self {
        let QueryRow { query, centre, .. } = row;
        let rule = match query.origin {
            Origin::Rule(rule) => Some(rule),
            Origin::Manual => None,
        };
        Self {
            id: query.id.to_string(),
            case_code: query.code.to_string(),
            centre: centre.to_string(),
            field: query.field,
            rule,
            sentence: query.sentence,
            raised_by: query.raised_by.to_string(),
            raised_at: query.raised_at.to_string(),
            stage: query.stage,
        }
    }
}

/// Which questions are listed.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(super) struct QueriesQuery {
    /// Only in this stage: open, answered or closed.
    state: Option<String>,
    /// Only about this case.
    #[param(value_type = Option<String>)]
    case_code: Option<CaseCode>,
    /// Only to this centre.
    #[param(value_type = Option<String>)]
    centre: Option<CentreCode>,
    /// Rows wanted, 1 to 200.
    limit: Option<u32>,
    /// The `next` of the page before.
    cursor: Option<String>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct QuestionBody {
    /// The case asked about.
    #[schema(value_type = String)]
    case_code: CaseCode,
    /// JSON pointer to the field, if it is one.
    field: Option<String>,
    /// The question, which names nobody.
    sentence: String,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct AnswerBody {
    /// The answer, which names nobody. To answer with another value, change the case.
    answer: String,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ReopenBody {
    /// What the answer left open.
    sentence: String,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct TakeBackBody {
    /// Why the question is taken back.
    reason: String,
}

fn answered(row: QueryRow) -> HttpResponse {
    HttpResponse::Ok().json(QueryView::from(row))
}

/// The questions within reach, newest first.
#[utoipa::path(tag = "Data queries", params(QueriesQuery), responses((status = 200, body = Rows<QueryView>)))]
#[get("/queries")]
pub(super) async fn list(
    permit: Permit<ListQueries>,
    signed: Signed,
    query: Query<QueriesQuery>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let query = query.0;
    let list =
        List::of("queries", signed.caller()?.actor(), &(&query.state, &query.case_code, &query.centre));
    let page = list.page(query.limit, query.cursor.as_deref())?;
    if query.state.as_deref().is_some_and(|state| !["open", "answered", "closed"].contains(&state)) {
        return Err(Problem::new(&BAD_QUERY, "state: use one of open, answered, closed."));
    }
    let filter = QueryFilter {
        state: query.state,
        code: query.case_code,
        centre: query.centre,
        ..QueryFilter::default()
    };
    let rows = store.read(permit, move |session| session.list_queries(&filter, page)).await?;
    Ok(HttpResponse::Ok().json(list.show(rows, QueryView::from)))
}

/// Ask a centre about a case.
#[utoipa::path(tag = "Data queries", request_body = QuestionBody, responses((status = 201, body = QueryView)))]
#[post("/queries")]
pub(super) async fn raise(
    permit: Permit<RaiseQuery>,
    key: IdempotencyKey,
    body: Body<QuestionBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let creation = Creation::new("POST /queries", key, "", &body.fingerprint);
    let QuestionBody { case_code, field, sentence } = body.value;
    creation
        .make(&store, permit, move |session| {
            let row = queries::raise(session, Question { code: case_code, field, sentence })?;
            let location = format!("/api/v1/queries/{}", row.query.id);
            Ok(Made { location, version: None, view: QueryView::from(row) })
        })
        .await
}

/// One question.
#[utoipa::path(tag = "Data queries", params(("id" = String, Path)), responses((status = 200, body = QueryView)))]
#[get("/queries/{id}")]
pub(super) async fn read(
    permit: Permit<ListQueries>,
    id: Part<DataQueryId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    Ok(answered(store.read(permit, move |session| session.find_query(id.0)).await?))
}

/// Answer a question with a sentence.
#[utoipa::path(tag = "Data queries", params(("id" = String, Path)), request_body = AnswerBody,
    responses((status = 200, body = QueryView)))]
#[post("/queries/{id}/answer")]
pub(super) async fn answer(
    permit: Permit<AnswerQuery>,
    id: Part<DataQueryId>,
    body: Body<AnswerBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let text = body.value.answer;
    Ok(answered(store.write(permit, move |session| queries::answer(session, id.0, &text)).await?))
}

/// Accept the answer; the question is closed.
#[utoipa::path(tag = "Data queries", params(("id" = String, Path)), responses((status = 200, body = QueryView)))]
#[post("/queries/{id}/accept")]
pub(super) async fn accept(
    permit: Permit<CloseQuery>,
    id: Part<DataQueryId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    Ok(answered(store.write(permit, move |session| queries::accept(session, id.0, None)).await?))
}

/// Take a question back; it is closed with the reason.
#[utoipa::path(tag = "Data queries", params(("id" = String, Path)), request_body = TakeBackBody,
    responses((status = 200, body = QueryView)))]
#[post("/queries/{id}/take-back")]
pub(super) async fn take_back(
    permit: Permit<CloseQuery>,
    id: Part<DataQueryId>,
    body: Body<TakeBackBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let reason = body.value.reason;
    Ok(answered(store.write(permit, move |session| queries::take_back(session, id.0, &reason)).await?))
}

/// Open an answered or closed question again, and say what is still to answer.
#[utoipa::path(tag = "Data queries", params(("id" = String, Path)), request_body = ReopenBody,
    responses((status = 200, body = QueryView)))]
#[post("/queries/{id}/reopen")]
pub(super) async fn reopen(
    permit: Permit<CloseQuery>,
    id: Part<DataQueryId>,
    body: Body<ReopenBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let sentence = body.value.sentence;
    Ok(answered(store.write(permit, move |session| queries::reopen(session, id.0, &sentence)).await?))
}
