//! Events before their judges.

use actix_web::{HttpResponse, get, post, web};
use quietbeam_analysis::methods::interval::Interval;
use quietbeam_analysis::study::estimate::Estimate;
use quietbeam_analysis::study::judges::Agreement;
use quietbeam_schema::adjudication::{Fact, Settled};
use quietbeam_schema::vocabulary::HarmRuling;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use utoipa::ToSchema;

use super::brought::{Body, IdempotencyKey, Part};
use super::once::{Creation, Made};
use super::problem::Problem;
use crate::access::Permit;
use crate::access::action::{JudgeEvents, ReadJudgements};
use crate::registry::adjudication::{self, Event};
use crate::store::{Judgement, Store};

/// An event as its judges see it: nothing tells strategy, dose, imaging or centre.
#[derive(Serialize, ToSchema)]
pub(super) struct EventToJudgeView {
    /// Its identifier, a hash. A correction of what is shown makes another event.
    event: String,
    /// What is shown of patient and procedure, by the keys of the dictionary.
    #[schema(value_type = Object)]
    of_case: BTreeMap<String, String>,
    /// What is shown of the event, by the keys of the dictionary.
    #[schema(value_type = Object)]
    of_event: BTreeMap<String, String>,
}

/// Events that wait for whoever asks.
#[derive(Serialize, ToSchema)]
pub(super) struct DocketView {
    /// The events.
    items: Vec<EventToJudgeView>,
    /// How many events the judge has judged.
    judged: usize,
}

/// What a judge says of an event.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct JudgementBody {
    /// `major`, `minor`, `no_harm` or `cannot_tell`.
    #[schema(value_type = String)]
    ruling: HarmRuling,
    /// Why, in a sentence that names nobody.
    sentence: String,
}

/// A judgement. It never changes.
#[derive(Serialize, ToSchema)]
pub(super) struct JudgementView {
    /// The event.
    event: String,
    /// What was said of it.
    #[schema(value_type = String)]
    ruling: HarmRuling,
    /// Why.
    sentence: String,
    /// When, UTC.
    at: String,
}

/// How far an event has been judged.
#[derive(Serialize, ToSchema)]
pub(super) struct ProgressView {
    /// The event.
    event: String,
    /// Its case.
    case: String,
    /// The code of what happened.
    kind: String,
    /// How many have judged it.
    judgements: usize,
    /// `open`, `by_two` or `by_third`.
    stands: String,
    /// What counts, once it is settled.
    #[schema(value_type = Option<String>)]
    ruling: Option<HarmRuling>,
}

/// How far the first two judges of an event agree: share and Cohen's kappa, with 95 % limits.
#[derive(Serialize, ToSchema)]
pub(super) struct AgreementView {
    /// Events with two rulings.
    judged_twice: u32,
    /// Of these, with the same one twice.
    agreed: u32,
    /// Cohen's kappa: `estimate`, `lower`, `upper`; or why there is none.
    #[schema(value_type = Object)]
    kappa: Estimate<Interval>,
    /// The same in words.
    in_words: String,
}

impl From<Agreement> for AgreementView {
    fn from(found: Agreement) -> Self {
        let Agreement { agreed, kappa, in_words } = found;
        Self { judged_twice: agreed.of, agreed: agreed.count, kappa, in_words }
    }
}

/// How far all events have been judged.
#[derive(Serialize, ToSchema)]
pub(super) struct ProgressesView {
    /// The events.
    items: Vec<ProgressView>,
    /// How far the first two judges of an event agree; absent where no event has two.
    agreement: Option<AgreementView>,
}

impl From<&Event> for EventToJudgeView {
    fn from(event: &Event) -> Self {
        let texts = |facts: &[Fact]| {
            let entries = facts.iter().flat_map(|fact| fact.entries.iter());
            entries.map(|(key, text)| (key.to_owned(), text.to_owned())).collect()
        };
        let (of_case, of_event) = (texts(&event.shown.of_case), texts(&event.shown.of_event));
        Self { event: event.id.clone(), of_case, of_event }
    }
}

impl From<Judgement> for JudgementView {
    fn from(kept: Judgement) -> Self {
        Self { event: kept.event, ruling: kept.ruling, sentence: kept.sentence, at: kept.at.to_string() }
    }
}

impl From<&Event> for ProgressView {
    fn from(event: &Event) -> Self {
        use quietbeam_schema::vocabulary::Coded;
        let settled = event.settled();
        let stands = match settled {
            Settled::Open => "open",
            Settled::ByTwo(_) => "by_two",
            Settled::ByThird(_) => "by_third",
        };
        Self {
            event: event.id.clone(),
            case: event.case.to_string(),
            kind: event.shown.kind.code().to_owned(),
            judgements: event.judgements.len(),
            stands: stands.to_owned(),
            ruling: settled.ruling(),
        }
    }
}

/// The events that wait for the judge who asks, in an order that tells nothing.
#[utoipa::path(tag = "Adjudication", responses((status = 200, body = DocketView)))]
#[get("/adjudication/events")]
pub(super) async fn list(
    permit: Permit<JudgeEvents>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let docket = store.read(permit, adjudication::docket).await?;
    let items = docket.waiting.iter().map(EventToJudgeView::from).collect();
    Ok(HttpResponse::Ok().json(DocketView { items, judged: docket.judged.len() }))
}

/// Judge an event, once. Two judges decide together, a third where they differ.
#[utoipa::path(tag = "Adjudication", params(("event" = String, Path)), request_body = JudgementBody,
    responses((status = 201, body = JudgementView)))]
#[post("/adjudication/events/{event}/judgement")]
pub(super) async fn judge(
    permit: Permit<JudgeEvents>,
    event: Part<String>,
    key: IdempotencyKey,
    body: Body<JudgementBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let event = event.0;
    let route = "POST /adjudication/events/{event}/judgement";
    let creation = Creation::new(route, key, &event, &body.fingerprint);
    let JudgementBody { ruling, sentence } = body.value;
    creation
        .make(&store, permit, move |session| {
            let kept = adjudication::judge(session, &event, ruling, &sentence)?;
            let location = "/api/v1/adjudication/events".to_owned();
            Ok(Made { location, version: None, view: JudgementView::from(kept) })
        })
        .await
}

/// How far every event has been judged, and how. For whoever watches over the judging.
#[utoipa::path(tag = "Adjudication", responses((status = 200, body = ProgressesView)))]
#[get("/adjudication/progress")]
pub(super) async fn progress(
    permit: Permit<ReadJudgements>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let events = store.read(permit, adjudication::progress).await?;
    let agreement = adjudication::agreement(&events).map(AgreementView::from);
    let items = events.iter().map(ProgressView::from).collect();
    Ok(HttpResponse::Ok().json(ProgressesView { items, agreement }))
}
