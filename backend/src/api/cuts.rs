//! Data cuts.

use actix_web::{HttpResponse, get, post, web};
use quietbeam_schema::ids::DataCutId;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::brought::{Body, IdempotencyKey, Part};
use super::once::{Creation, Made};
use super::problem::Problem;
use crate::access::Permit;
use crate::access::action::{ReadDataCuts, TakeDataCut};
use crate::registry::cuts;
use crate::store::{DataCut, Store};

/// A data cut; it never changes.
#[derive(Serialize, ToSchema)]
pub(super) struct CutView {
    /// Its identifier.
    id: String,
    /// Its name.
    name: String,
    /// How many cases it holds.
    cases: i64,
    /// SHA-256 over its content.
    content_hash: String,
    /// Who took it.
    by: String,
    /// When, UTC.
    at: String,
}

/// Data cuts.
#[derive(Serialize, ToSchema)]
pub(super) struct CutsView {
    /// The cuts, newest first.
    items: Vec<CutView>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct CutBody {
    /// A name for people; on a published summary everyone reads it.
    name: String,
}

impl From<DataCut> for CutView {
    fn from(cut: DataCut) -> Self {
        Self {
            id: cut.id.to_string(),
            name: cut.name,
            cases: cut.cases,
            content_hash: cut.content_hash,
            by: cut.actor.to_string(),
            at: cut.at.to_string(),
        }
    }
}

/// Freeze what stands in the registry now.
#[utoipa::path(tag = "Data cuts", request_body = CutBody, responses((status = 201, body = CutView)))]
#[post("/data-cuts")]
pub(super) async fn take(
    permit: Permit<TakeDataCut>,
    key: IdempotencyKey,
    body: Body<CutBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let creation = Creation::new("POST /data-cuts", key, "", &body.fingerprint);
    let name = body.value.name;
    creation
        .make(&store, permit, move |session| {
            let cut = cuts::take(session, &name)?;
            Ok(Made {
                location: format!("/api/v1/data-cuts/{}", cut.id),
                version: None,
                view: CutView::from(cut),
            })
        })
        .await
}

/// The data cuts, newest first.
#[utoipa::path(tag = "Data cuts", responses((status = 200, body = CutsView)))]
#[get("/data-cuts")]
pub(super) async fn list(
    permit: Permit<ReadDataCuts>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let cuts = store.read(permit, |session| session.list_cuts()).await?;
    Ok(HttpResponse::Ok().json(CutsView { items: cuts.into_iter().map(CutView::from).collect() }))
}

/// One data cut.
#[utoipa::path(tag = "Data cuts", params(("id" = String, Path)), responses((status = 200, body = CutView)))]
#[get("/data-cuts/{id}")]
pub(super) async fn read(
    permit: Permit<ReadDataCuts>,
    id: Part<DataCutId>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let cut = store.read(permit, move |session| session.find_cut(id.0)).await?;
    Ok(HttpResponse::Ok().json(CutView::from(cut)))
}
