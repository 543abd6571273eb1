//! `quietbeam summary`: from a data cut to a published safety summary. Each step
//! is a person's, and the three people differ.

use super::Failure;
use super::compare::find_cut;
use super::registry::{Common, Person, Registry};
use crate::access::Permit;
use crate::access::action::{
    ApproveSummary, DraftSummary, PublishSummary, ReadSummaryDrafts, WithdrawSummary,
};
use crate::registry::{IfMatch, summaries};
use crate::store::{PublicBody, Summary};
use clap::{Args, Subcommand};
use quietbeam_analysis::study::summary_words::summary_words;
use quietbeam_schema::ids::{SummaryId, SummaryNumber};
use quietbeam_schema::summary_design::DesignForm;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Draft, approve, publish, withdraw or read a safety summary.
///
/// Example: quietbeam summary draft --cut latest --as society.author
#[derive(Args)]
pub(super) struct SummaryArgs {
    #[command(subcommand)]
    step: Step,
}

#[derive(Subcommand)]
enum Step {
    /// Compose a summary from a data cut; small cells are hidden before anyone sees it.
    Draft {
        /// The cut: its identifier, its name, or "latest".
        #[arg(long, default_value = "latest")]
        cut: String,
        /// A JSON file with what it is to show: period, tables, comparison, profile, question,
        /// text.
        #[arg(long)]
        design: Option<PathBuf>,
        #[command(flatten)]
        person: Person,
        #[command(flatten)]
        common: Common,
    },
    /// List the summaries in every stage.
    Drafts {
        #[command(flatten)]
        common: Common,
    },
    /// Approve the disclosure of a draft, as a monitor.
    Approve {
        /// The draft.
        id: SummaryId,
        /// The approval hash of what you looked at.
        #[arg(long)]
        hash: String,
        #[command(flatten)]
        person: Person,
        #[command(flatten)]
        common: Common,
    },
    /// Publish an approved summary.
    Publish {
        /// The summary.
        id: SummaryId,
        #[command(flatten)]
        person: Person,
        #[command(flatten)]
        common: Common,
    },
    /// Withdraw a published summary, with a public reason.
    Withdraw {
        /// The summary.
        id: SummaryId,
        /// Why; everyone can read it.
        #[arg(long)]
        reason: String,
        /// The number of a later summary that says it right.
        #[arg(long)]
        corrected_by: Option<i64>,
        #[command(flatten)]
        person: Person,
        #[command(flatten)]
        common: Common,
    },
    /// Print a published summary.
    Show {
        /// Its number.
        number: i64,
        #[command(flatten)]
        common: Common,
    },
}

pub(super) fn run(args: SummaryArgs, out: &mut dyn Write) -> Result<(), Failure> {
    match args.step {
        Step::Draft { cut, design, person, common } => {
            draft((&cut, design.as_deref()), &person, &common, out)
        }
        Step::Drafts { common } => {
            let registry = Registry::open(&common.options)?;
            let permit = Permit::<ReadSummaryDrafts>::for_operator("summaries listed from the command line");
            let all = registry.store.read_blocking(permit, |session| session.list_summaries())?;
            all.iter().try_for_each(|summary| print(summary, common.json, out))
        }
        Step::Approve { id, hash, person, common } => {
            let registry = Registry::open(&common.options)?;
            let read = IfMatch::parse(&format!("\"{hash}\""))
                .ok_or_else(|| Failure::Refused("the hash has 64 hexadecimal digits".to_owned()))?;
            let approved = person.act(&registry, |caller| {
                let permits = [caller.permit::<ApproveSummary>()?, caller.permit::<ApproveSummary>()?];
                Ok(summaries::approve(&registry.store, permits, id, &read)?)
            })?;
            print(&approved, common.json, out)
        }
        Step::Publish { id, person, common } => {
            let registry = Registry::open(&common.options)?;
            let (number, published) = person.act(&registry, |caller| {
                let permits = [caller.permit::<PublishSummary>()?, caller.permit::<PublishSummary>()?];
                Ok(summaries::publish(&registry.store, permits, id)?)
            })?;
            if !common.json {
                writeln!(out, "Published as safety summary {}.", number.0)?;
            }
            print(&published, common.json, out)
        }
        Step::Withdraw { id, reason, corrected_by, person, common } => {
            let registry = Registry::open(&common.options)?;
            let withdrawn = person.act(&registry, |caller| {
                let permit = caller.permit::<WithdrawSummary>()?;
                let by = corrected_by.map(SummaryNumber);
                Ok(registry
                    .store
                    .write_blocking(permit, move |session| summaries::withdraw(session, id, &reason, by))?)
            })?;
            print(&withdrawn, common.json, out)
        }
        Step::Show { number, common } => show(SummaryNumber(number), &common, out),
    }
}

fn draft(
    (cut, design): (&str, Option<&Path>),
    person: &Person,
    common: &Common,
    out: &mut dyn Write,
) -> Result<(), Failure> {
    let registry = Registry::open(&common.options)?;
    let cut = find_cut(&registry.store, cut)?.id;
    let design = design.map(read_design).transpose()?.unwrap_or_default();
    let (words, summary) = person.act(&registry, |caller| {
        let permits = [caller.permit()?, caller.permit()?];
        let composed = summaries::compose(&registry.store, permits, cut, design)?;
        let new = composed.new;
        let kept = registry.store.write_blocking(caller.permit::<DraftSummary>()?, move |session| {
            let id = session.draft_summary(&new)?;
            session.find_summary(id)
        })?;
        Ok((summary_words(&composed.summary), kept))
    })?;
    if !common.json {
        write!(out, "{words}")?;
    }
    print(&summary, common.json, out)
}

fn read_design(path: &Path) -> Result<DesignForm, Failure> {
    let refused = |why: &dyn std::fmt::Display| Failure::Refused(format!("{}: {why}", path.display()));
    let text = std::fs::read_to_string(path).map_err(|error| refused(&error))?;
    serde_json::from_str(&text).map_err(|error| refused(&error))
}

fn show(number: SummaryNumber, common: &Common, out: &mut dyn Write) -> Result<(), Failure> {
    let registry = Registry::open(&common.options)?;
    let read =
        registry.store.read_blocking(Permit::public(), move |session| session.find_published(number))?;
    match read.body {
        PublicBody::InForce(content) => Ok(writeln!(out, "{content}")?),
        PublicBody::Withdrawn { reason, .. } => {
            Err(Failure::Refused(format!("safety summary {} was withdrawn: {reason}", number.0)))
        }
    }
}

fn print(summary: &Summary, json: bool, out: &mut dyn Write) -> Result<(), Failure> {
    if json {
        let view = serde_json::json!({
            "id": summary.id.to_string(),
            "data_cut": summary.cut.to_string(),
            "stage": summary.stage,
            "content_hash": summary.content_hash,
            "approval_hash": summary.approval_hash(),
        });
        serde_json::to_writer_pretty(&mut *out, &view)?;
        return Ok(writeln!(out)?);
    }
    Ok(writeln!(out, "{}  {}  approval hash {}", summary.id, summary.stage.name(), summary.approval_hash())?)
}
