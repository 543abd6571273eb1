//! Files brought in by a person: kept for a day while the centre looks at them, mends them and
//! says that they be stored. Nothing of them is a case before that.

use quietbeam_schema::ids::{ImportId, ImportJobId};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::io;

use super::Wanted;
use super::brought::Brought;
use super::preview::Preview;
use crate::access::action::ImportFiles;
use crate::intake::{FileKind, FileLayout, Mend, Staged};
use crate::registry::{IfMatch, RegistryError, Version};
use crate::store::{Broken, Conflict, JobFile, JobRow, JobStage, NewJob, Session, StoreError, Writing};

/// A job as it is shown.
pub struct Job {
    /// The job.
    pub row: JobRow,
    /// How its files are written.
    pub files: Vec<FileLayout>,
    /// What is to be seen of it.
    pub stage: Stage,
}

/// How far a job is, with what can be seen then.
pub enum Stage {
    /// It is being looked through.
    Checking,
    /// The centre decides.
    Checked(Box<Preview>),
    /// It is being stored.
    Storing,
    /// It is stored.
    Stored(Box<Stored>),
    /// It came to nothing.
    Failed(Failure),
}

/// What came of a job that was stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stored {
    /// The receipt, which says the rest.
    pub receipt: ImportId,
    /// Whether the very files had come before, so that nothing changed now.
    pub before: bool,
}

/// Why a job came to nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Failure {
    /// It was begun again and again.
    GivenUp,
    /// Whoever asked for it may no longer do it.
    NotAllowed,
}

/// What a person answers on the page of a job.
#[derive(Debug, Default)]
pub struct Answers {
    /// The unit of the column that was asked about.
    pub unit: Option<String>,
    /// Texts for groups of the preview, by their place in it.
    pub mends: Vec<(usize, String)>,
    /// Whether columns without a field are to be left out.
    pub leave_out: bool,
}

/// Why a job does not take the next step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NotYet {
    /// It is looked through or stored just now, or it has ended.
    #[error("It does not wait for an answer; read how it stands now.")]
    NotAsked,
    /// The one question comes first.
    #[error("Say first in which unit the column is.")]
    UnitNotSaid,
    /// Something of the file would be lost without a word.
    #[error("Say first that the columns without a field are left out.")]
    ColumnsWithoutField,
    /// Nothing would be stored.
    #[error("There is no row that could be stored.")]
    NothingGood,
    /// Some rows would not be stored.
    #[error("Mend the rows first, or store the good rows alone.")]
    RowsToMend,
}

/// A job that has something to be done.
pub struct ToDo {
    /// The job.
    pub id: ImportJobId,
    /// Who holds it and does it at once; without one, the worker of the server does it.
    pub holder: Option<String>,
}

/// Files of so many bytes are worked on while their author waits.
const SMALL: usize = 512 * 1024;

impl ToDo {
    fn of(
        session: &mut Session<'_, ImportFiles, Writing>,
        id: ImportJobId,
        files: &[Staged],
        holder: Option<&str>,
    ) -> Result<Self, StoreError> {
        let small = files.iter().map(|file| file.text.len()).sum::<usize>() <= SMALL;
        let holder = holder.filter(|_| small);
        holder.map_or(Ok(()), |holder| session.hold_import_job(id, holder))?;
        Ok(Self { id, holder: holder.map(str::to_owned) })
    }
}

/// Begins a job; `holder` is who would do it at once, if anybody.
///
/// # Errors
/// When the centre is not the member's.
pub fn begin(
    session: &mut Session<'_, ImportFiles, Writing>,
    brought: &Brought,
    holder: Option<&str>,
) -> Result<ToDo, RegistryError> {
    let Brought { centre, files_hash, files } = brought;
    let rows = files.iter().map(|file| file.layout.rows).sum::<u64>();
    let id = session.begin_import_job(NewJob {
        centre: *centre,
        layout: layouts(files)?,
        files_hash: files_hash.clone(),
        rows: i64::try_from(rows).unwrap_or(i64::MAX),
        files: contents(files),
    })?;
    Ok(ToDo::of(session, id, files, holder)?)
}

/// Reads a job.
///
/// # Errors
/// When there is none within reach.
pub fn read<M>(session: &mut Session<'_, ImportFiles, M>, id: ImportJobId) -> Result<Job, RegistryError> {
    shown(session.import_job(id)?)
}

/// The jobs within reach, newest first.
///
/// # Errors
/// When the store fails.
pub fn list<M>(session: &mut Session<'_, ImportFiles, M>) -> Result<Vec<Job>, RegistryError> {
    session.list_import_jobs()?.into_iter().map(shown).collect()
}

/// The files of a job.
///
/// # Errors
/// When there is none within reach.
pub fn files<M>(
    session: &mut Session<'_, ImportFiles, M>,
    job: &JobRow,
) -> Result<Vec<Staged>, RegistryError> {
    let layouts: Vec<FileLayout> = from_json(Some(&job.layout), "layout")?;
    let contents = session.import_job_files(job.id)?;
    let file = |layout: FileLayout| {
        let content = contents.iter().find(|file| file.kind == layout.kind.to_string());
        content.map(|file| Staged { layout, text: file.content.clone() })
    };
    Ok(layouts.into_iter().filter_map(file).collect())
}

/// The number of the version that a change was made from.
///
/// # Errors
/// When it was made from another than the present one.
pub fn version_read<M>(
    session: &mut Session<'_, ImportFiles, M>,
    id: ImportJobId,
    if_match: &IfMatch,
) -> Result<i64, RegistryError> {
    let job = read(session, id)?;
    if_match.holds(&job.version())?;
    Ok(job.row.version)
}

/// What waits for an answer in this version of a job.
fn waiting<M>(
    session: &mut Session<'_, ImportFiles, M>,
    id: ImportJobId,
    version: i64,
) -> Result<(JobRow, Preview), RegistryError> {
    let Job { row, stage, .. } = read(session, id)?;
    let Stage::Checked(preview) = stage else { return Err(NotYet::NotAsked.into()) };
    if row.version != version {
        return Err(
            StoreError::from(Conflict::StaleRevision { expected: version, current: row.version }).into()
        );
    }
    Ok((row, *preview))
}

/// Takes the answers of a person into the files, to be looked through anew. Answers that
/// change nothing are none.
///
/// # Errors
/// When somebody else answered meanwhile, or an answer is to nothing that was asked.
pub fn answer(
    session: &mut Session<'_, ImportFiles, Writing>,
    id: ImportJobId,
    version: i64,
    answers: &Answers,
    holder: Option<&str>,
) -> Result<Option<ToDo>, RegistryError> {
    let (row, preview) = waiting(session, id, version)?;
    fitting(&preview, answers)?;
    let mut staged = files(session, &row)?;
    let mut changed = false;
    for file in &mut staged {
        changed |= take(file, &preview, answers).map_err(|error| unreadable(file, error))?;
    }
    if !changed {
        return Ok(None);
    }
    session.change_import_job(id, version, layouts(&staged)?, contents(&staged))?;
    Ok(Some(ToDo::of(session, id, &staged, holder)?))
}

/// Whether every answer is one to what was asked.
fn fitting(preview: &Preview, answers: &Answers) -> Result<(), RegistryError> {
    if let Some(unit) = &answers.unit {
        let asked = preview
            .question
            .as_ref()
            .is_some_and(|question| question.units.iter().any(|known| known.ucum == *unit));
        if !asked {
            let sentence =
                "No column is asked about that could be in this unit; use one that the question lists.";
            return Err(RegistryError::field("/unit", "not_asked", sentence));
        }
    }
    if answers
        .mends
        .iter()
        .any(|(place, _)| preview.groups.get(*place).is_none_or(|group| group.cell.is_none()))
    {
        let sentence = "A mend is for no cell that was found; use the places in \"groups\" that have a cell.";
        return Err(RegistryError::field("/mends", "not_asked", sentence));
    }
    Ok(())
}

fn take(file: &mut Staged, preview: &Preview, answers: &Answers) -> io::Result<bool> {
    let kind = file.layout.kind;
    let mut changed = false;
    if answers.leave_out && !file.layout.without_field.is_empty() {
        file.layout.without_field.clear();
        changed = true;
    }
    let question = preview.question.as_ref().filter(|question| question.file == kind);
    if let Some((question, unit)) = question.zip(answers.unit.as_deref())
        && question.units.iter().any(|known| known.ucum == unit)
    {
        file.give_unit(&question.key, unit)?;
        changed = true;
    }
    let mut mends = Vec::new();
    for (place, text) in &answers.mends {
        let Some(group) = preview.groups.get(*place).filter(|group| group.file == kind) else { continue };
        let (Some(key), Some(cell)) = (&group.column, &group.cell) else { continue };
        // A cell that was not kept is mended by a blank too: that is what was looked at.
        if text.trim() != cell.trim() || group.withheld {
            mends.push(Mend { rows: group.rows.clone(), key: key.clone(), text: text.clone() });
        }
    }
    if !mends.is_empty() {
        file.mend(&mends)?;
        changed = true;
    }
    Ok(changed)
}

/// Asks that a job be stored.
///
/// # Errors
/// When something must be said or mended first, or somebody else answered meanwhile.
pub fn store(
    session: &mut Session<'_, ImportFiles, Writing>,
    id: ImportJobId,
    version: i64,
    wanted: Wanted,
    holder: Option<&str>,
) -> Result<ToDo, RegistryError> {
    let (row, preview) = waiting(session, id, version)?;
    if let Some(why) = not_yet(&preview, wanted) {
        return Err(why.into());
    }
    session.store_import_job(id, version, name_of(wanted))?;
    let staged = files(session, &row)?;
    Ok(ToDo::of(session, id, &staged, holder)?)
}

/// Why a job cannot be stored as it stands.
fn not_yet(preview: &Preview, wanted: Wanted) -> Option<NotYet> {
    if preview.question.is_some() {
        return Some(NotYet::UnitNotSaid);
    }
    if preview.without_field().next().is_some() {
        return Some(NotYet::ColumnsWithoutField);
    }
    if !preview.any_good() {
        return Some(NotYet::NothingGood);
    }
    (preview.refused > 0 && wanted == Wanted::AllOrNothing).then_some(NotYet::RowsToMend)
}

/// Throws a job away.
///
/// # Errors
/// When it is being worked on.
pub fn drop_job(
    session: &mut Session<'_, ImportFiles, Writing>,
    id: ImportJobId,
) -> Result<(), RegistryError> {
    Ok(session.drop_import_job(id)?)
}

const GOOD_ROWS: &str = "good_rows";

fn name_of(wanted: Wanted) -> &'static str {
    match wanted {
        Wanted::GoodRows => GOOD_ROWS,
        Wanted::AllOrNothing | Wanted::DryRun => "all_or_nothing",
    }
}

/// What is wanted in the stage that a job is at.
pub(super) fn wanted_of(job: &JobRow) -> Wanted {
    match (job.stage, job.wanted.as_deref()) {
        (JobStage::ToStore, Some(GOOD_ROWS)) => Wanted::GoodRows,
        (JobStage::ToStore, _) => Wanted::AllOrNothing,
        _ => Wanted::DryRun,
    }
}

fn shown(row: JobRow) -> Result<Job, RegistryError> {
    let outcome = row.outcome.as_deref();
    let stage = match row.stage {
        JobStage::ToCheck => Stage::Checking,
        JobStage::Checked => Stage::Checked(Box::new(from_json(outcome, "outcome")?)),
        JobStage::ToStore => Stage::Storing,
        JobStage::Stored => Stage::Stored(Box::new(from_json(outcome, "outcome")?)),
        JobStage::Failed => Stage::Failed(from_json(outcome, "outcome")?),
    };
    Ok(Job { files: from_json(Some(&row.layout), "layout")?, stage, row })
}

fn from_json<T: DeserializeOwned>(text: Option<&str>, column: &'static str) -> Result<T, RegistryError> {
    let unreadable = || StoreError::from(Broken::Unreadable { table: "import_job", column });
    Ok(text.and_then(|text| serde_json::from_str(text).ok()).ok_or_else(unreadable)?)
}

fn layouts(files: &[Staged]) -> Result<String, RegistryError> {
    let layouts: Vec<&FileLayout> = files.iter().map(|file| &file.layout).collect();
    serde_json::to_string(&layouts).map_err(RegistryError::NotWritten)
}

fn contents(files: &[Staged]) -> Vec<JobFile> {
    let content = |file: &Staged| JobFile { kind: file.layout.kind.to_string(), content: file.text.clone() };
    files.iter().map(content).collect()
}

pub(super) fn unreadable(file: &Staged, error: io::Error) -> RegistryError {
    RegistryError::Unreadable((file.layout.kind, error))
}

impl Job {
    /// The mark of what can be answered now: it changes with the files and with the stage.
    pub fn version(&self) -> Version {
        Version::of(&(self.row.version, self.row.stage.name()))
    }

    /// The file of this kind.
    pub fn file(&self, kind: FileKind) -> Option<&FileLayout> {
        self.files.iter().find(|file| file.kind == kind)
    }
}
