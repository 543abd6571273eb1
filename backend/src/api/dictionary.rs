//! The dictionary, for everyone.

use actix_web::{HttpResponse, get};
use quietbeam_schema::codebook::codebook;

/// Every variable with its meaning, codes, units, limits and rules.
#[utoipa::path(tag = "Dictionary", security(()), responses((status = 200, body = Object)))]
#[get("/dictionary")]
pub(super) async fn read() -> HttpResponse {
    HttpResponse::Ok().json(codebook())
}
