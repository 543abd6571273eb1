//! Centres, their X-ray rooms and their sheets of case codes.

use actix_web::http::header::ETAG;
use actix_web::{HttpResponse, get, post, put, web};
use quietbeam_schema::centre::{Centre, CentreError, Room};
use quietbeam_schema::ids::{CaseCode, CentreCode, RoomCode};
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{AnnualVolume, CentreType};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::brought::{Body, IdempotencyKey, MaybeIfMatch, Part};
use super::once::{Creation, Made};
use super::problem::Problem;
use crate::access::Permit;
use crate::access::action::{IssueCaseCodes, ManageCentres, ReadCentres};
use crate::registry::{IfMatch, RegistryError, Version, centres, codes};
use crate::store::Store;

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewCentreBody {
    /// Its code: S and two digits, random.
    #[schema(value_type = String, example = "S07")]
    code: CentreCode,
    /// Its name, for members only.
    name: String,
    /// Country group or state, never a city.
    region: Option<String>,
    /// Kind of hospital.
    #[schema(value_type = String)]
    kind: CentreType,
    /// Ablations a year, as a band.
    #[schema(value_type = String)]
    annual_volume: AnnualVolume,
    /// The quarter of its first zero-fluoroscopy case, such as 2024Q2.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    zero_fluoroscopy_since: Option<Quarter>,
}

/// What can be changed of a centre.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct CentreBody {
    /// Its name, for members only.
    name: String,
    /// Country group or state, never a city.
    region: Option<String>,
    /// Kind of hospital.
    #[schema(value_type = String)]
    kind: CentreType,
    /// Ablations a year, as a band.
    #[schema(value_type = String)]
    annual_volume: AnnualVolume,
    /// The quarter of its first zero-fluoroscopy case, such as 2024Q2.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    zero_fluoroscopy_since: Option<Quarter>,
}

/// A list of centres.
#[derive(Serialize, ToSchema)]
pub(super) struct CentresView {
    /// The centres within reach.
    #[schema(value_type = Vec<Object>)]
    items: Vec<Centre>,
}

/// The rooms of a centre.
#[derive(Serialize, ToSchema)]
pub(super) struct RoomsView {
    /// The rooms with what their consoles show.
    #[schema(value_type = Vec<Object>)]
    items: Vec<RoomView>,
}

#[derive(Serialize)]
struct RoomView {
    etag: String,
    #[serde(flatten)]
    room: Room,
}

/// An X-ray room with what its console shows.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct RoomBody {
    /// The unit in which the console shows the kerma-area product, in UCUM notation or as
    /// printed; it comes back in UCUM notation.
    kap_unit: String,
    /// Whether the console shows air kerma at all.
    air_kerma_shown: bool,
    /// Factor from the display to the measured dose, 0.5 to 2.
    dose_correction: Option<f64>,
    /// Usual pulse rate in pulses a second, 0.5 to 60.
    pulse_rate: Option<f64>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct CodesBody {
    /// How many codes, 1 to 1,000.
    number: usize,
}

/// Case codes for the centre to keep beside its own list.
#[derive(Serialize, ToSchema)]
pub(super) struct CodesView {
    /// The codes.
    #[schema(value_type = Vec<String>)]
    codes: Vec<CaseCode>,
}

impl CentreBody {
    fn of(self, code: CentreCode) -> Centre {
        let Self { name, region, kind, annual_volume, zero_fluoroscopy_since } = self;
        Centre { code, name, region, kind, annual_volume, zero_fluoroscopy_since }
    }
}

/// The centres within reach.
#[utoipa::path(tag = "Centres", responses((status = 200, body = CentresView)))]
#[get("/centres")]
pub(super) async fn list(
    permit: Permit<ReadCentres>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let items = store.read(permit, |session| session.list_centres()).await?;
    Ok(HttpResponse::Ok().json(CentresView { items }))
}

/// Create a centre.
#[utoipa::path(tag = "Centres", request_body = NewCentreBody, responses((status = 201, body = Object)))]
#[post("/centres")]
pub(super) async fn create(
    permit: Permit<ManageCentres>,
    key: IdempotencyKey,
    body: Body<NewCentreBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let creation = Creation::new("POST /centres", key, "", &body.fingerprint);
    let NewCentreBody { code, name, region, kind, annual_volume, zero_fluoroscopy_since } = body.value;
    let centre = Centre { code, name, region, kind, annual_volume, zero_fluoroscopy_since };
    creation
        .make(&store, permit, move |session| {
            centres::create(session, &centre)?;
            let version = Some(Version::of(&centre));
            Ok(Made { location: format!("/api/v1/centres/{}", centre.code), version, view: centre })
        })
        .await
}

/// One centre.
#[utoipa::path(tag = "Centres", params(("code" = String, Path)), responses((status = 200, body = Object)))]
#[get("/centres/{code}")]
pub(super) async fn read(
    permit: Permit<ReadCentres>,
    code: Part<CentreCode>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let centre = store.read(permit, move |session| session.find_centre(code.0)).await?;
    Ok(HttpResponse::Ok().insert_header((ETAG, Version::of(&centre).etag())).json(centre))
}

/// Change a centre's name, region, kind or volume.
#[utoipa::path(tag = "Centres", params(("code" = String, Path)), request_body = CentreBody,
    responses((status = 200, body = Object)))]
#[put("/centres/{code}")]
pub(super) async fn change(
    permit: Permit<ManageCentres>,
    code: Part<CentreCode>,
    if_match: IfMatch,
    body: Body<CentreBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let centre = body.value.of(code.0);
    let changed = store
        .write(permit, move |session| {
            centres::change(session, &if_match, &centre)?;
            Ok::<_, RegistryError>(centre)
        })
        .await?;
    Ok(HttpResponse::Ok().insert_header((ETAG, Version::of(&changed).etag())).json(changed))
}

/// The rooms of a centre, each with the ETag that a change of it needs.
#[utoipa::path(tag = "Centres", params(("code" = String, Path)), responses((status = 200, body = RoomsView)))]
#[get("/centres/{code}/rooms")]
pub(super) async fn rooms(
    permit: Permit<ReadCentres>,
    code: Part<CentreCode>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let rooms = store
        .read(permit, move |session| {
            session.find_centre(code.0)?;
            session.list_rooms(code.0)
        })
        .await?;
    let view = |room: Room| RoomView { etag: Version::of(&room).etag(), room };
    Ok(HttpResponse::Ok().json(RoomsView { items: rooms.into_iter().map(view).collect() }))
}

/// Enter a room, or change it with If-Match.
#[utoipa::path(tag = "Centres", params(("code" = String, Path), ("room" = String, Path)), request_body = RoomBody,
    responses((status = 200, body = Object)))]
#[put("/centres/{code}/rooms/{room}")]
pub(super) async fn record_room(
    permit: Permit<ManageCentres>,
    place: Part<(CentreCode, RoomCode)>,
    if_match: MaybeIfMatch,
    body: Body<RoomBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let (centre, code) = place.0;
    let RoomBody { kap_unit, air_kerma_shown, dose_correction, pulse_rate } = body.value;
    let kap_unit = kap_unit.parse().map_err(|error: CentreError| RegistryError::from(error))?;
    let room = Room { code, kap_unit, air_kerma_shown, dose_correction, pulse_rate };
    let recorded = store
        .write(permit, move |session| {
            centres::record_room(session, centre, if_match.0.as_ref(), &room)?;
            Ok::<_, RegistryError>(room)
        })
        .await?;
    Ok(HttpResponse::Ok().insert_header((ETAG, Version::of(&recorded).etag())).json(recorded))
}

/// Issue case codes to a centre ahead of its procedures.
#[utoipa::path(tag = "Centres", params(("code" = String, Path)), request_body = CodesBody,
    responses((status = 201, body = CodesView)))]
#[post("/centres/{code}/case-codes")]
pub(super) async fn issue_codes(
    permit: Permit<IssueCaseCodes>,
    code: Part<CentreCode>,
    key: IdempotencyKey,
    body: Body<CodesBody>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let centre = code.0;
    let number = body.value.number;
    Creation::new("POST /centres/{code}/case-codes", key, &centre.to_string(), &body.fingerprint)
        .make(&store, permit, move |session| {
            let codes = codes::issue(session, Some(centre), number)?;
            let location = format!("/api/v1/centres/{centre}/case-codes");
            Ok(Made { location, version: None, view: CodesView { codes } })
        })
        .await
}
