//! `quietbeam calculate`: rows of one's own numbers through the methods of the registry.

mod list;
mod output;
mod stream;

use super::Failure;
use crate::intake::{PlainRows, Stopped};
use clap::{Args, Subcommand};
use output::Output;
use quietbeam_analysis::calculate::{Calculation, find};
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// Calculate with the registry's own methods on rows of your own numbers. Needs no registry.
///
/// Example: quietbeam calculate wilson --input rows.csv --output intervals.csv
///
/// The input is comma-separated text whose header names the columns that the method reads, in
/// any order; "quietbeam calculate list wilson" tells them. Each row has its result in one row, or
/// the rows of one set_id together have, and then stand together. Other columns are carried
/// through, unless the result has a column of the same name; of a set those whose value is the
/// same in all its rows. Numbers are written with all their digits, a missing bound as Inf, and
/// what cannot be estimated is a row whose column "reason" says why.
///
/// A value that cannot be read stops the command with exit code 1 after up to twenty such
/// values were told; the output file is then not written. On standard output the results of the
/// rows before stand already.
///
/// For research: not for the care of an individual patient.
#[derive(Args)]
#[command(args_conflicts_with_subcommands = true, subcommand_negates_reqs = true)]
pub(super) struct CalculateArgs {
    #[command(subcommand)]
    step: Option<Step>,
    /// The method, by its name in the list.
    #[arg(required = true)]
    method: Option<String>,
    /// The file of rows, or - for standard input.
    #[arg(long, required = true)]
    input: Option<PathBuf>,
    /// The file for the results, or - for standard output.
    #[arg(long, default_value = "-")]
    output: PathBuf,
    /// Two-sided confidence level, where the rows have no column for it.
    #[arg(long)]
    level: Option<String>,
    /// A parameter that the rows have no column for, such as day=365; may be given again.
    #[arg(long = "with", value_name = "COLUMN=VALUE", value_parser = column_and_value)]
    with: Vec<(String, String)>,
}

#[derive(Subcommand)]
enum Step {
    List(list::ListArgs),
}

fn column_and_value(text: &str) -> Result<(String, String), String> {
    let (column, value) = text.split_once('=').ok_or("write COLUMN=VALUE, such as day=365")?;
    Ok((column.trim().to_ascii_lowercase(), value.trim().to_owned()))
}

pub(super) fn run(args: &CalculateArgs, out: &mut dyn Write) -> Result<(), Failure> {
    match (&args.step, &args.method, &args.input) {
        (Some(Step::List(list)), ..) => list::run(list, out),
        (None, Some(method), Some(input)) => calculate(args, method, input, out),
        _ => {
            Err(Failure::Refused("name a method and its --input; see: quietbeam calculate --help".to_owned()))
        }
    }
}

fn calculate(args: &CalculateArgs, method: &str, input: &Path, out: &mut dyn Write) -> Result<(), Failure> {
    let calculation = named(method)?;
    let level = args.level.iter().map(|level| ("level".to_owned(), level.clone()));
    let given: Vec<(String, String)> = level.chain(args.with.iter().cloned()).collect();
    let mut rows = PlainRows::open(open(input)?).map_err(|error| of_input(input, error))?;
    let job = stream::Job { calculation, given: &given, input };
    if is_dash(&args.output) {
        stream::run(&job, &mut rows, out)?;
        return Ok(());
    }
    let mut output = Output::create(&args.output)?;
    let counts = stream::run(&job, &mut rows, &mut output)?;
    output.keep()?;
    Ok(writeln!(out, "{}: {counts}", args.output.display())?)
}

fn named(method: &str) -> Result<&'static Calculation, Failure> {
    find(method).map_err(|unknown| {
        Failure::Refused(format!(
            "there is no method {method}; did you mean {}? See: quietbeam calculate list",
            unknown.nearest
        ))
    })
}

fn is_dash(path: &Path) -> bool {
    path.as_os_str() == "-"
}

fn open(input: &Path) -> Result<Box<dyn Read>, Failure> {
    if is_dash(input) {
        return Ok(Box::new(io::stdin().lock()));
    }
    let file = File::open(input);
    Ok(Box::new(
        file.map_err(|error| Failure::Broken(format!("{} cannot be read: {error}", input.display())))?,
    ))
}

/// Names the input in front of what is wrong with it.
fn of_input(input: &Path, error: Stopped) -> Failure {
    let name = if is_dash(input) { "standard input".to_owned() } else { input.display().to_string() };
    match error {
        Stopped::Empty | Stopped::Text { .. } => Failure::Refused(format!("{name}, {error}")),
        Stopped::Broken(error) => Failure::Broken(format!("{name} cannot be read: {error}")),
    }
}
