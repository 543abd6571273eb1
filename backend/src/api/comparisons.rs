//! Comparisons on a data cut.

use actix_web::{HttpResponse, get, post, web};
use quietbeam_analysis::study::request::{ComparisonRequest, RequestForm};
use quietbeam_schema::ids::{ComparisonId, DataCutId, PlanId};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::sync::Arc;
use utoipa::ToSchema;

use super::brought::{Body, IdempotencyKey, Part};
use super::caller::Signed;
use super::once::{Creation, Made};
use super::problem::Problem;
use super::sent::sent;
use crate::access::Permit;
use crate::access::action::{ExportDeidentified, ReadComparisons, RunComparison};
use crate::access::session::Caller;
use crate::export::{Format, pack_texts};
use crate::registry::comparisons::Question;
use crate::registry::reports::{Found, Opened, Reports};
use crate::registry::{RegistryError, comparisons, rechecks};
use crate::store::{Comparison, Store};

/// What is asked of a comparison: the plan to carry out, or else margins, of which those left
/// out take their default. Without a plan nothing was fixed beforehand, and the result says so.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ComparisonBody {
    /// The version of the plan to carry out; then nothing else is named.
    plan: Option<String>,
    /// Margin for acute success as a proportion; 0.03 if left out.
    success_margin: Option<f64>,
    /// Margin for major complications within 30 days as a proportion; 0.01 if left out.
    major_harm_margin: Option<f64>,
    /// Two-sided confidence level; 0.95 if left out.
    level: Option<f64>,
    /// Codes of the procedure groups to compare; all if left out.
    procedure_groups: Option<Vec<String>>,
}

/// A comparison as it is kept.
#[derive(Serialize, ToSchema)]
pub(super) struct ComparisonView {
    /// Its identifier.
    id: String,
    /// The data cut.
    data_cut: String,
    /// What computed it.
    software: String,
    /// SHA-256 of the result.
    result_hash: String,
    /// Who ran it.
    by: String,
    /// When, UTC.
    at: String,
    /// The result, with the cut's hash and the cautions.
    #[schema(value_type = Object)]
    result: Value,
}

/// Comparisons on one cut.
#[derive(Serialize, ToSchema)]
pub(super) struct ComparisonsView {
    /// The comparisons, newest first.
    items: Vec<ComparisonView>,
}

fn view(comparison: Comparison) -> Result<ComparisonView, RegistryError> {
    let result = serde_json::from_str(&comparison.content.result).map_err(RegistryError::NotWritten)?;
    Ok(ComparisonView {
        id: comparison.id.to_string(),
        data_cut: comparison.content.cut.to_string(),
        software: comparison.content.software_version,
        result_hash: comparison.result_hash,
        by: comparison.actor.to_string(),
        at: comparison.at.to_string(),
        result,
    })
}

fn question(body: ComparisonBody) -> Result<Question, Problem> {
    let ComparisonBody { plan, success_margin, major_harm_margin, level, procedure_groups } = body;
    let form = RequestForm { success_margin, major_harm_margin, level, procedure_groups };
    let Some(plan) = plan else {
        let request = ComparisonRequest::try_from(form)
            .map_err(|refusal| Problem::field(&format!("/{}", refusal.field()), "value", refusal))?;
        return Ok(Question::WithoutPlan(request));
    };
    if form != RequestForm::default() {
        let sentence = "the plan says margins, level and groups; leave them out beside it";
        return Err(Problem::field("/plan", "plan_says", sentence));
    }
    let id = plan.parse::<PlanId>().map_err(|error| Problem::field("/plan", "value", error))?;
    Ok(Question::Plan(id))
}

/// Compare the strategies on a data cut. Each run is kept and counted.
#[utoipa::path(tag = "Comparisons", params(("id" = String, Path)), request_body = ComparisonBody,
    responses((status = 201, body = ComparisonView)))]
#[post("/data-cuts/{id}/comparisons")]
pub(super) async fn run(
    permit: Permit<RunComparison>,
    signed: Signed,
    (id, key): (Part<DataCutId>, IdempotencyKey),
    body: Body<ComparisonBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let creation =
        Creation::new("POST /data-cuts/{id}/comparisons", key, &id.0.to_string(), &body.fingerprint);
    let question = question(body.value)?;
    let keep = signed.caller()?.permit::<RunComparison>()?;
    let reader = store.get_ref().clone();
    let cut = id.0;
    let computed = web::block(move || comparisons::compute(&reader, permit, cut, question))
        .await
        .map_err(|_| Problem::busy())??;
    creation
        .make(&store, keep, move |session| {
            let kept = computed.keep(session)?;
            let location = format!("/api/v1/comparisons/{}", kept.id);
            Ok(Made { location, version: None, view: view(kept)? })
        })
        .await
}

/// The comparisons on a data cut. Looking at them is kept and counted.
#[utoipa::path(tag = "Comparisons", params(("id" = String, Path)), responses((status = 200, body = ComparisonsView)))]
#[get("/data-cuts/{id}/comparisons")]
pub(super) async fn list(
    permit: Permit<ReadComparisons>,
    id: Part<DataCutId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let kept = store.write(permit, move |session| session.open_comparisons(id.0)).await?;
    let items = kept.into_iter().map(view).collect::<Result<_, _>>()?;
    Ok(HttpResponse::Ok().json(ComparisonsView { items }))
}

/// One comparison. Looking at it is kept and counted.
#[utoipa::path(tag = "Comparisons", params(("id" = String, Path)), responses((status = 200, body = ComparisonView)))]
#[get("/comparisons/{id}")]
pub(super) async fn read(
    permit: Permit<ReadComparisons>,
    id: Part<ComparisonId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let kept = store.write(permit, move |session| session.open_comparison(id.0)).await?;
    Ok(HttpResponse::Ok().json(view(kept)?))
}

/// Opens a comparison, which is kept and counted, and reads what it found; for the API and the pages.
pub(crate) async fn opened(
    permit: Permit<ReadComparisons>,
    caller: &Caller,
    id: ComparisonId,
    (store, reports): (&Store, web::Data<Reports>),
) -> Result<Arc<Opened>, Problem> {
    let opened = store.write(permit, move |session| session.open_comparison(id)).await?;
    let (again, reader) = (caller.permit::<ReadComparisons>()?, store.clone());
    let work = move || reports.of(&reader, again, opened);
    Ok(web::block(work).await.map_err(|_| Problem::busy())??)
}

/// The report of a comparison that carried out a plan: what was shown and what was not, who was
/// compared and how alike the arms were, each centre, and what stands beside. The same cut, plan
/// and software give the same report. Looking at it is kept and counted.
#[utoipa::path(tag = "Comparisons", params(("id" = String, Path)), responses((status = 200, body = Object)))]
#[get("/comparisons/{id}/report")]
pub(super) async fn report(
    permit: Permit<ReadComparisons>,
    signed: Signed,
    id: Part<ComparisonId>,
    (store, reports): (web::Data<Store>, web::Data<Reports>),
) -> Result<HttpResponse, Problem> {
    let opened = opened(permit, signed.caller()?, id.0, (&store, reports)).await?;
    match &opened.found {
        Found::Planned(_, report) => Ok(HttpResponse::Ok().json(report)),
        // Without a plan there is nothing to report on: what was computed is the whole of it.
        Found::Unplanned(_) => Err(Problem::absent()),
    }
}

/// The kit to compute a planned comparison again in base R: tables of counts and patterns, the
/// plan, the results and the script, as an archive. Its patterns are as good as rows of the data
/// cut: it is for those who may take rows out, and taking it is kept. Looking is counted.
#[utoipa::path(tag = "Comparisons", params(("id" = String, Path)),
    responses((status = 200, body = Vec<u8>, content_type = "application/zip")))]
#[get("/comparisons/{id}/recheck")]
pub(super) async fn recheck(
    look: Permit<ExportDeidentified>,
    signed: Signed,
    id: Part<ComparisonId>,
    (store, reports): (web::Data<Store>, web::Data<Reports>),
) -> Result<HttpResponse, Problem> {
    recheck_kit(look, signed.caller()?, id.0, (store.get_ref().clone(), reports)).await
}

/// The same for the API and the pages.
pub(crate) async fn recheck_kit(
    look: Permit<ExportDeidentified>,
    caller: &Caller,
    id: ComparisonId,
    (store, reports): (Store, web::Data<Reports>),
) -> Result<HttpResponse, Problem> {
    let (open, note) = (caller.permit::<ReadComparisons>()?, caller.permit::<ExportDeidentified>()?);
    let opened = opened(open, caller, id, (&store, reports)).await?;
    let work = move || {
        let Found::Planned(_, made) = &opened.found else { return Ok(None) };
        let kit = rechecks::kit(&store, (look, note), (&opened.kept, &opened.cut), &made.planned)?;
        let parts = kit.files.iter().map(|file| (file.name.as_str(), file.text.as_str()));
        Ok::<_, RegistryError>(Some(pack_texts(parts)?))
    };
    let packed = web::block(work).await.map_err(|_| Problem::busy())??;
    // Without a plan there is nothing to compute again.
    let packed = packed.ok_or_else(Problem::absent)?;
    Ok(sent(packed, "comparison-recheck.zip", Format::Delimited.media_type()))
}
