//! The dictionary, for everyone.

use actix_web::{HttpResponse, get, http::header::CONTENT_DISPOSITION};
use quietbeam_schema::codebook::codebook;

use super::problem::Problem;
use crate::intake::workbook_template;

/// The media type of a workbook.
pub(crate) const WORKBOOK: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

/// Every variable with its meaning, codes, units, limits and rules.
#[utoipa::path(tag = "Dictionary", security(()), responses((status = 200, body = Object)))]
#[get("/dictionary")]
pub(super) async fn read() -> HttpResponse {
    HttpResponse::Ok().json(codebook())
}

/// A workbook to fill in, made from the dictionary: the three tables with
/// drop-down lists, units and help.
#[utoipa::path(tag = "Dictionary", security(()),
    responses((status = 200, body = Vec<u8>, content_type = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")))]
#[get("/dictionary/workbook")]
pub(super) async fn workbook() -> Result<HttpResponse, Problem> {
    let bytes = workbook_template().map_err(|error| {
        tracing::error!(%error, "the template cannot be written");
        Problem::broken()
    })?;
    let name = "attachment; filename=\"quietbeam-cases.xlsx\"";
    Ok(HttpResponse::Ok().content_type(WORKBOOK).insert_header((CONTENT_DISPOSITION, name)).body(bytes))
}
