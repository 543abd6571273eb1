//! Whether the server lives, and whether it can do its work.

use actix_web::{HttpResponse, get, web};

use super::problem::Problem;
use crate::store::Store;

/// The server answers.
#[get("/livez")]
pub(crate) async fn live() -> HttpResponse {
    HttpResponse::Ok().json(serde_json::json!({ "status": "alive" }))
}

/// The store can be read and written.
#[get("/readyz")]
pub(crate) async fn ready(store: web::Data<Store>) -> Result<HttpResponse, Problem> {
    if store.is_ready().await {
        Ok(HttpResponse::Ok().json(serde_json::json!({ "status": "ready" })))
    } else {
        Err(Problem::busy())
    }
}
