//! `quietbeam import`: a centre's files into the registry.

use super::Failure;
use super::registry::Registry;
use crate::access::Permit;
use crate::config::Options;
use crate::intake::{FileKind, Files, Source};
use crate::registry::imports::{Outcome, Request, Wanted, import};
use clap::Args;
use indicatif::{ProgressBar, ProgressStyle};
use quietbeam_schema::ids::CentreCode;
use std::io::Write;
use std::path::PathBuf;
use std::sync::Arc;

/// Import a centre's files of cases, complications and follow-ups. Either every
/// row is stored or none; the same files again change nothing.
///
/// Example: quietbeam import --centre S01 --cases cases.csv --follow-ups follow_ups.csv --dry-run
///
/// Exit codes: 0 done, or nothing new; 1 rows must be mended first; 3 a file
/// or the store is broken.
#[derive(Args)]
pub(super) struct ImportArgs {
    /// The centre whose files these are.
    #[arg(long)]
    centre: CentreCode,
    /// One row a case.
    #[arg(long, value_name = "FILE")]
    cases: Option<PathBuf>,
    /// One row a complication.
    #[arg(long, value_name = "FILE")]
    complications: Option<PathBuf>,
    /// One row a follow-up.
    #[arg(long, value_name = "FILE")]
    follow_ups: Option<PathBuf>,
    /// One workbook (.xlsx or .ods) with the sheets cases, complications and follow_ups.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["cases", "complications", "follow_ups"])]
    workbook: Option<PathBuf>,
    /// Only say what would be done.
    #[arg(long)]
    dry_run: bool,
    /// Store the rows that can be taken and leave the others.
    #[arg(long, conflicts_with = "dry_run")]
    accept_good_rows: bool,
    /// Print the outcome as JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    options: Options,
}

pub(super) fn run(args: &ImportArgs, out: &mut dyn Write) -> Result<(), Failure> {
    let files = files_of(args)?;
    let registry = Registry::open(&args.options)?;
    let wanted = match (args.dry_run, args.accept_good_rows) {
        (true, _) => Wanted::DryRun,
        (_, true) => Wanted::GoodRows,
        _ => Wanted::AllOrNothing,
    };
    let bar = rows_bar(args.centre.to_string(), None);
    let progress = {
        let bar = bar.clone();
        Arc::new(move |rows| bar.set_position(rows))
    };
    let request = Request { centre: args.centre, files, wanted, progress };
    let operator = || Permit::for_operator("import from the command line");
    let outcome = import(&registry.store, operator(), operator(), request)?;
    bar.finish_and_clear();
    print(&outcome, args.json, out)?;
    if outcome.report.all_accepted() || outcome.stored || outcome.already_imported.is_some() {
        Ok(())
    } else {
        Err(Failure::Refused("nothing was stored; mend the rows above and send the files again".to_owned()))
    }
}

fn files_of(args: &ImportArgs) -> Result<Files, Failure> {
    if let Some(path) = &args.workbook {
        return Files::of_workbook_at(path)?.map_err(|trouble| Failure::Refused(trouble.to_string()));
    }
    let mut files = Files::default();
    let given = [
        (FileKind::Cases, &args.cases),
        (FileKind::Complications, &args.complications),
        (FileKind::FollowUps, &args.follow_ups),
    ];
    for (kind, path) in given {
        if let Some(path) = path {
            files.put(kind, Source::Path(path.clone()));
        }
    }
    if FileKind::ALL.iter().all(|kind| files.of(*kind).is_none()) {
        return Err(Failure::Refused(
            "name at least one of --cases, --complications, --follow-ups, or a --workbook".to_owned(),
        ));
    }
    Ok(files)
}

/// A bar that counts rows, on a terminal; elsewhere it stays silent. How many
/// rows a file has is known only to whoever wrote it.
pub(super) fn rows_bar(of: String, rows: Option<u64>) -> ProgressBar {
    let (bar, template) = match rows {
        Some(rows) => (ProgressBar::new(rows), "{msg}  {wide_bar} {human_pos} of {human_len} rows"),
        None => (ProgressBar::no_length(), "{spinner} {msg}: {human_pos} rows read"),
    };
    match ProgressStyle::with_template(template) {
        Ok(style) => bar.with_style(style).with_message(of),
        Err(_) => bar,
    }
}

fn print(outcome: &Outcome, json: bool, out: &mut dyn Write) -> Result<(), Failure> {
    if json {
        serde_json::to_writer_pretty(&mut *out, outcome)?;
        return Ok(writeln!(out)?);
    }
    outcome.report.write_lines(out)?;
    let changes = &outcome.changes;
    let verb = match (&outcome.already_imported, outcome.stored) {
        (Some(receipt), _) => {
            writeln!(out, "These very files were imported before (receipt {receipt}); nothing changed now.")?;
            "Stored then"
        }
        (None, true) => "Stored",
        (None, false) if changes.new + changes.changed == 0 => "Nothing to store",
        (None, false) => "Would store",
    };
    writeln!(
        out,
        "{verb}: {} new cases, {} changed; {} unchanged; {} things to answer.",
        changes.new, changes.changed, changes.unchanged, changes.to_answer
    )?;
    for issued in &changes.codes {
        writeln!(out, "row {}: code {}", issued.row, issued.code)?;
    }
    if !changes.codes.is_empty() {
        writeln!(out, "Keep the codes beside your own list.")?;
    }
    if let Some(receipt) = &outcome.receipt {
        writeln!(out, "Receipt {receipt}.")?;
    }
    Ok(())
}
