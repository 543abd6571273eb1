//! `quietbeam plan`: writes down what will be compared before anyone looks.

use super::Failure;
use super::registry::{Common, Registry};
use crate::access::Permit;
use crate::access::action::{ReadPlans, RegisterPlan};
use crate::registry::comparisons::Registered;
use crate::registry::plans;
use crate::store::Plan;
use clap::{Args, Subcommand};
use quietbeam_analysis::study::plan::{AnalysisPlan, PlanForm, costs};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Check, register, amend and read analysis plans. A registered plan never changes.
///
/// Example: quietbeam plan example > plan.toml
#[derive(Args)]
pub(super) struct PlanArgs {
    #[command(subcommand)]
    step: Step,
}

#[derive(Subcommand)]
enum Step {
    /// Print a plan to begin from.
    Example,
    /// Check a plan and say what it costs; nothing is registered.
    Check {
        /// The plan as TOML or JSON.
        file: PathBuf,
    },
    /// Register a plan.
    Register {
        /// The plan as TOML or JSON.
        file: PathBuf,
        #[command(flatten)]
        common: Common,
    },
    /// Register a further version of a plan.
    Amend {
        /// The plan's number, number and version as 2.1, or identifier.
        plan: String,
        /// The plan as it shall be, as TOML or JSON.
        file: PathBuf,
        /// Why it is amended.
        #[arg(long)]
        reason: String,
        #[command(flatten)]
        common: Common,
    },
    /// List every version, the newest first.
    List {
        #[command(flatten)]
        common: Common,
    },
    /// Show a plan and what was changed in it.
    Show {
        /// Its number, number and version as 2.1, or identifier.
        plan: String,
        #[command(flatten)]
        common: Common,
    },
}

/// A plan to begin from.
const EXAMPLE: &str = include_str!("plan_example.toml");

pub(super) fn run(args: &PlanArgs, out: &mut dyn Write) -> Result<(), Failure> {
    let operator = || Permit::<RegisterPlan>::for_operator("plan from the command line");
    match &args.step {
        Step::Example => Ok(write!(out, "{EXAMPLE}")?),
        Step::Check { file } => {
            let plan = AnalysisPlan::newly_written(form(file)?)
                .map_err(|error| Failure::Refused(error.to_string()))?;
            writeln!(out, "The plan can be carried out. It is not registered.\n")?;
            print_costs(&plan, out)
        }
        Step::Register { file, common } => {
            let registry = Registry::open(&common.options)?;
            let prepared = plans::prepare(&registry.store, operator(), form(file)?)?;
            let kept =
                registry.store.write_blocking(operator(), move |session| prepared.register(session))?;
            print(&[kept], common.json, out)
        }
        Step::Amend { plan, file, reason, common } => {
            let registry = Registry::open(&common.options)?;
            let prepared = plans::prepare(&registry.store, operator(), form(file)?)?;
            let (name, reason) = (plan.clone(), reason.clone());
            let kept = registry.store.write_blocking(operator(), move |session| {
                let old = plans::named(session, &name)?;
                prepared.amend(session, old.id, &reason)
            })?;
            print(&[kept], common.json, out)
        }
        Step::List { common } => {
            let registry = Registry::open(&common.options)?;
            let permit = Permit::<ReadPlans>::for_operator("plans listed from the command line");
            let kept = registry.store.read_blocking(permit, |session| session.list_plans())?;
            print(&kept, common.json, out)
        }
        Step::Show { plan, common } => show(plan, common, out),
    }
}

/// The plan to begin from, as the demo registers it.
pub(super) fn example() -> Result<PlanForm, Failure> {
    toml::from_str(EXAMPLE).map_err(|error| Failure::Broken(error.to_string()))
}

/// The plan in a file: JSON if it begins with a brace, else TOML.
fn form(file: &Path) -> Result<PlanForm, Failure> {
    let text = fs::read_to_string(file)
        .map_err(|error| Failure::Broken(format!("the plan {}: {error}", file.display())))?;
    let refused = |error: &dyn std::fmt::Display| Failure::Refused(format!("{}: {error}", file.display()));
    if text.trim_start().starts_with('{') {
        serde_json::from_str(&text).map_err(|error| refused(&error))
    } else {
        toml::from_str(&text).map_err(|error| refused(&error))
    }
}

fn show(name: &str, common: &Common, out: &mut dyn Write) -> Result<(), Failure> {
    let registry = Registry::open(&common.options)?;
    let permit = Permit::<ReadPlans>::for_operator("plan shown from the command line");
    let name = name.to_owned();
    let (kept, changes) = registry.store.read_blocking(permit, move |session| {
        let kept = plans::named(session, &name)?;
        let changes = plans::amended(session, &kept)?;
        Ok::<_, crate::registry::RegistryError>((kept, changes))
    })?;
    if common.json {
        return Ok(writeln!(out, "{}", kept.new.content)?);
    }
    let plan = plans::read(&kept)?;
    print(std::slice::from_ref(&kept), false, out)?;
    if let Some(reason) = &kept.reason {
        writeln!(out, "\nAmended: {reason}")?;
    }
    let shown =
        |value: &Option<serde_json::Value>| value.as_ref().map_or("nothing".to_owned(), ToString::to_string);
    for change in &changes {
        writeln!(out, "  {}: {} became {}", change.pointer, shown(&change.before), shown(&change.after))?;
    }
    writeln!(
        out,
        "\n{}",
        toml::to_string_pretty(&plan).map_err(|error| Failure::Broken(error.to_string()))?
    )?;
    print_costs(&plan, out)
}

fn print_costs(plan: &AnalysisPlan, out: &mut dyn Write) -> Result<(), Failure> {
    writeln!(out, "Cases of each arm, if both arms do as the plan expects of the conventional one:")?;
    for cost in costs(plan) {
        let label = format!("{} with power {}", cost.endpoint.label(), cost.power);
        match (cost.each_arm, cost.why_not) {
            (Some(cases), _) => writeln!(out, "  {label:<52}{cases:>8}")?,
            (None, why) => writeln!(out, "  {label}: {}", why.unwrap_or_default())?,
        }
    }
    writeln!(out, "Centres that differ and outcomes that are not learnt cost more.\n\nEndpoints:")?;
    for planned in plan.endpoints() {
        writeln!(out, "  {}: {}", planned.endpoint.label(), planned.endpoint.definition().in_words())?;
    }
    writeln!(out, "Recurrence counts {}.\n\nEvery plan:", plan.recurrence().in_words())?;
    for sentence in plan.always() {
        writeln!(out, "  {sentence}")?;
    }
    Ok(())
}

fn print(kept: &[Plan], json: bool, out: &mut dyn Write) -> Result<(), Failure> {
    if json {
        let all: Vec<_> = kept.iter().map(as_json).collect();
        serde_json::to_writer_pretty(&mut *out, &all)?;
        return Ok(writeln!(out)?);
    }
    if kept.is_empty() {
        writeln!(out, "There is no plan yet; register one with: quietbeam plan register FILE")?;
    }
    for plan in kept {
        writeln!(
            out,
            "Plan {}.{}  {}  registered {}  hash {}\n  before it: {} cases in its scope entered, {} comparisons computed  ({})",
            plan.number,
            plan.version,
            plan.new.title,
            plan.at,
            plan.content_hash,
            plan.new.cases_before,
            plan.comparisons_before,
            plan.id
        )?;
    }
    Ok(())
}

fn as_json(plan: &Plan) -> serde_json::Value {
    serde_json::json!({
        "id": plan.id.to_string(),
        "number": plan.number,
        "version": plan.version,
        "title": plan.new.title,
        "plan_hash": plan.content_hash,
        "reason": plan.reason,
        "cases_before": plan.new.cases_before,
        "comparisons_before": plan.comparisons_before,
        "registered_at": plan.at.to_string(),
    })
}

/// Which plan was carried out and how much was known before it, in a sentence or two.
pub(super) fn registration(registered: &Registered) -> String {
    let Registered {
        name, plan_hash, registered_at, cases_before, comparisons_before, cut_taken_before, ..
    } = registered;
    let known = if registered.is_fully_prespecified() {
        "Fixed before any case in its scope was entered."
    } else {
        "Not fully fixed beforehand."
    };
    let cut = if *cut_taken_before { " The data had been frozen before it was registered." } else { "" };
    format!(
        "Plan {name}, registered {registered_at}, hash {plan_hash}\n{known} Entered before it: {cases_before} cases in its scope; compared before it: {comparisons_before} times.{cut}"
    )
}
