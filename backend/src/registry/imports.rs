//! Files of a centre, taken in. They are read twice: once to find everything
//! that must be mended, with nothing stored and no writer kept waiting, and
//! once to store what was found good, all in one transaction.

mod alike;
pub mod brought;
mod decide;
pub mod jobs;
pub mod preview;
pub mod under_way;
pub mod work;

use quietbeam_schema::ids::{CaseCode, CentreCode};
use serde::{Deserialize, Serialize};
use serde_json::json;
use sha2::{Digest, Sha256};
use std::collections::HashSet;
use std::io::{self, Read};
use std::sync::Arc;

use super::RegistryError;
use super::cases::{save_all, supersede};
use crate::access::Permit;
use crate::access::action::ImportFiles;
use crate::intake::{At, FileCounts, FileKind, Files, IntakeError, Report, Tally};
use crate::store::{Broken, Conflict, Receipt, Session, Store, StoreError, Writing, hex};
use alike::Alike;
pub use alike::{Like, PossibleDuplicate};
use decide::{Batch, Decided, decide_all};

/// What is to be imported, and how.
#[derive(Clone)]
pub struct Request {
    /// The centre whose files they are.
    pub centre: CentreCode,
    /// The files.
    pub files: Files,
    /// What is wanted of them.
    pub wanted: Wanted,
    /// Told the number of rows done, now and then.
    pub progress: Arc<dyn Fn(u64) + Send + Sync>,
}

/// What is wanted of an import.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// Only the report; nothing is stored.
    DryRun,
    /// Everything, or nothing if any row must be mended.
    AllOrNothing,
    /// Every row that can be taken.
    GoodRows,
}

/// What came of an import.
#[derive(Debug, Serialize)]
pub struct Outcome {
    /// What was found in the files; if the very files came before, the counts
    /// of then.
    pub report: Report,
    /// What was stored, or would be; if the very files came before, what was
    /// stored then.
    pub changes: Changes,
    /// How the cases divide before anything is stored.
    pub rows: Rows,
    /// Cases that may be there twice; storing them is not refused.
    pub possible_duplicates: Vec<PossibleDuplicate>,
    /// Whether anything was stored now.
    pub stored: bool,
    /// The receipt of these very files, if the centre sent them before.
    pub already_imported: Option<String>,
    /// The receipt, if anything was stored.
    pub receipt: Option<String>,
}

/// What became of the cases.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Changes {
    /// New cases.
    pub new: u64,
    /// Stored cases with a new revision.
    pub changed: u64,
    /// Stored cases that the files repeat.
    pub unchanged: u64,
    /// Things the centre is asked about.
    pub to_answer: u64,
    /// The codes that were issued to rows without one.
    pub codes: Vec<IssuedCode>,
}

/// How the cases of the files divide; each is counted once.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Rows {
    /// New or changed, with nothing to say.
    pub ready: u64,
    /// New or changed, with something to answer.
    pub with_query: u64,
    /// New, and like another one.
    pub maybe_duplicate: u64,
    /// Stored already, just like this.
    pub unchanged: u64,
}

/// A code that was issued to a row without one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct IssuedCode {
    /// The row of the cases file.
    pub row: u64,
    /// The code, to be kept at the centre.
    pub code: CaseCode,
}

/// Imports files. `look` opens the store for the first reading, `keep` for the
/// second; both belong to the same request.
///
/// # Errors
/// When a file cannot be read, or the store does not do it. What is wrong in
/// the files stands in the outcome's report.
pub fn import(
    store: &Store,
    look: Permit<ImportFiles>,
    keep: Permit<ImportFiles>,
    request: Request,
) -> Result<Outcome, RegistryError> {
    let files_hash = hash_of(request.centre, &request.files).map_err(RegistryError::Unreadable)?;
    import_known(store, look, keep, request, files_hash)
}

/// Imports files that are known by the hash of what they were when they came.
fn import_known(
    store: &Store,
    look: Permit<ImportFiles>,
    keep: Permit<ImportFiles>,
    request: Request,
    files_hash: String,
) -> Result<Outcome, RegistryError> {
    let looked = {
        let request = request.clone();
        let files_hash = files_hash.clone();
        store.read_blocking(look, move |session| {
            Ok::<_, RegistryError>(match session.find_receipt(request.centre, &files_hash)? {
                Some(earlier) => Looked::Before(again(&earlier)?),
                None => Looked::New(survey(session, &request)?),
            })
        })?
    };
    let Survey { report, changes, rows, possible_duplicates, refused } = match looked {
        Looked::Before(outcome) => return Ok(outcome),
        Looked::New(survey) => survey,
    };
    let mut outcome = Outcome {
        report,
        changes,
        rows,
        possible_duplicates,
        stored: false,
        already_imported: None,
        receipt: None,
    };
    let wanted = match request.wanted {
        Wanted::DryRun => false,
        Wanted::AllOrNothing => outcome.report.all_accepted(),
        Wanted::GoodRows => !outcome.report.refused_whole,
    };
    let anything = outcome.changes.new + outcome.changes.changed > 0;
    if wanted && anything {
        let (receipt, changes) =
            store.write_blocking(keep, move |session| take_in(session, &request, &files_hash, &refused))?;
        outcome.stored = true;
        outcome.receipt = Some(receipt.id.to_string());
        outcome.changes = changes;
    }
    Ok(outcome)
}

/// What a receipt holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Kept {
    /// The rows of each file.
    pub files: Vec<FileCounts>,
    /// What became of the cases.
    pub changes: Changes,
}

impl Kept {
    /// What a receipt says.
    ///
    /// # Errors
    /// When it is not what was written.
    pub fn of(receipt: &Receipt) -> Result<Self, StoreError> {
        let unreadable = |_| Broken::Unreadable { table: "import_receipt", column: "content" };
        Ok(serde_json::from_value(receipt.content.clone()).map_err(unreadable)?)
    }
}

enum Looked {
    Before(Outcome),
    New(Survey),
}

/// Rows that cannot be taken.
type Refused = HashSet<(FileKind, u64)>;

/// What the first reading found.
struct Survey {
    report: Report,
    changes: Changes,
    rows: Rows,
    possible_duplicates: Vec<PossibleDuplicate>,
    refused: Refused,
}

/// Reads the files once and finds what would be done.
fn survey<M>(session: &mut Session<'_, ImportFiles, M>, request: &Request) -> Result<Survey, RegistryError> {
    let mut tally = Tally::default();
    let mut changes = Changes::default();
    let mut rows = Rows::default();
    let mut alike = Alike::default();
    let outcome = decide_all(session, request, &mut tally, |session, batch| {
        changes.count(&batch);
        rows.count(session, request.centre, &batch, &mut alike)
    });
    match outcome {
        Ok(()) => {}
        Err(RegistryError::Intake(IntakeError::Refused(refused))) => {
            tally.refuse_whole(refused.problems);
            (changes, rows, alike) = (Changes::default(), Rows::default(), Alike::default());
        }
        Err(error) => return Err(error),
    }
    let refused = tally.refused_rows().clone();
    Ok(Survey { report: report(tally, request), changes, rows, possible_duplicates: alike.told, refused })
}

/// The report. Rows that came without a cases file were compared with the
/// stored cases.
fn report(tally: Tally, request: &Request) -> Report {
    let report = tally.into_report(|kind| request.files.of(kind).is_some());
    Report { without_cases: false, ..report }
}

/// Reads the files again and stores what can be taken. `refused` is what the
/// first reading refused and reported: if the second finds anything else,
/// somebody wrote in between and nothing is stored.
fn take_in(
    session: &mut Session<'_, ImportFiles, Writing>,
    request: &Request,
    files_hash: &str,
    refused: &Refused,
) -> Result<(Receipt, Changes), RegistryError> {
    let mut tally = Tally::default();
    let mut changes = Changes::default();
    decide_all(session, request, &mut tally, |session, batch| {
        changes.count(&batch);
        store_batch(session, request.centre, batch, &mut changes)
    })?;
    if tally.refused_rows() != refused {
        return Err(StoreError::from(Conflict::Race).into());
    }
    let kept = Kept { files: report(tally, request).files, changes };
    let content = json!(kept);
    Ok((session.keep_receipt(request.centre, files_hash, content)?, kept.changes))
}

fn store_batch(
    session: &mut Session<'_, ImportFiles, Writing>,
    centre: CentreCode,
    batch: Batch,
    changes: &mut Changes,
) -> Result<(), RegistryError> {
    let mut new = Vec::new();
    let mut without_code = Vec::new();
    for (at, decided) in batch {
        match decided {
            Decided::New(ready) => {
                without_code.push(ready.code.is_none().then_some(at));
                new.push(*ready);
            }
            Decided::Changed(change) => {
                supersede(session, &change.current, change.ready, change.reason)?;
            }
            Decided::Unchanged => {}
        }
    }
    let submitted = save_all(session, new, Some(centre))?;
    for (submitted, at) in submitted.iter().zip(without_code) {
        if let Some(At { row, .. }) = at {
            changes.codes.push(IssuedCode { row, code: submitted.saved.code });
        }
    }
    Ok(())
}

impl Changes {
    fn count(&mut self, batch: &Batch) {
        for (_, decided) in batch {
            match decided {
                Decided::New(ready) => {
                    self.new += 1;
                    self.to_answer += ready.queries().len() as u64;
                }
                Decided::Changed(change) => {
                    self.changed += 1;
                    self.to_answer += change.ready.queries().len() as u64;
                }
                Decided::Unchanged => self.unchanged += 1,
            }
        }
    }
}

impl Rows {
    fn count<M>(
        &mut self,
        session: &mut Session<'_, ImportFiles, M>,
        centre: CentreCode,
        batch: &Batch,
        alike: &mut Alike,
    ) -> Result<(), RegistryError> {
        for (at, decided) in batch {
            let counted = match decided {
                Decided::New(ready) if alike.look(session, centre, at.row, ready)? => {
                    &mut self.maybe_duplicate
                }
                Decided::New(ready) if !ready.queries().is_empty() => &mut self.with_query,
                Decided::Changed(change) if !change.ready.queries().is_empty() => &mut self.with_query,
                Decided::New(_) | Decided::Changed(_) => &mut self.ready,
                Decided::Unchanged => &mut self.unchanged,
            };
            *counted += 1;
        }
        Ok(())
    }
}

/// The outcome for files that the centre sent before: what came of them then.
fn again(earlier: &Receipt) -> Result<Outcome, StoreError> {
    let Kept { files, changes } = Kept::of(earlier)?;
    let report = Report { files, ..Report::default() };
    Ok(Outcome {
        report,
        changes,
        rows: Rows::default(),
        possible_duplicates: Vec::new(),
        stored: false,
        already_imported: Some(earlier.id.to_string()),
        receipt: None,
    })
}

/// SHA-256 over the centre and the bytes of each file under its kind.
fn hash_of(centre: CentreCode, files: &Files) -> Result<String, (FileKind, io::Error)> {
    let mut hash = Sha256::new();
    hash.update(centre.to_string());
    for kind in FileKind::ALL {
        let Some(source) = files.of(kind) else { continue };
        hash.update(format!("\n{kind}\n"));
        hash_into(&mut hash, source.open().map_err(|error| (kind, error))?).map_err(|error| (kind, error))?;
    }
    Ok(hex(&hash.finalize()))
}

fn hash_into(hash: &mut Sha256, mut reader: impl Read) -> io::Result<()> {
    let mut bytes = [0; 64 * 1024];
    loop {
        match reader.read(&mut bytes)? {
            0 => return Ok(()),
            read => hash.update(&bytes[..read]),
        }
    }
}
