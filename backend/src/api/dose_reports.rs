//! The dose report of an X-ray system, read and forgotten.

use actix_web::http::header::CONTENT_TYPE;
use actix_web::{HttpRequest, HttpResponse, post, web};
use futures_util::StreamExt;
use serde::Serialize;
use utoipa::ToSchema;

use super::problem::{BROKEN_BODY, MEDIA_TYPE, MUST_BE_MENDED, Problem, TOO_LARGE};
use crate::access::Permit;
use crate::access::action::SubmitCase;
use crate::intake::dose_report::{DoseReportProblem, LARGEST, Offer, read};

/// A field of the case form with the value that the report gives it.
#[derive(Serialize, ToSchema)]
struct FieldView {
    /// The field's name in the dictionary.
    field: String,
    /// The value.
    value: String,
    /// The unit in UCUM notation, for a quantity.
    unit: Option<String>,
}

/// A total of one plane.
#[derive(Serialize, ToSchema)]
struct TotalView {
    /// What was added up, in words.
    total: String,
    /// The value.
    value: f64,
    /// The unit in UCUM notation.
    unit: String,
}

/// The totals of one plane. Totals of two planes are never added as a skin dose.
#[derive(Serialize, ToSchema)]
struct PlaneView {
    /// Which plane.
    plane: String,
    /// What the report gives for it.
    totals: Vec<TotalView>,
}

/// What a dose report says. Nothing of it is stored.
#[derive(Serialize, ToSchema)]
pub(super) struct DoseReportView {
    /// The fields of a case that it can fill.
    fields: Vec<FieldView>,
    /// Its totals.
    planes: Vec<PlaneView>,
    /// What to know before taking the figures.
    notes: Vec<String>,
}

/// Read a radiation dose structured report (DICOM, uncompressed, at most
/// 16 MB). The totals come back as fields of a case; the rest of the file is
/// passed over, and nothing is stored.
#[utoipa::path(tag = "Cases", request_body(content = Vec<u8>, content_type = "application/dicom"),
    responses((status = 200, body = DoseReportView)))]
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
    let read = web::block(move || {
        let report = read(&bytes)?;
        let offer = report.offer()?;
        Ok((report, offer))
    });
    let read: Result<_, DoseReportProblem> = read.await.map_err(|_| Problem::busy())?;
    let (report, Offer { fields }) =
        read.map_err(|problem| Problem::new(&MUST_BE_MENDED, problem.to_string()))?;
    let total = |(total, value): (&crate::intake::dose_report::Total, &f64)| TotalView {
        total: total.to_string(),
        value: *value,
        unit: total.unit().to_owned(),
    };
    let field = |field: crate::intake::dose_report::OfferedField| FieldView {
        field: field.field.to_owned(),
        value: field.value,
        unit: field.unit.map(str::to_owned),
    };
    Ok(HttpResponse::Ok().json(DoseReportView {
        fields: fields.into_iter().map(field).collect(),
        planes: report
            .planes
            .iter()
            .map(|of| PlaneView {
                plane: of.plane.to_string(),
                totals: of.totals.iter().map(total).collect(),
            })
            .collect(),
        notes: report.notes.iter().map(ToString::to_string).collect(),
    }))
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
