//! The list of calculations.

use super::{Failure, named};
use clap::Args;
use quietbeam_analysis::calculate::{Calculation, Column, Need, Shape, catalogue};
use std::io::{self, Write};

/// List the methods: what each reads and writes, and its source. With the name of a method,
/// what its columns mean.
///
/// Example: quietbeam calculate list miettinen_nurminen_difference
#[derive(Args)]
pub(super) struct ListArgs {
    /// One method only, with the meaning of its columns.
    method: Option<String>,
    /// Print as JSON.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &ListArgs, out: &mut dyn Write) -> Result<(), Failure> {
    match (&args.method, args.json) {
        (None, true) => serde_json::to_writer_pretty(&mut *out, catalogue())?,
        (Some(method), true) => serde_json::to_writer_pretty(&mut *out, named(method)?)?,
        (None, false) => return Ok(all(out)?),
        (Some(method), false) => return Ok(one(named(method)?, out)?),
    }
    Ok(writeln!(out)?)
}

fn all(out: &mut dyn Write) -> io::Result<()> {
    for calculation in catalogue() {
        let inputs: Vec<String> = calculation.inputs().iter().map(brief).collect();
        let outputs: Vec<&str> = calculation.outputs().iter().map(|output| output.name).collect();
        writeln!(out, "{}: {}", calculation.name(), calculation.summary())?;
        writeln!(out, "    reads   {} ({})", inputs.join(", "), rows(calculation))?;
        writeln!(out, "    writes  {}", outputs.join(", "))?;
        writeln!(out, "    source  {}", calculation.source())?;
    }
    writeln!(
        out,
        "\nColumns in square brackets may be absent. Group 1 or x1, n1 is the first arm: a difference"
    )?;
    writeln!(out, "is first - second, a ratio first / second. Sources: analysis/REFERENCES.md.")
}

fn one(calculation: &Calculation, out: &mut dyn Write) -> io::Result<()> {
    writeln!(out, "{}: {}", calculation.name(), calculation.summary())?;
    writeln!(out, "source {}; {}\n\nreads", calculation.source(), rows(calculation))?;
    for column in calculation.inputs() {
        let need = match column.need {
            Need::Required => String::new(),
            Need::Default(value) => format!("; {value} if absent"),
            Need::Optional => "; may be absent".to_owned(),
        };
        writeln!(out, "    {:<14}  {}{need}", column.name, column.takes)?;
    }
    writeln!(out, "writes")?;
    for output in calculation.outputs() {
        writeln!(out, "    {:<14}  {}", output.name, output.meaning)?;
    }
    Ok(())
}

fn brief(column: &Column) -> String {
    match column.need {
        Need::Required => column.name.to_owned(),
        Need::Default(value) => format!("[{} = {value}]", column.name),
        Need::Optional => format!("[{}]", column.name),
    }
}

fn rows(calculation: &Calculation) -> &'static str {
    match calculation.shape() {
        Shape::Row => "each row by itself",
        Shape::Set => "the rows of a set together",
    }
}
