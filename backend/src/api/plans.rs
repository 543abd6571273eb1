//! Analysis plans: registered, amended, read.

use actix_web::{HttpResponse, get, post, web};
use quietbeam_analysis::study::plan::{
    Change, Cost, EligibilityForm, EndpointForm, LooksForm, PlanForm, RecurrenceForm, costs,
};
use quietbeam_schema::ids::PlanId;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

use super::brought::{Body, IdempotencyKey, Part};
use super::once::{Creation, Made};
use super::problem::Problem;
use crate::access::Permit;
use crate::access::action::{ReadPlans, RegisterPlan};
use crate::api::caller::Signed;
use crate::registry::{RegistryError, plans};
use crate::store::{Plan, ReadsPlans, Session, Store};

/// An analysis plan.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PlanBody {
    /// A few words.
    title: String,
    /// The question in a sentence.
    question: String,
    /// Which cases are compared.
    eligibility: EligibilityBody,
    /// Where cases intended as near-zero are counted: in_neither_arm, as if left out,
    /// with_zero_fluoroscopy or with_conventional.
    near_zero: Option<String>,
    /// Two-sided confidence level, such as 0.95.
    level: f64,
    /// The method that decides: standardised, overlap_weighted or within_centres.
    method: String,
    /// What the arms are compared within, beside the models or by within_centres: centre, as if left
    /// out, or centre_and_procedure_group.
    strata: Option<String>,
    /// Codes of the covariates; none with within_centres.
    covariates: Vec<String>,
    /// What stands for a covariate that is not recorded: indicator or complete_cases.
    missing_covariates: String,
    /// The least share of known outcomes in each arm, such as 0.9.
    least_known: f64,
    /// Codes of the analyses beside the primary one.
    sensitivity: Vec<String>,
    /// Codes of the kinds of patient by which planned endpoints are told apart; the report tells
    /// the others too, as exploratory.
    #[serde(default)]
    subgroups: Vec<String>,
    /// The endpoints in the order in which they are tested.
    endpoints: Vec<EndpointBody>,
    /// How often the data are looked at; once, with the whole level, if left out.
    looks: Option<LooksBody>,
    /// In which days a recurrence counts; after 60 and up to 365 if left out.
    recurrence: Option<RecurrenceBody>,
}

/// The days in which a recurrence counts, from the procedure. Described by curves, without a verdict.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct RecurrenceBody {
    /// Days of blanking, from 0 to 180; 60 if left out.
    blanking_days: Option<u32>,
    /// The last day, 30 or more after blanking and at the most 1500; 365 if left out.
    until_day: Option<u32>,
}

/// Several planned looks at the data, which share the level.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct LooksBody {
    /// The cases of each arm with which the last planned look comes.
    each_arm: u32,
    /// The share of them at each look, two to ten, rising to 1.
    fractions: Vec<f64>,
    /// How the level is spread: obrien_fleming_type, pocock_type or power_family.
    spending: String,
    /// The exponent from 0.1 to 20; only with power_family.
    exponent: Option<f64>,
}

/// Which cases are compared.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct EligibilityBody {
    /// Codes of the procedure groups that are compared whole; none where procedures names what is
    /// compared.
    procedure_groups: Vec<String>,
    /// Codes of single procedure types of other groups, such as cti_afl without atyp_afl.
    #[serde(default)]
    procedures: Vec<String>,
    /// Codes of the ages that are compared, such as 60_69; all of them if left out. Not with the
    /// exclusion paediatric.
    #[serde(default)]
    age_bands: Vec<String>,
    /// Codes of what is left out of them; some hang on how things stood when the cut was taken.
    exclude: Vec<String>,
    /// The least share of its eligible ablations that a centre must have sent in, from 0.5 to 1;
    /// only with low_capture.
    least_capture: Option<f64>,
}

/// An endpoint with its margin.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct EndpointBody {
    /// acute_success, major_within_30_days or major_before_discharge; the window is part of it.
    endpoint: String,
    /// The margin: a proportion without a sign, such as 0.03, or a ratio above 1, such as 1.5.
    margin: f64,
    /// The scale of the margin: risk_difference, or risk_ratio of what nobody wants.
    scale: String,
    /// Which side is worse: lower for success, higher for harm and for a ratio.
    worse_when: String,
    /// Why so much worse would still be acceptable.
    reason: String,
    /// Where the reason comes from.
    source: String,
    /// The proportion expected in the conventional arm.
    expected: f64,
}

/// An amendment: the whole plan as it shall be, and why.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct AmendmentBody {
    /// Why the plan is amended.
    reason: String,
    /// The plan as it shall be.
    plan: PlanBody,
}

impl From<PlanBody> for PlanForm {
    fn from(body: PlanBody) -> Self {
        let EligibilityBody { procedure_groups, procedures, age_bands, exclude, least_capture } =
            body.eligibility;
        Self {
            title: body.title,
            question: body.question,
            eligibility: EligibilityForm { procedure_groups, procedures, age_bands, exclude, least_capture },
            near_zero: body.near_zero,
            level: body.level,
            method: body.method,
            strata: body.strata,
            covariates: body.covariates,
            missing_covariates: body.missing_covariates,
            least_known: body.least_known,
            sensitivity: body.sensitivity,
            subgroups: body.subgroups,
            endpoints: body.endpoints.into_iter().map(EndpointForm::from).collect(),
            looks: body.looks.map(LooksForm::from),
            recurrence: body.recurrence.map(RecurrenceForm::from),
        }
    }
}

impl From<EndpointBody> for EndpointForm {
    fn from(body: EndpointBody) -> Self {
        Self {
            endpoint: body.endpoint,
            margin: body.margin,
            scale: body.scale,
            worse_when: body.worse_when,
            reason: body.reason,
            source: body.source,
            expected: body.expected,
        }
    }
}

impl From<RecurrenceBody> for RecurrenceForm {
    fn from(body: RecurrenceBody) -> Self {
        let usual = Self::default();
        Self {
            blanking_days: body.blanking_days.unwrap_or(usual.blanking_days),
            until_day: body.until_day.unwrap_or(usual.until_day),
        }
    }
}

impl From<LooksBody> for LooksForm {
    fn from(body: LooksBody) -> Self {
        let LooksBody { each_arm, fractions, spending, exponent } = body;
        Self { each_arm, fractions, spending, exponent }
    }
}

/// A version of a plan.
#[derive(Serialize, ToSchema)]
pub(super) struct PlanView {
    /// The version's identifier.
    id: String,
    /// The plan's number.
    number: i64,
    /// 1 as registered; more for amendments.
    version: i64,
    /// The plan.
    #[schema(value_type = Object)]
    plan: Value,
    /// SHA-256 of the plan.
    plan_hash: String,
    /// Why it was amended.
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<String>,
    /// Cases in its scope that had been entered before.
    cases_before: i64,
    /// Comparisons that had been computed before, on any cut.
    comparisons_before: i64,
    /// How often anyone had opened one of them before.
    opened_before: i64,
    /// Who registered it.
    by: String,
    /// When, UTC.
    at: String,
    /// What the amendment changed, place by place.
    #[schema(value_type = Vec<Object>)]
    changes: Vec<Change>,
    /// The cases each endpoint takes.
    #[schema(value_type = Vec<Object>)]
    costs: Vec<Cost>,
    /// What the endpoints mean, in their order.
    definitions: Vec<DefinitionView>,
    /// What every plan of this registry does; the first says what the arms are.
    always: Vec<&'static str>,
}

/// What an endpoint means.
#[derive(Serialize, ToSchema)]
pub(super) struct DefinitionView {
    /// Code of the endpoint.
    endpoint: &'static str,
    /// The version of the definition; the next one where it is changed.
    version: u8,
    /// Until when the endpoint counts.
    window: &'static str,
    /// When it holds, and when nobody knows.
    meaning: &'static str,
}

/// Plans.
#[derive(Serialize, ToSchema)]
pub(super) struct PlansView {
    /// Every version, the newest first.
    items: Vec<PlanView>,
}

fn view<A: ReadsPlans, M>(session: &mut Session<'_, A, M>, kept: Plan) -> Result<PlanView, RegistryError> {
    let plan = plans::read(&kept)?;
    let defined = plan.endpoints().iter().map(|planned| DefinitionView {
        endpoint: planned.endpoint.code(),
        version: planned.endpoint.definition().version,
        window: planned.endpoint.definition().window,
        meaning: planned.endpoint.definition().sentence,
    });
    Ok(PlanView {
        changes: plans::amended(session, &kept)?,
        costs: costs(&plan),
        always: plan.always().to_vec(),
        definitions: defined.collect(),
        id: kept.id.to_string(),
        number: kept.number,
        version: kept.version,
        plan: serde_json::to_value(&plan).map_err(RegistryError::NotWritten)?,
        plan_hash: kept.content_hash,
        reason: kept.reason,
        cases_before: kept.new.cases_before,
        comparisons_before: kept.comparisons_before,
        opened_before: kept.opened_before,
        by: kept.actor.to_string(),
        at: kept.at.to_string(),
    })
}

/// Register an analysis plan. It never changes; amendments are further versions.
#[utoipa::path(tag = "Analysis plans", request_body = PlanBody, responses((status = 201, body = PlanView)))]
#[post("/plans")]
pub(super) async fn register(
    permit: Permit<RegisterPlan>,
    signed: Signed,
    key: IdempotencyKey,
    body: Body<PlanBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let creation = Creation::new("POST /plans", key, "", &body.fingerprint);
    let prepared = prepared(permit, &store, body.value).await?;
    let keep = signed.caller()?.permit::<RegisterPlan>()?;
    creation
        .make(&store, keep, move |session| {
            let kept = prepared.register(session)?;
            made(session, kept)
        })
        .await
}

/// Amend a plan: a further version with its reason; what changed is told place by place.
#[utoipa::path(tag = "Analysis plans", params(("id" = String, Path)), request_body = AmendmentBody,
    responses((status = 201, body = PlanView)))]
#[post("/plans/{id}/amendments")]
pub(super) async fn amend(
    permit: Permit<RegisterPlan>,
    signed: Signed,
    (id, key): (Part<PlanId>, IdempotencyKey),
    body: Body<AmendmentBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let creation = Creation::new("POST /plans/{id}/amendments", key, &id.0.to_string(), &body.fingerprint);
    let AmendmentBody { reason, plan } = body.value;
    let prepared = prepared(permit, &store, plan).await?;
    let keep = signed.caller()?.permit::<RegisterPlan>()?;
    creation
        .make(&store, keep, move |session| {
            let kept = prepared.amend(session, id.0, &reason)?;
            made(session, kept)
        })
        .await
}

async fn prepared(
    permit: Permit<RegisterPlan>,
    store: &web::Data<Store>,
    body: PlanBody,
) -> Result<plans::Prepared, Problem> {
    let reader = store.get_ref().clone();
    let prepared = web::block(move || plans::prepare(&reader, permit, body.into())).await;
    Ok(prepared.map_err(|_| Problem::busy())??)
}

fn made<A: ReadsPlans, M>(
    session: &mut Session<'_, A, M>,
    kept: Plan,
) -> Result<Made<PlanView>, RegistryError> {
    let location = format!("/api/v1/plans/{}", kept.id);
    Ok(Made { location, version: None, view: view(session, kept)? })
}

/// The plans, every version, the newest first.
#[utoipa::path(tag = "Analysis plans", responses((status = 200, body = PlansView)))]
#[get("/plans")]
pub(super) async fn list(
    permit: Permit<ReadPlans>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let items = store
        .read(permit, |session| {
            let kept = session.list_plans()?;
            kept.into_iter().map(|plan| view(session, plan)).collect::<Result<Vec<_>, RegistryError>>()
        })
        .await?;
    Ok(HttpResponse::Ok().json(PlansView { items }))
}

/// One version of a plan.
#[utoipa::path(tag = "Analysis plans", params(("id" = String, Path)), responses((status = 200, body = PlanView)))]
#[get("/plans/{id}")]
pub(super) async fn read(
    permit: Permit<ReadPlans>,
    id: Part<PlanId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let found = store
        .read(permit, move |session| {
            let kept = session.find_plan(id.0)?;
            view(session, kept)
        })
        .await?;
    Ok(HttpResponse::Ok().json(found))
}
