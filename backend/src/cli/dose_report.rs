//! `quietbeam dose-report`: the dose of one case, from the X-ray system's own report.

use super::Failure;
use crate::intake::dose_report::{LARGEST, read};
use clap::Args;
use std::fs::File;
use std::io::{Read, Write};
use std::path::PathBuf;

/// Read the totals of a radiation dose structured report (DICOM) and show the
/// fields of a case that they fill. Names, dates, identifiers and everything
/// else in the file are passed over; nothing is stored.
///
/// Example: quietbeam dose-report report.dcm
///
/// Exit codes: 0 the totals were read; 1 the file is something else, or its
/// figures contradict each other; 3 the file cannot be opened.
#[derive(Args)]
pub(super) struct DoseReportArgs {
    /// The report.
    file: PathBuf,
    /// Print it as JSON.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &DoseReportArgs, out: &mut dyn Write) -> Result<(), Failure> {
    let file = File::open(&args.file)
        .map_err(|error| Failure::Broken(format!("{}: {error}", args.file.display())))?;
    let mut bytes = Vec::new();
    // One byte more than is read, so that a larger file is known as such without being loaded.
    file.take(LARGEST as u64 + 1).read_to_end(&mut bytes)?;
    let refused =
        |problem: crate::intake::dose_report::DoseReportProblem| Failure::Refused(problem.to_string());
    let report = read(&bytes).map_err(refused)?;
    let offer = report.offer().map_err(refused)?;
    if args.json {
        serde_json::to_writer_pretty(&mut *out, &offer)?;
        writeln!(out)?;
    } else {
        let mut words = String::new();
        report.write_words(&offer, &mut words).map_err(|error| Failure::Broken(error.to_string()))?;
        out.write_all(words.as_bytes())?;
    }
    Ok(())
}
