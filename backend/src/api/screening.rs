//! The screening log: denominators by quarter and group of procedures.

use actix_web::http::header::ETAG;
use actix_web::{HttpResponse, get, post, put, web};
use quietbeam_schema::centre::{EnteredCounts, ScreeningCounts};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::value::FieldValue;
use quietbeam_schema::vocabulary::{Coded, ProcedureGroup};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::brought::{Body, MaybeIfMatch, Part};
use super::caller::Signed;
use super::problem::Problem;
use crate::access::Permit;
use crate::access::action::{ReadScreeningLog, SignScreeningLog, WriteScreeningLog};
use crate::access::session::{SignInDesk, SignInError};
use crate::registry::{IfMatch, Version, screening};
use crate::store::{ScreeningLine, ScreeningRow, Store};

/// One line of the log.
#[derive(Serialize, ToSchema)]
pub(super) struct LineView {
    /// The centre.
    centre: String,
    /// The quarter.
    period: String,
    /// The group of procedures.
    procedure_group: &'static str,
    /// Counted from 1; also the line's ETAG.
    revision: i64,
    /// Performed, eligible, submitted, and why the others were not.
    #[schema(value_type = Object)]
    counts: ScreeningCounts,
    /// Who signed exactly this revision.
    signed_by: Option<String>,
    /// When it was written, UTC.
    at: String,
}

/// The log.
#[derive(Serialize, ToSchema)]
pub(super) struct LogView {
    /// The lines within reach.
    items: Vec<LineView>,
}

/// Counts to be entered or corrected.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct LineBody {
    /// Performed, eligible, submitted and excluded by reason.
    #[schema(value_type = Object)]
    counts: EnteredCounts,
    /// Why, for a correction.
    reason: Option<String>,
}

impl From<ScreeningRow> for LineView {
    fn from(row: ScreeningRow) -> Self {
        Self {
            centre: row.line.centre.to_string(),
            period: row.line.period.text(),
            procedure_group: row.line.group.code(),
            revision: row.revision,
            counts: row.counts,
            signed_by: row.signed_by.map(|by| by.to_string()),
            at: row.at.to_string(),
        }
    }
}

fn shown(row: ScreeningRow) -> HttpResponse {
    let etag = Version::of_revision(row.revision).etag();
    HttpResponse::Ok().insert_header((ETAG, etag)).json(LineView::from(row))
}

/// A line's place in the address: centre, quarter and group.
type Place = Part<(CentreCode, String, String)>;

fn line_of(place: Place) -> Result<ScreeningLine, Problem> {
    let (centre, period, group) = place.0;
    let period = Quarter::parse(&period).map_err(|_| Problem::absent())?;
    let group = ProcedureGroup::from_code(&group).ok_or_else(Problem::absent)?;
    Ok(ScreeningLine { centre, period, group })
}

/// The screening log of the centres within reach.
#[utoipa::path(tag = "Screening log", responses((status = 200, body = LogView)))]
#[get("/screening-log")]
pub(super) async fn list(
    permit: Permit<ReadScreeningLog>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let rows = store.read(permit, |session| session.list_screening()).await?;
    Ok(HttpResponse::Ok().json(LogView { items: rows.into_iter().map(LineView::from).collect() }))
}

/// Enter a line, or correct it with If-Match and a reason.
#[utoipa::path(tag = "Screening log",
    params(("code" = String, Path), ("period" = String, Path), ("group" = String, Path)),
    request_body = LineBody, responses((status = 200, body = LineView)))]
#[put("/centres/{code}/screening-log/{period}/{group}")]
pub(super) async fn record(
    permit: Permit<WriteScreeningLog>,
    place: Place,
    if_match: MaybeIfMatch,
    body: Body<LineBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let line = line_of(place)?;
    let LineBody { counts, reason } = body.value;
    let row = store
        .write(permit, move |session| {
            screening::record(session, line, if_match.0.as_ref(), screening::Entered { counts, reason })
        })
        .await?;
    Ok(shown(row))
}

/// A signature: nothing but the password again, typed by whoever signs.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SignatureBody {
    /// The caller's own password.
    password: String,
}

/// Sign exactly the revision that was read.
#[utoipa::path(tag = "Screening log", request_body = SignatureBody,
    params(("code" = String, Path), ("period" = String, Path), ("group" = String, Path),
        ("If-Match" = String, Header, description = "The ETag of what was read.")),
    responses((status = 200, body = LineView)))]
#[post("/centres/{code}/screening-log/{period}/{group}/signature")]
pub(super) async fn sign(
    (signed, permit): (Signed, Permit<SignScreeningLog>),
    place: Place,
    if_match: IfMatch,
    body: Body<SignatureBody>,
    (desk, store): (web::Data<SignInDesk>, web::Data<Store>),
) -> Result<HttpResponse, Problem> {
    let line = line_of(place)?;
    match desk.confirm(signed.caller()?, body.value.password).await {
        Err(SignInError::Refused) => {
            let sentence = "is not your password; nothing was signed. Send it again.";
            return Err(Problem::field("/password", "password", sentence));
        }
        confirmed => confirmed?,
    }
    Ok(shown(store.write(permit, move |session| screening::sign(session, line, &if_match)).await?))
}
