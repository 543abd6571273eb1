//! Cases taken out again as files.

use actix_web::{HttpResponse, get, web};
use quietbeam_analysis::study::deidentify::{Operators, Profile};
use quietbeam_schema::ids::{CentreCode, DataCutId};
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{
    Completeness, ProcedureGroup, ProcedureType, RecordState, Strategy, YesNo,
};
use serde::Deserialize;
use utoipa::IntoParams;

use super::brought::{Part, Query};
use super::caller::{Signed, one_centre};
use super::cases::may_search;
use super::problem::Problem;
use super::sent::sent;
use crate::access::Permit;
use crate::access::action::{ExportCases, ExportDeidentified};
use crate::access::session::Caller;
use crate::export::Format;
use crate::registry::case_list::CaseSearch;
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
    /// Only of this quarter, such as 2026Q3.
    #[param(value_type = Option<String>)]
    period: Option<Quarter>,
    /// Only of this group of procedures.
    #[param(value_type = Option<String>)]
    procedure_group: Option<ProcedureGroup>,
    /// Only of this procedure.
    #[param(value_type = Option<String>)]
    procedure: Option<ProcedureType>,
    /// Only with this intended strategy.
    #[param(value_type = Option<String>)]
    strategy_intended: Option<Strategy>,
    /// `submitted` (every question about it is settled) or `queried`.
    #[param(value_type = Option<String>)]
    state: Option<RecordState>,
    /// `complete` or `something_left`.
    #[param(value_type = Option<String>)]
    completeness: Option<Completeness>,
    /// `yes`: a question waits for an answer; `no`: none does.
    #[param(value_type = Option<String>)]
    open_query: Option<YesNo>,
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
    let query = query.0;
    let search = CaseSearch {
        filter: CaseFilter {
            centre: query.centre,
            period: query.period,
            procedure_group: query.procedure_group,
            procedure: query.procedure,
            strategy_intended: query.strategy_intended,
            state: query.state,
            open_query: query.open_query,
        },
        completeness: query.completeness,
    };
    take_out(permit, signed.caller()?, search, query.format, store.get_ref().clone()).await
}

/// The cases of the caller's centre as a file to keep.
pub(crate) async fn take_out(
    look: Permit<ExportCases>,
    caller: &Caller,
    search: CaseSearch,
    format: Format,
    store: Store,
) -> Result<HttpResponse, Problem> {
    may_search(caller, &search)?;
    let centre = one_centre(caller, search.filter.centre)?;
    let note = caller.permit::<ExportCases>()?;
    let written = web::block(move || {
        export_cases(&store, look, note, Wanted { centre, search, format }).map_err(Problem::from)
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
