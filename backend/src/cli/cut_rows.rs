//! `quietbeam cut rows`: de-identified rows of a cut.

use super::Failure;
use super::compare::find_cut;
use super::new_file::NewFile;
use super::registry::Registry;
use crate::access::Permit;
use crate::access::action::ExportDeidentified;
use crate::config::Options;
use crate::registry::deidentified::{WantedRows, export_rows};
use clap::{Args, ValueEnum};
use quietbeam_analysis::study::deidentify::{Account, Operators, Profile, Withheld};
use std::io::Write;
use std::path::PathBuf;

/// Which rows, and where they go.
#[derive(Args)]
pub(super) struct RowsArgs {
    /// The cut: its name, its identifier, or latest.
    #[arg(long)]
    cut: String,
    /// For whom the rows are.
    #[arg(long, value_enum)]
    profile: Audience,
    /// Also the operators, each under a code made for this file.
    #[arg(long)]
    operators: bool,
    /// The archive to write; one that is there already is not touched.
    #[arg(long, value_name = "FILE")]
    output: PathBuf,
    #[command(flatten)]
    options: Options,
}

#[derive(Clone, Copy, ValueEnum)]
#[value(rename_all = "snake_case")]
enum Audience {
    /// Nothing more exact than the year, at least 11 rows alike: may be shared once a person
    /// decides so.
    YearOnly,
    /// The quarter and restricted codes, at least 5 rows alike: stays inside the network.
    Pseudonymised,
}

pub(super) fn run(args: &RowsArgs, out: &mut dyn Write) -> Result<(), Failure> {
    let file = NewFile::at(&args.output)?;
    let registry = Registry::open(&args.options)?;
    let cut = find_cut(&registry.store, &args.cut)?.id;
    let profile = match args.profile {
        Audience::YearOnly => Profile::YearOnly,
        Audience::Pseudonymised => Profile::Pseudonymised,
    };
    let operators = if args.operators { Operators::Recoded } else { Operators::LeftOut };
    let operator = || Permit::<ExportDeidentified>::for_operator("rows from the command line");
    let wanted = WantedRows { cut, profile, operators };
    let rows = export_rows(&registry.store, operator(), operator(), wanted)?;
    file.keep(rows.written)?;
    tell(&rows.account, out)?;
    Ok(writeln!(out, "The local privacy officer decides whether the file may leave, and to whom.")?)
}

fn tell(account: &Account, out: &mut dyn Write) -> Result<(), Failure> {
    let Account { profile, least_rows, steps, withheld } = account;
    writeln!(out, "{} rows, {}, at least {least_rows} alike.", account.published(), profile.name())?;
    for (step, rows) in steps {
        writeln!(out, "  {rows:>7} {}", step.words())?;
    }
    let withheld = match withheld {
        Withheld::None => "none".to_owned(),
        Withheld::FewerThan(least) => format!("fewer than {least}"),
        Withheld::Rows(rows) => rows.to_string(),
    };
    Ok(writeln!(out, "Withheld: {withheld}.")?)
}
