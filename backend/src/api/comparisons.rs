//! Comparisons on a data cut.

use actix_web::http::header::ETAG;
use actix_web::{HttpResponse, get, post, put, web};
use quietbeam_analysis::study::report::ByPerson;
use quietbeam_analysis::study::request::{ComparisonRequest, RequestForm};
use quietbeam_schema::ids::{ComparisonId, DataCutId, PlanId};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::sync::Arc;
use utoipa::ToSchema;

use super::brought::{Body, IdempotencyKey, MaybeIfMatch, Part};
use super::caller::Signed;
use super::once::{Creation, Made};
use super::problem::Problem;
use super::sent::sent;
use crate::access::Permit;
use crate::access::action::{ExportDeidentified, ReadComparisons, RunComparison, WriteReport};
use crate::access::session::Caller;
use crate::export::{Format, pack_texts};
use crate::registry::comparisons::Question;
use crate::registry::report_texts::Texts;
use crate::registry::reports::{Found, Opened, Reports};
use crate::registry::{RegistryError, Version, comparisons, rechecks, report_texts};
use crate::store::{Comparison, ReportText, Store, StoreError};

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
    let opened = store.write(permit, move |session| {
        Ok::<_, StoreError>((session.open_comparison(id)?, Texts::read(session, id)?))
    });
    let opened = opened.await?;
    let (again, reader) = (caller.permit::<ReadComparisons>()?, store.clone());
    let work = move || reports.of(&reader, again, opened);
    Ok(web::block(work).await.map_err(|_| Problem::busy())??)
}

/// The report of a comparison that carried out a plan: what was shown and what was not, who was
/// compared and how alike the arms were, each centre, and what stands beside. The same cut, plan,
/// written texts and software give the same report. Looking at it is kept and counted.
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

/// A text of the checklist.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct TextBody {
    /// 20 to 4,000 characters; a blank takes back what stood there.
    text: String,
}

/// An item of the checklist that only a person can write.
#[derive(Serialize, ToSchema)]
pub(super) struct TextView {
    /// Its number.
    item: u8,
    /// What it asks.
    asks: &'static str,
    /// Whether the report stays a draft without it.
    blocking: bool,
    /// The version of the text, from 1; 0 where nobody wrote it.
    version: i64,
    /// What stands there.
    text: Option<String>,
    /// Who wrote it.
    by: Option<String>,
    /// When, UTC.
    at: Option<String>,
}

/// The items of the checklist that only a person can write.
#[derive(Serialize, ToSchema)]
pub(super) struct TextsView {
    /// The items in their order.
    items: Vec<TextView>,
}

impl TextView {
    fn new(item: ByPerson, kept: Option<&ReportText>) -> Self {
        Self {
            item: item.number(),
            asks: item.asks(),
            blocking: item.is_blocking(),
            version: kept.map_or(0, |kept| kept.version),
            text: kept.map(|kept| kept.text.clone()).filter(|text| !text.is_empty()),
            by: kept.map(|kept| kept.actor.to_string()),
            at: kept.map(|kept| kept.at.to_string()),
        }
    }
}

/// The items of a report's checklist that only a person can write, and what stands there. It
/// shows nothing that was found, so it is no look.
#[utoipa::path(tag = "Comparisons", params(("id" = String, Path)), responses((status = 200, body = TextsView)))]
#[get("/comparisons/{id}/checklist")]
pub(super) async fn texts(
    permit: Permit<ReadComparisons>,
    id: Part<ComparisonId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let texts = store
        .read(permit, move |session| {
            session.find_comparison(id.0)?;
            Texts::read(session, id.0)
        })
        .await?;
    let items = ByPerson::ALL.map(|item| TextView::new(item, texts.kept.get(&item)));
    Ok(HttpResponse::Ok().json(TextsView { items: items.into() }))
}

/// Write an item of the checklist, or change it with If-Match.
#[utoipa::path(tag = "Comparisons", params(("id" = String, Path), ("item" = u8, Path)),
    request_body = TextBody, responses((status = 200, body = TextView)))]
#[put("/comparisons/{id}/checklist/{item}")]
pub(super) async fn write_text(
    permit: Permit<WriteReport>,
    place: Part<(ComparisonId, u8)>,
    if_match: MaybeIfMatch,
    body: Body<TextBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (id, number) = place.0;
    let item = ByPerson::of_number(number).ok_or_else(Problem::absent)?;
    let text = body.value.text;
    let kept = store
        .write(permit, move |session| report_texts::write(session, (id, item), if_match.0.as_ref(), &text))
        .await?;
    let etag = Version::of_revision(kept.version).etag();
    Ok(HttpResponse::Ok().insert_header((ETAG, etag)).json(TextView::new(item, Some(&kept))))
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
