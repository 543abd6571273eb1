//! `quietbeam dictionary`: the codebook, for people, spreadsheets and programs.

use super::Failure;
use crate::export::codebook_rows;
use crate::intake::workbook_template;
use clap::{Args, ValueEnum};
use quietbeam_schema::codebook::codebook;
use std::io::Write;

/// Print every variable with its meaning, codes, units, limits and rules.
///
/// Example: quietbeam dictionary --format csv > codebook.csv
#[derive(Args)]
pub(super) struct DictionaryArgs {
    /// How to print it.
    #[arg(long, value_enum, default_value = "markdown")]
    format: Format,
    /// The same as --format json.
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, ValueEnum)]
enum Format {
    Markdown,
    Csv,
    Json,
    /// A workbook (.xlsx) to fill in, with drop-down lists.
    Workbook,
}

pub(super) fn run(args: &DictionaryArgs, out: &mut dyn Write) -> Result<(), Failure> {
    let codebook = codebook();
    match if args.json { Format::Json } else { args.format } {
        Format::Markdown => out.write_all(codebook.to_markdown().as_bytes())?,
        Format::Csv => {
            let mut rows = csv::Writer::from_writer(out);
            codebook_rows(&mut rows)?;
        }
        Format::Workbook => {
            out.write_all(&workbook_template().map_err(|error| Failure::Broken(error.to_string()))?)?;
        }
        Format::Json => {
            serde_json::to_writer_pretty(&mut *out, &codebook)?;
            writeln!(out)?;
        }
    }
    Ok(())
}
