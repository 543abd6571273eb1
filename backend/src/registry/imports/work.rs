//! The work on a job: its files are looked through, or stored. It can end anywhere and be done
//! again by somebody else: looking changes nothing, and what was stored has left its receipt.

use quietbeam_schema::audit::Actor;
use quietbeam_schema::ids::ImportJobId;
use serde::Serialize;
use std::sync::Arc;
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::Duration;

use super::jobs::{Failure, Stored, files, unreadable, wanted_of};
use super::preview::{Preview, marks};
use super::under_way::{Rows, UnderWay};
use super::{Outcome, Request, Wanted, import_known};
use crate::access::Permit;
use crate::access::action::ImportFiles;
use crate::access::deputy::permit_of;
use crate::intake::{FileKind, Marked, Report, Staged};
use crate::registry::RegistryError;
use crate::store::{JobRow, JobStage, Store, StoreError};

/// How often a job is begun before it is given up.
const MOST_ATTEMPTS: i64 = 3;
/// How often a holder says that it is still at work.
const BEAT: Duration = Duration::from_secs(2);

/// Works on one job, this one or the longest waiting, as `holder`; whether there was one.
/// `under_way` is told how far it is.
///
/// # Errors
/// When the store fails. The job stays, and is taken up again.
pub fn work(
    store: &Store,
    under_way: &UnderWay,
    wanted: Option<ImportJobId>,
    holder: &str,
) -> Result<bool, RegistryError> {
    let (name, permit) = (holder.to_owned(), Permit::<ImportFiles>::for_operator("import job"));
    let claimed = store.write_blocking(permit, move |session| session.claim_import_job(wanted, &name));
    let Some(job) = claimed.map_err(RegistryError::Store)? else { return Ok(false) };
    let (id, name) = (job.id, holder.to_owned());
    // What is to be stored is read twice. It is counted until the store knows that it is done.
    let at_work = under_way.begin(&job, if wanted_of(&job) == Wanted::DryRun { 1 } else { 2 });
    let (next, outcome) = if job.attempts > MOST_ATTEMPTS {
        failed(Failure::GivenUp)?
    } else {
        step(store, &at_work.rows, job, holder)?
    };
    let permit = Permit::<ImportFiles>::for_operator("import job");
    let ended =
        store.write_blocking(permit, move |session| session.end_import_stage(id, &name, next, Some(outcome)));
    ended.map_err(RegistryError::Store)?;
    Ok(true)
}

/// Whether a job waits.
///
/// # Errors
/// When the store fails.
pub fn waits(store: &Store) -> Result<bool, RegistryError> {
    let permit = Permit::<ImportFiles>::for_operator("import job");
    Ok(store.read_blocking(permit, |session| session.import_job_waits())?)
}

/// Throws away what is older than a day.
///
/// # Errors
/// When the store fails.
pub fn sweep(store: &Store) -> Result<(), RegistryError> {
    let permit = Permit::<ImportFiles>::for_operator("import job");
    let swept: Result<(), StoreError> =
        store.write_blocking(permit, |session| session.drop_overdue_import_jobs());
    Ok(swept?)
}

/// Looks through the files of a job again, to mark what is wrong in them.
///
/// # Errors
/// When a file cannot be read, or the store fails.
pub fn marked(store: &Store, job: &JobRow) -> Result<Vec<(Staged, Marked)>, RegistryError> {
    let staged = staged(store, job)?;
    let report = look(store, job, &staged)?;
    let marks = |kind: FileKind| marks(&report, &staged, kind);
    let all: Vec<Marked> = staged.iter().map(|file| marks(file.layout.kind)).collect();
    Ok(staged.into_iter().zip(all).collect())
}

fn look(store: &Store, job: &JobRow, staged: &[Staged]) -> Result<Report, RegistryError> {
    let permit = || Permit::<ImportFiles>::for_operator("import job");
    let request = Request {
        centre: job.centre,
        files: Staged::files(staged),
        wanted: Wanted::DryRun,
        progress: Arc::new(|_| {}),
    };
    Ok(import_known(store, permit(), permit(), request, job.files_hash.clone())?.report)
}

fn staged(store: &Store, job: &JobRow) -> Result<Vec<Staged>, RegistryError> {
    let (permit, job) = (Permit::<ImportFiles>::for_operator("import job"), job.clone());
    store.read_blocking(permit, move |session| files(session, &job))
}

/// What comes after the stage the job is at, and what came of it.
fn step(
    store: &Store,
    rows: &Arc<Rows>,
    job: JobRow,
    holder: &str,
) -> Result<(JobStage, String), RegistryError> {
    let name = format!("import job {}", job.id);
    let permits = [permit_for(store, job.actor, &name)?, permit_for(store, job.actor, &name)?];
    let [Some(look), Some(keep)] = permits else { return failed(Failure::NotAllowed) };
    let staged = staged(store, &job)?;
    let wanted = wanted_of(&job);
    let counted = Arc::clone(rows);
    let request = Request {
        centre: job.centre,
        files: Staged::files(&staged),
        wanted,
        progress: Arc::new(move |rows| counted.read(rows)),
    };
    let outcome = while_heard_of(store, &job, holder, rows, || {
        import_known(store, look, keep, request, job.files_hash.clone())
    });
    // Somebody else stored the same files between the two readings: their receipt tells it.
    let outcome = outcome?;
    match stored(&outcome) {
        Some(stored) => Ok((JobStage::Stored, written(&stored)?)),
        None => {
            let first = staged.first();
            let preview = Preview::of(outcome, &staged).map_err(|error| match first {
                Some(file) => unreadable(file, error),
                None => RegistryError::Unreadable((FileKind::Cases, error)),
            })?;
            Ok((JobStage::Checked, written(&preview)?))
        }
    }
}

/// The permit of whoever asked for the work, if it still holds.
fn permit_for(store: &Store, actor: Actor, name: &str) -> Result<Option<Permit<ImportFiles>>, StoreError> {
    match actor {
        Actor::Member(id) => permit_of(store, id, name),
        Actor::Operator => Ok(Some(Permit::for_operator(name))),
        Actor::Nobody => Ok(None),
    }
}

fn stored(outcome: &Outcome) -> Option<Stored> {
    let before = outcome.already_imported.is_some();
    let receipt = outcome.receipt.as_ref().or(outcome.already_imported.as_ref())?;
    Some(Stored { receipt: receipt.parse().ok()?, before })
}

fn failed(why: Failure) -> Result<(JobStage, String), RegistryError> {
    Ok((JobStage::Failed, written(&why)?))
}

fn written(value: &impl Serialize) -> Result<String, RegistryError> {
    serde_json::to_string(value).map_err(RegistryError::NotWritten)
}

/// Does the work, and says now and then that it is still going on.
fn while_heard_of<T>(store: &Store, job: &JobRow, holder: &str, done: &Rows, work: impl FnOnce() -> T) -> T {
    thread::scope(|scope| {
        // Dropped when the work ends, however it ends.
        let (_at_work, over) = mpsc::channel::<()>();
        scope.spawn(move || {
            while over.recv_timeout(BEAT) == Err(RecvTimeoutError::Timeout) {
                let rows = i64::try_from(done.done()).unwrap_or(i64::MAX);
                let (id, holder) = (job.id, holder.to_owned());
                let permit = Permit::<ImportFiles>::for_operator("import job");
                let kept =
                    store.write_blocking(permit, move |session| session.keep_import_job(id, &holder, rows));
                let kept: Result<bool, StoreError> = kept;
                if let Err(error) = kept {
                    tracing::warn!(%error, "an import under way could not say so");
                }
            }
        });
        work()
    })
}
