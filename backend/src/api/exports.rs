//! Cases taken out again as files.

use actix_web::{HttpResponse, get, web};
use quietbeam_schema::ids::CentreCode;
use serde::Deserialize;
use utoipa::IntoParams;

use super::brought::Query;
use super::caller::{Signed, one_centre};
use super::problem::Problem;
use super::sent::sent;
use crate::access::Permit;
use crate::access::action::ExportCases;
use crate::access::session::Caller;
use crate::export::Format;
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
