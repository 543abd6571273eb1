//! `quietbeam cut`: freezes the data, so that everyone computes on the same.

use super::Failure;
use super::cut_rows::{self, RowsArgs};
use super::registry::{Common, Registry};
use crate::access::Permit;
use crate::access::action::{ReadDataCuts, TakeDataCut};
use crate::registry::cuts;
use crate::store::DataCut;
use clap::{Args, Subcommand};
use serde_json::{Value, json};
use std::io::Write;

/// Take a data cut, list the cuts, or take out rows of one. A cut never changes.
///
/// Example: quietbeam cut take --name "autumn report"
#[derive(Args)]
pub(super) struct CutArgs {
    #[command(subcommand)]
    step: Step,
}

#[derive(Subcommand)]
enum Step {
    /// Freeze what stands in the registry now.
    Take {
        /// A name for people.
        #[arg(long)]
        name: String,
        #[command(flatten)]
        common: Common,
    },
    /// Take out de-identified rows of a cut.
    Rows(RowsArgs),
    /// List the cuts, newest first.
    List {
        #[command(flatten)]
        common: Common,
    },
}

pub(super) fn run(args: &CutArgs, out: &mut dyn Write) -> Result<(), Failure> {
    match &args.step {
        Step::Take { name, common } => {
            let registry = Registry::open(&common.options)?;
            let permit = Permit::<TakeDataCut>::for_operator("cut from the command line");
            let name = name.clone();
            let cut = registry.store.write_blocking(permit, move |session| cuts::take(session, &name))?;
            print(&[cut], common.json, out)
        }
        Step::Rows(rows) => cut_rows::run(rows, out),
        Step::List { common } => {
            let registry = Registry::open(&common.options)?;
            let permit = Permit::<ReadDataCuts>::for_operator("cuts listed from the command line");
            let cuts = registry.store.read_blocking(permit, |session| session.list_cuts())?;
            print(&cuts, common.json, out)
        }
    }
}

fn print(cuts: &[DataCut], json: bool, out: &mut dyn Write) -> Result<(), Failure> {
    if json {
        let cuts: Vec<Value> = cuts.iter().map(as_json).collect();
        serde_json::to_writer_pretty(&mut *out, &cuts)?;
        return Ok(writeln!(out)?);
    }
    if cuts.is_empty() {
        writeln!(out, "There is no cut yet; take one with: quietbeam cut take --name NAME")?;
    }
    for cut in cuts {
        writeln!(
            out,
            "{}  {}  {} cases  taken {}  hash {}",
            cut.id, cut.name, cut.cases, cut.at, cut.content_hash
        )?;
    }
    Ok(())
}

fn as_json(cut: &DataCut) -> Value {
    json!({
        "id": cut.id.to_string(),
        "name": cut.name,
        "cases": cut.cases,
        "content_hash": cut.content_hash,
        "taken_at": cut.at.to_string(),
    })
}
