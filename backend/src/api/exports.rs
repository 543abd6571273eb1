//! Cases taken out again as files.

use actix_web::{HttpResponse, get, web};
use quietbeam_analysis::study::deidentify::{Operators, Profile};
use quietbeam_schema::ids::{CentreCode, DataCutId};
use serde::Deserialize;
use utoipa::IntoParams;

use super::brought::{Part, Query};
use super::caller::{Signed, one_centre};
use super::problem::Problem;
use super::sent::sent;
use crate::access::Permit;
use crate::access::action::{ExportCases, ExportDeidentified};
use crate::access::session::Caller;
use crate::export::Format;
use crate::registry::deidentified::{WantedRows, export_rows};
use crate::registry::exports::{Wanted, export_cases};
use crate::store::{CaseFilter, Store};

/// Which cases are taken out, and how they are written.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(super) struct ExportQuery {
    /// `delimited` (an archive of text files, the default), `workbook` or `json`.
    #[serde(default)]
    #[param(value_type = Option<String>)]
    format: Format,
    /// The centre; may be left out by members of one centre.
    #[param(value_type = Option<String>)]
    centre: Option<CentreCode>,
    /// Only of this quarter.
    period: Option<String>,
    /// Only of this group of procedures.
    procedure_group: Option<String>,
    /// Only with this intended strategy.
    strategy_intended: Option<String>,
}

/// Take out the cases of the own centre. The same file taken in again changes nothing.
#[utoipa::path(tag = "Exports", params(ExportQuery), responses((status = 200, content(
    (Vec<u8> = "application/zip"),
    (Vec<u8> = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
    (Object = "application/json"),
))))]
#[get("/exports/cases")]
pub(super) async fn cases(
    permit: Permit<ExportCases>,
    signed: Signed,
    query: Query<ExportQuery>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let ExportQuery { format, centre, period, procedure_group, strategy_intended } = query.0;
    let filter = CaseFilter { centre, period, procedure_group, strategy_intended };
    take_out(permit, signed.caller()?, filter, format, store.get_ref().clone()).await
}

/// The cases of the caller's centre as a file to keep.
pub(crate) async fn take_out(
    look: Permit<ExportCases>,
    caller: &Caller,
    filter: CaseFilter,
    format: Format,
    store: Store,
) -> Result<HttpResponse, Problem> {
    let centre = one_centre(caller, filter.centre)?;
    let note = caller.permit::<ExportCases>()?;
    let written = web::block(move || {
        export_cases(&store, look, note, Wanted { centre, filter, format }).map_err(Problem::from)
    });
    let written = written.await.map_err(|_| Problem::busy())??;
    let name = format!("quietbeam-cases-{centre}.{}", format.ending());
    Ok(sent(written, &name, format.media_type()))
}

/// For whom the rows are.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(super) struct RowsQuery {
    /// `year_only` (may be shared once a person decides so) or `pseudonymised` (stays inside
    /// the network).
    #[param(value_type = String)]
    profile: Profile,
    /// Also the operators, each under a code made for this file.
    #[serde(default)]
    operators: bool,
}

/// Take out de-identified rows of a data cut, as an archive of tables with what was done to
/// them. The local privacy officer decides whether it may leave.
#[utoipa::path(tag = "Exports", params(("id" = String, Path), RowsQuery),
    responses((status = 200, body = Vec<u8>, content_type = "application/zip")))]
#[get("/data-cuts/{id}/rows")]
pub(super) async fn rows(
    look: Permit<ExportDeidentified>,
    signed: Signed,
    id: Part<DataCutId>,
    query: Query<RowsQuery>,
    store: web::Data<Store>,
) -> Result<HttpResponse, Problem> {
    let note = signed.caller()?.permit::<ExportDeidentified>()?;
    let RowsQuery { profile, operators } = query.0;
    let operators = if operators { Operators::Recoded } else { Operators::LeftOut };
    let wanted = WantedRows { cut: id.0, profile, operators };
    let store = store.get_ref().clone();
    let rows = web::block(move || export_rows(&store, look, note, wanted).map_err(Problem::from));
    let rows = rows.await.map_err(|_| Problem::busy())??;
    let name = format!("quietbeam-rows-{}.zip", profile.name());
    Ok(sent(rows.written, &name, Format::Delimited.media_type()))
}
