//! The dose report of an X-ray system, read and forgotten.

use actix_web::http::header::CONTENT_TYPE;
use actix_web::{HttpRequest, HttpResponse, post, web};
use futures_util::StreamExt;

use super::problem::{BROKEN_BODY, MEDIA_TYPE, MUST_BE_MENDED, Problem, TOO_LARGE};
use crate::access::Permit;
use crate::access::action::SubmitCase;
use crate::intake::dose_report::{DoseReportProblem, LARGEST, Offer, read};

/// Read a radiation dose structured report (DICOM, uncompressed, at most
/// 16 MB). The totals come back as fields of a case; the rest of the file is
/// passed over, and nothing is stored.
#[utoipa::path(tag = "Cases", request_body(content = Vec<u8>, content_type = "application/dicom"),
    responses((status = 200, body = Offer)))]
#[post("/dose-reports")]
pub(super) async fn create(
    _permit: Permit<SubmitCase>,
    request: HttpRequest,
    payload: web::Payload,
) -> Result<HttpResponse, Problem> {
    let kind = request.headers().get(CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or_default();
    if !kind.trim().eq_ignore_ascii_case("application/dicom") {
        let mend = "Send the file's bytes with \"Content-Type: application/dicom\".";
        return Err(Problem::new(&MEDIA_TYPE, mend));
    }
    let bytes = bounded(payload).await?;
    let read = web::block(move || read(&bytes)?.offer()).await.map_err(|_| Problem::busy())?;
    let offer = read.map_err(|problem| Problem::new(&MUST_BE_MENDED, problem.to_string()))?;
    Ok(HttpResponse::Ok().json(offer))
}

/// The body, or a refusal as soon as it is larger than any report.
async fn bounded(mut payload: web::Payload) -> Result<Vec<u8>, Problem> {
    let mut bytes = Vec::new();
    while let Some(chunk) = payload.next().await {
        let chunk = chunk.map_err(|_| Problem::new(&BROKEN_BODY, "The body ended early. Send it again."))?;
        if bytes.len() + chunk.len() > LARGEST {
            return Err(Problem::new(&TOO_LARGE, DoseReportProblem::TooLarge.to_string()));
        }
        bytes.extend_from_slice(&chunk);
    }
    Ok(bytes)
}
