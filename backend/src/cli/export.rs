//! `quietbeam export`: cases out of the registry again.

use super::Failure;
use super::registry::Registry;
use crate::access::Permit;
use crate::access::action::ExportCases;
use crate::config::Options;
use crate::export::{Format, Written};
use crate::registry::exports::{Wanted, export_cases};
use crate::store::CaseFilter;
use clap::Args;
use quietbeam_schema::ids::CentreCode;
use std::fs::File;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

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
    /// Only of this quarter.
    #[arg(long)]
    period: Option<String>,
    /// Only of this group of procedures.
    #[arg(long)]
    procedure_group: Option<String>,
    /// Only with this intended strategy.
    #[arg(long)]
    strategy_intended: Option<String>,
    /// The file to write; one that is there already is not touched.
    #[arg(long, value_name = "FILE")]
    output: PathBuf,
    #[command(flatten)]
    options: Options,
}

pub(super) fn run(args: &ExportArgs, out: &mut dyn Write) -> Result<(), Failure> {
    let file = new_file(&args.output)?;
    let registry = Registry::open(&args.options)?;
    let filter = CaseFilter {
        centre: None,
        period: args.period.clone(),
        procedure_group: args.procedure_group.clone(),
        strategy_intended: args.strategy_intended.clone(),
    };
    let wanted = Wanted { centre: args.centre, filter, format: args.format };
    let operator = || Permit::<ExportCases>::for_operator("export from the command line");
    let written = export_cases(&registry.store, operator(), operator(), wanted)?;
    let cases = written.cases;
    keep(written, file)?;
    writeln!(out, "{cases} cases of {} in {}.", args.centre, args.output.display())?;
    Ok(writeln!(out, "They hold free text and operator codes: they are for the centre alone.")?)
}

/// A file that was not there before.
pub(super) fn new_file(path: &Path) -> Result<File, Failure> {
    File::create_new(path).map_err(|error| match error.kind() {
        io::ErrorKind::AlreadyExists => {
            Failure::Refused(format!("{} is there already; name another file", path.display()))
        }
        _ => Failure::Broken(format!("{}: {error}", path.display())),
    })
}

/// Writes what was taken out into its file.
pub(super) fn keep(mut written: Written, mut file: File) -> Result<(), Failure> {
    io::copy(&mut written.file, &mut file)?;
    Ok(file.sync_all()?)
}
