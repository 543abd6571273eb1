//! The command line, a file a command.

mod calculate;
mod centre;
mod check;
mod compare;
mod cut;
mod cut_rows;
mod demo;
mod dictionary;
mod dose_report;
mod export;
mod import;
mod log;
mod member;
mod new_file;
mod plan;
mod registry;
mod serve;
mod simulate;
mod summary;

use clap::{Parser, Subcommand};
use std::io::{self, Write};
use std::process::ExitCode;
use tracing_subscriber::filter::LevelFilter;

/// Research registry for catheter ablation without fluoroscopy. For research:
/// not for the care of an individual patient.
///
/// Exit codes: 0 done; 1 the registry refused, or problems were found in the
/// input; 2 the command line could not be read; 3 something is broken (a file,
/// the network or the store).
#[derive(Parser)]
#[command(name = "quietbeam", version, about, long_about, max_term_width = 100)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    Serve(serve::ServeArgs),
    Demo(demo::DemoArgs),
    Calculate(calculate::CalculateArgs),
    Check(check::CheckArgs),
    DoseReport(dose_report::DoseReportArgs),
    Import(import::ImportArgs),
    Export(export::ExportArgs),
    Plan(plan::PlanArgs),
    Cut(cut::CutArgs),
    Compare(compare::CompareArgs),
    Simulate(simulate::SimulateArgs),
    Summary(summary::SummaryArgs),
    Member(member::MemberArgs),
    Centre(centre::CentreArgs),
    Dictionary(dictionary::DictionaryArgs),
}

/// Why a command did not do what it was asked.
#[derive(Debug, thiserror::Error)]
pub enum Failure {
    /// A rule said no, or the input has problems; the sentence says the mend.
    #[error("{0}")]
    Refused(String),
    /// Something outside the input is broken.
    #[error("{0}")]
    Broken(String),
}

impl Failure {
    fn exit_code(&self) -> ExitCode {
        match self {
            Self::Refused(_) => ExitCode::from(1),
            Self::Broken(_) => ExitCode::from(3),
        }
    }
}

impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        Self::Broken(error.to_string())
    }
}

impl From<csv::Error> for Failure {
    fn from(error: csv::Error) -> Self {
        Self::Broken(error.to_string())
    }
}

impl From<serde_json::Error> for Failure {
    fn from(error: serde_json::Error) -> Self {
        Self::Broken(error.to_string())
    }
}

/// Reads the command line, runs the command, and tells the outcome.
pub fn main() -> ExitCode {
    let cli = Cli::parse();
    log::start(match cli.command {
        Command::Serve(_) => LevelFilter::INFO,
        _ => LevelFilter::WARN,
    });
    let mut out = io::stdout().lock();
    let outcome = run(cli.command, &mut out).and_then(|()| out.flush().map_err(Failure::from));
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        // A reader such as `head` that has seen enough is no failure.
        Err(Failure::Broken(sentence)) if sentence.contains("Broken pipe") => ExitCode::SUCCESS,
        Err(failure) => {
            let _ = writeln!(io::stderr(), "quietbeam: {failure}");
            failure.exit_code()
        }
    }
}

/// Runs a command that is given as words, without the program's name, and
/// writes to `out` what it would print.
///
/// # Errors
/// What the command says when it does not do what it was asked.
pub fn run_words(words: &[&str], out: &mut dyn Write) -> Result<(), Failure> {
    let all = std::iter::once(&"quietbeam").chain(words);
    match Cli::try_parse_from(all) {
        Ok(cli) => run(cli.command, out),
        Err(said) if said.use_stderr() => Err(Failure::Refused(said.to_string())),
        Err(help) => Ok(write!(out, "{help}")?),
    }
}

fn run(command: Command, out: &mut dyn Write) -> Result<(), Failure> {
    match command {
        Command::Serve(args) => serve::run(&args, out),
        Command::Demo(args) => demo::run(&args, out),
        Command::Import(args) => import::run(&args, out),
        Command::Export(args) => export::run(&args, out),
        Command::Plan(args) => plan::run(&args, out),
        Command::Cut(args) => cut::run(&args, out),
        Command::Compare(args) => compare::run(&args, out),
        Command::Simulate(args) => simulate::run(&args, out),
        Command::Summary(args) => summary::run(args, out),
        Command::Member(args) => member::run(args, out),
        Command::Centre(args) => centre::run(args, out),
        Command::Calculate(args) => calculate::run(&args, out),
        Command::Check(args) => check::run(&args, out),
        Command::DoseReport(args) => dose_report::run(&args, out),
        Command::Dictionary(args) => dictionary::run(&args, out),
    }
}
