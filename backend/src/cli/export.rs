//! `quietbeam export`: cases out of the registry again.

use super::Failure;
use super::centre::{coded, quarter};
use super::new_file::NewFile;
use super::registry::Registry;
use crate::access::Permit;
use crate::access::action::ExportCases;
use crate::config::Options;
use crate::export::Format;
use crate::registry::case_list::CaseSearch;
use crate::registry::exports::{Wanted, export_cases};
use crate::store::CaseFilter;
use clap::Args;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{
    Completeness, ProcedureGroup, ProcedureType, RecordState, Strategy, YesNo,
};
use std::io::Write;
use std::path::PathBuf;

/// Take out a centre's own cases, complications and follow-ups, as a file that can be taken
/// in again. What is taken out is noted in the audit trail.
///
/// Example: quietbeam export --centre S01 --format workbook --output cases.xlsx
#[derive(Args)]
pub(super) struct ExportArgs {
    /// The centre whose cases they are.
    #[arg(long)]
    centre: CentreCode,
    /// How they are written.
    #[arg(long, value_enum, default_value = "delimited")]
    format: Format,
    /// Only of this quarter, such as 2026Q3.
    #[arg(long, value_parser = quarter)]
    period: Option<Quarter>,
    /// Only of this group of procedures.
    #[arg(long, value_parser = coded::<ProcedureGroup>)]
    procedure_group: Option<ProcedureGroup>,
    /// Only of this procedure.
    #[arg(long, value_parser = coded::<ProcedureType>)]
    procedure: Option<ProcedureType>,
    /// Only with this intended strategy.
    #[arg(long, value_parser = coded::<Strategy>)]
    strategy_intended: Option<Strategy>,
    /// submitted (every question about it is settled) or queried.
    #[arg(long, value_parser = coded::<RecordState>)]
    state: Option<RecordState>,
    /// complete or something_left.
    #[arg(long, value_parser = coded::<Completeness>)]
    completeness: Option<Completeness>,
    /// yes: a question waits for an answer; no: none does.
    #[arg(long, value_parser = coded::<YesNo>)]
    open_query: Option<YesNo>,
    /// The file to write; one that is there already is not touched.
    #[arg(long, value_name = "FILE")]
    output: PathBuf,
    #[command(flatten)]
    options: Options,
}

pub(super) fn run(args: &ExportArgs, out: &mut dyn Write) -> Result<(), Failure> {
    let file = NewFile::at(&args.output)?;
    let registry = Registry::open(&args.options)?;
    let filter = CaseFilter {
        centre: None,
        period: args.period,
        procedure_group: args.procedure_group,
        procedure: args.procedure,
        strategy_intended: args.strategy_intended,
        state: args.state,
        open_query: args.open_query,
    };
    let search = CaseSearch { filter, completeness: args.completeness };
    let wanted = Wanted { centre: args.centre, search, format: args.format };
    let operator = || Permit::<ExportCases>::for_operator("export from the command line");
    let written = export_cases(&registry.store, operator(), operator(), wanted)?;
    let cases = written.cases;
    file.keep(written)?;
    writeln!(out, "{cases} cases of {} in {}.", args.centre, args.output.display())?;
    Ok(writeln!(out, "They hold free text and operator codes: they are for the centre alone.")?)
}
