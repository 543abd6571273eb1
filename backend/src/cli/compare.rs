//! `quietbeam compare`: zero-fluoroscopy against conventional, on a data cut.

use super::Failure;
use super::plan;
use super::registry::Registry;
use crate::access::Permit;
use crate::access::action::{ExportDeidentified, ReadDataCuts, RunComparison};
use crate::config::Options;
use crate::registry::comparisons::{Computed, Outcome, Question, SOFTWARE_VERSION, compute};
use crate::registry::{plans, rechecks};
use crate::store::{Comparison, DataCut, Store};
use clap::Args;
use quietbeam_analysis::study::planned_words::planned_words;
use quietbeam_analysis::study::request::{ComparisonRequest, RequestForm};
use quietbeam_analysis::study::words::words;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Compare zero-fluoroscopy with conventional cases on a data cut: acute
/// success and major complications within 30 days, non-inferiority, dose.
///
/// Example: quietbeam compare --cut latest --plan 1
#[derive(Args)]
pub(super) struct CompareArgs {
    /// The cut: its identifier, its name, or "latest".
    #[arg(long, default_value = "latest")]
    cut: String,
    /// The registered plan to carry out: its number, number and version as 2.1, or identifier.
    #[arg(long, conflicts_with_all = ["success_margin", "major_margin", "level", "group"])]
    plan: Option<String>,
    /// Margin for acute success, as a proportion, without a plan [default: 0.03].
    #[arg(long)]
    success_margin: Option<f64>,
    /// Margin for major complications within 30 days, as a proportion [default: 0.01].
    #[arg(long)]
    major_margin: Option<f64>,
    /// Two-sided confidence level [default: 0.95].
    #[arg(long)]
    level: Option<f64>,
    /// Compare only this procedure group; may be given again.
    #[arg(long)]
    group: Vec<String>,
    /// Also write the kit to compute it again in base R into this new folder.
    #[arg(long, value_name = "FOLDER", requires = "plan")]
    recheck: Option<PathBuf>,
    /// Print as JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    options: Options,
}

pub(super) fn run(args: &CompareArgs, out: &mut dyn Write) -> Result<(), Failure> {
    let operator = || Permit::for_operator("comparison from the command line");
    // What is wrong with the question is said before anything is opened.
    let without_plan = without_plan(args)?;
    args.recheck.as_deref().map(new_folder).transpose()?;
    let registry = Registry::open(&args.options)?;
    let cut = find_cut(&registry.store, &args.cut)?;
    let question = match args.plan.clone() {
        Some(name) => {
            let plan =
                registry.store.read_blocking(operator(), move |session| plans::named(session, &name))?;
            Question::Plan(plan.id)
        }
        None => without_plan,
    };
    let computed = Arc::new(compute(&registry.store, operator(), cut.id, question)?);
    let kept = keep(&registry.store, operator(), &computed)?;
    if let Some(folder) = &args.recheck {
        write_kit(&registry.store, folder, (&kept, &computed))?;
    }
    if args.json {
        return Ok(writeln!(out, "{}", kept.content.result)?);
    }
    print(&computed, &kept, out)?;
    if let Some(folder) = &args.recheck {
        let folder = folder.display();
        writeln!(
            out,
            "To compute it again: Rscript {folder}/recheck.R. The folder is as good as rows of the cut: {folder}/README.txt"
        )?;
    }
    Ok(())
}

fn without_plan(args: &CompareArgs) -> Result<Question, Failure> {
    let form = RequestForm {
        success_margin: args.success_margin,
        major_harm_margin: args.major_margin,
        level: args.level,
        procedure_groups: (!args.group.is_empty()).then(|| args.group.clone()),
    };
    let request = ComparisonRequest::try_from(form).map_err(|error| Failure::Refused(error.to_string()))?;
    Ok(Question::WithoutPlan(request))
}

/// Makes a folder that was not there.
fn new_folder(path: &Path) -> Result<(), Failure> {
    fs::create_dir(path).map_err(|error| match error.kind() {
        io::ErrorKind::AlreadyExists => {
            Failure::Refused(format!("{} is there already; name another folder", path.display()))
        }
        _ => Failure::Broken(format!("{}: {error}", path.display())),
    })
}

/// Writes the kit into its folder.
fn write_kit(
    store: &Store,
    folder: &Path,
    (kept, computed): (&Comparison, &Computed),
) -> Result<(), Failure> {
    let Outcome::Planned(_, planned) = &computed.outcome else { return Ok(()) };
    let operator = || Permit::<ExportDeidentified>::for_operator("kit to compute a comparison again");
    let kit = rechecks::kit(store, (operator(), operator()), (kept, &computed.cut), planned)?;
    for file in &kit.files {
        fs::write(folder.join(&file.name), &file.text)?;
    }
    Ok(())
}

/// Keeps what was computed.
pub(super) fn keep(
    store: &Store,
    permit: Permit<RunComparison>,
    computed: &Arc<Computed>,
) -> Result<Comparison, Failure> {
    let computed = Arc::clone(computed);
    Ok(store.write_blocking(permit, move |session| computed.keep(session))?)
}

/// The table, and where it came from.
pub(super) fn print(computed: &Computed, kept: &Comparison, out: &mut dyn Write) -> Result<(), Failure> {
    let cut = &computed.cut;
    match &computed.outcome {
        Outcome::Unplanned(result) => {
            write!(out, "{}", words(result))?;
            writeln!(
                out,
                "\nNo plan was carried out: nothing here was fixed beforehand, so it is exploratory."
            )?;
        }
        Outcome::Planned(registered, result) => {
            write!(out, "{}", planned_words(result))?;
            writeln!(out, "\n{}", plan::registration(registered))?;
        }
    }
    writeln!(
        out,
        "\nData cut \"{}\" ({}), {} cases, hash {}",
        cut.name, cut.id, cut.cases, cut.content_hash
    )?;
    writeln!(out, "Comparison {}, computed by {SOFTWARE_VERSION}", kept.id)?;
    Ok(())
}

/// The cut with this identifier or name, or the newest.
pub(super) fn find_cut(store: &Store, named: &str) -> Result<DataCut, Failure> {
    let permit = Permit::<ReadDataCuts>::for_operator("cut looked up from the command line");
    let cuts = store.read_blocking(permit, |session| session.list_cuts())?;
    let found = match named {
        "latest" => cuts.into_iter().next(),
        _ => cuts.into_iter().find(|cut| cut.name == named || cut.id.to_string() == named),
    };
    found.ok_or_else(|| {
        let sentence = match named {
            "latest" => "there is no data cut yet; take one with: quietbeam cut take --name NAME",
            _ => "there is no such data cut; list them with: quietbeam cut list",
        };
        Failure::Refused(sentence.to_owned())
    })
}
