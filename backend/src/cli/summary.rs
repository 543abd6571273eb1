//! `quietbeam summary`: from a data cut to a published safety summary. Each step
//! is a person's, and the three people differ.

use super::Failure;
use super::compare::find_cut;
use super::registry::{Common, Person, Registry};
use crate::access::Permit;
use crate::access::action::{
    ApproveSummary, DraftSummary, PublishSummary, ReadSummaryDrafts, WithdrawSummary,
};
use crate::registry::summaries;
use crate::store::{PublicBody, Summary};
use clap::{Args, Subcommand};
use quietbeam_analysis::study::summary_words::summary_words;
use quietbeam_schema::ids::{SummaryId, SummaryNumber};
use std::io::Write;

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
        /// The content hash of what you looked at.
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
        Step::Draft { cut, person, common } => draft(&cut, &person, &common, out),
        Step::Drafts { common } => {
            let registry = Registry::open(&common.options)?;
            let permit = Permit::<ReadSummaryDrafts>::for_operator("summaries listed from the command line");
            let all = registry.store.read_blocking(permit, |session| session.list_summaries())?;
            all.iter().try_for_each(|summary| print(summary, common.json, out))
        }
        Step::Approve { id, hash, person, common } => {
            let registry = Registry::open(&common.options)?;
            let approved = person.act(&registry, |caller| {
                let permit = caller.permit::<ApproveSummary>()?;
                Ok(registry
                    .store
                    .write_blocking(permit, move |session| session.approve_summary(id, &hash))?)
            })?;
            print(&approved, common.json, out)
        }
        Step::Publish { id, person, common } => {
            let registry = Registry::open(&common.options)?;
            let (number, published) = person.act(&registry, |caller| {
                let permit = caller.permit::<PublishSummary>()?;
                Ok(registry.store.write_blocking(permit, move |session| session.publish_summary(id))?)
            })?;
            if !common.json {
                writeln!(out, "Published as safety summary {}.", number.0)?;
            }
            print(&published, common.json, out)
        }
        Step::Withdraw { id, reason, person, common } => {
            let registry = Registry::open(&common.options)?;
            let withdrawn = person.act(&registry, |caller| {
                let permit = caller.permit::<WithdrawSummary>()?;
                Ok(registry
                    .store
                    .write_blocking(permit, move |session| summaries::withdraw(session, id, &reason))?)
            })?;
            print(&withdrawn, common.json, out)
        }
        Step::Show { number, common } => show(SummaryNumber(number), &common, out),
    }
}

fn draft(cut: &str, person: &Person, common: &Common, out: &mut dyn Write) -> Result<(), Failure> {
    let registry = Registry::open(&common.options)?;
    let cut = find_cut(&registry.store, cut)?.id;
    let (words, summary) = person.act(&registry, |caller| {
        let composed = summaries::compose(&registry.store, caller.permit::<DraftSummary>()?, cut)?;
        let content = composed.content;
        let kept = registry.store.write_blocking(caller.permit::<DraftSummary>()?, move |session| {
            let id = session.draft_summary(cut, &content)?;
            session.find_summary(id)
        })?;
        Ok((summary_words(&composed.summary), kept))
    })?;
    if !common.json {
        write!(out, "{words}")?;
    }
    print(&summary, common.json, out)
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
        });
        serde_json::to_writer_pretty(&mut *out, &view)?;
        return Ok(writeln!(out)?);
    }
    Ok(writeln!(out, "{}  {}  content hash {}", summary.id, summary.stage.name(), summary.content_hash)?)
}
