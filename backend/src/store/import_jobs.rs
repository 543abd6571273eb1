//! Imports that are under way: the files a centre brought in, and how far the work on them is.
//! A job is not the record. Whoever works on one holds it for a while; when the holder is
//! heard of no more, another one takes it over.

use diesel::prelude::*;
use quietbeam_schema::audit::{Actor, Deed, Event, Subject};
use quietbeam_schema::ids::{CentreCode, ImportJobId};
use quietbeam_schema::instant::Instant;

use super::connection::MultiBackend;
use super::error::{Broken, Conflict, StoreError};
use super::session::{Session, Writing, read};
use super::tables::{import_job, import_job_file};
use crate::access::action::ImportFiles;

/// Seconds after which a job and all it holds are gone.
const LASTS_SECONDS: i64 = 24 * 60 * 60;
/// Seconds for which a holder that is heard of no more keeps a job.
const HELD_SECONDS: i64 = 30;

/// How far a job is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum JobStage {
    /// Its files wait to be looked through, or are being.
    ToCheck,
    /// They were looked through; the centre decides.
    Checked,
    /// They wait to be stored, or are being.
    ToStore,
    /// They are stored, and gone from the job.
    Stored,
    /// The work was begun again and again and never ended.
    Failed,
}

impl JobStage {
    const ALL: [Self; 5] = [Self::ToCheck, Self::Checked, Self::ToStore, Self::Stored, Self::Failed];

    /// Its name in the store.
    pub fn name(self) -> &'static str {
        match self {
            Self::ToCheck => "to_check",
            Self::Checked => "checked",
            Self::ToStore => "to_store",
            Self::Stored => "stored",
            Self::Failed => "failed",
        }
    }
}

/// A job.
#[derive(Debug, Clone, PartialEq)]
pub struct JobRow {
    /// Its identifier.
    pub id: ImportJobId,
    /// The centre whose files they are.
    pub centre: CentreCode,
    /// How far it is.
    pub stage: JobStage,
    /// Counted from 1; every change of its files adds one.
    pub version: i64,
    /// How the files are written, as JSON.
    pub layout: String,
    /// SHA-256 over the files as they were brought in.
    pub files_hash: String,
    /// What is wanted of them, once that was said.
    pub wanted: Option<String>,
    /// What was found or came of it, as JSON.
    pub outcome: Option<String>,
    /// Rows of the files.
    pub rows_all: i64,
    /// Rows that the present stage has done.
    pub rows_done: i64,
    /// How often the present stage was begun.
    pub attempts: i64,
    /// Who brought them in.
    pub actor: Actor,
    /// When.
    pub begun_at: Instant,
    /// When it is gone.
    pub ends_at: Instant,
}

/// One file of a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobFile {
    /// What its rows are.
    pub kind: String,
    /// Its text.
    pub content: String,
}

/// Files to begin a job with.
pub struct NewJob {
    /// The centre whose files they are.
    pub centre: CentreCode,
    /// How they are written, as JSON.
    pub layout: String,
    /// SHA-256 over them as they were brought in.
    pub files_hash: String,
    /// Their rows.
    pub rows: i64,
    /// The files.
    pub files: Vec<JobFile>,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = import_job, check_for_backend(MultiBackend))]
struct Row {
    id: String,
    centre: String,
    stage: String,
    version: i64,
    layout: String,
    files_hash: String,
    wanted: Option<String>,
    outcome: Option<String>,
    rows_all: i64,
    rows_done: i64,
    attempts: i64,
    actor: String,
    begun_at: String,
    ends_at: String,
}

impl<M> Session<'_, ImportFiles, M> {
    /// The jobs of the centres within reach, newest first.
    pub fn list_import_jobs(&mut self) -> Result<Vec<JobRow>, StoreError> {
        let mut query = import_job::table
            .select(Row::as_select())
            .filter(import_job::ends_at.gt(self.now().to_string()))
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(import_job::centre.eq_any(centres));
        }
        let rows: Vec<Row> = query.order(import_job::id.desc()).limit(50).load(self.connection)?;
        rows.into_iter().map(read_row).collect()
    }

    /// One job. One whose day is over is gone, whether it was swept away yet or not.
    pub fn import_job(&mut self, id: ImportJobId) -> Result<JobRow, StoreError> {
        let mut query = import_job::table
            .select(Row::as_select())
            .filter(import_job::id.eq(id.to_string()))
            .filter(import_job::ends_at.gt(self.now().to_string()))
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(import_job::centre.eq_any(centres));
        }
        let row: Option<Row> = query.first(self.connection).optional()?;
        read_row(row.ok_or(StoreError::Absent("import"))?)
    }

    /// Whether a job waits, or is held by nobody who is heard of.
    pub fn import_job_waits(&mut self) -> Result<bool, StoreError> {
        let now = self.now().to_string();
        let waiting: i64 = import_job::table
            .filter(import_job::stage.eq_any([JobStage::ToCheck.name(), JobStage::ToStore.name()]))
            .filter(import_job::held_until.is_null().or(import_job::held_until.lt(Some(now.clone()))))
            .filter(import_job::ends_at.gt(now))
            .count()
            .get_result(self.connection)?;
        Ok(waiting > 0)
    }

    /// The files of a job.
    pub fn import_job_files(&mut self, id: ImportJobId) -> Result<Vec<JobFile>, StoreError> {
        self.import_job(id)?;
        let rows: Vec<(String, String)> = import_job_file::table
            .select((import_job_file::kind, import_job_file::content))
            .filter(import_job_file::job.eq(id.to_string()))
            .order(import_job_file::kind.asc())
            .load(self.connection)?;
        Ok(rows.into_iter().map(|(kind, content)| JobFile { kind, content }).collect())
    }
}

impl Session<'_, ImportFiles, Writing> {
    /// Begins a job, to be looked through first.
    pub fn begin_import_job(&mut self, new: NewJob) -> Result<ImportJobId, StoreError> {
        self.within(new.centre)?;
        let id = self.new_id(ImportJobId::from_random)?;
        let now = self.now();
        diesel::insert_into(import_job::table)
            .values((
                import_job::id.eq(id.to_string()),
                import_job::centre.eq(new.centre.to_string()),
                import_job::stage.eq(JobStage::ToCheck.name()),
                import_job::version.eq(1),
                import_job::layout.eq(new.layout),
                import_job::files_hash.eq(new.files_hash),
                import_job::rows_all.eq(new.rows),
                import_job::rows_done.eq(0),
                import_job::attempts.eq(0),
                import_job::actor.eq(self.actor().to_string()),
                import_job::begun_at.eq(now.to_string()),
                import_job::ends_at.eq(now.plus_seconds(LASTS_SECONDS).to_string()),
            ))
            .execute(self.connection)?;
        self.put_files(id, new.files)?;
        self.record(Event::new(Deed::ImportBegun, Subject::ImportJob, id).at_centre(new.centre))?;
        Ok(id)
    }

    /// Puts changed files in the place of those that were looked at, to be looked through anew.
    pub fn change_import_job(
        &mut self,
        id: ImportJobId,
        version: i64,
        layout: String,
        files: Vec<JobFile>,
    ) -> Result<(), StoreError> {
        let current = self.import_job(id)?;
        let changed = diesel::update(import_job::table)
            .filter(import_job::id.eq(id.to_string()))
            .filter(import_job::version.eq(version))
            .filter(import_job::stage.eq(JobStage::Checked.name()))
            .set((
                import_job::stage.eq(JobStage::ToCheck.name()),
                import_job::version.eq(version + 1),
                import_job::layout.eq(layout),
                import_job::rows_done.eq(0),
                import_job::attempts.eq(0),
            ))
            .execute(self.connection)?;
        if changed != 1 {
            return Err(Conflict::StaleRevision { expected: version, current: current.version }.into());
        }
        self.put_files(id, files)
    }

    /// Asks that what was looked through be stored.
    pub fn store_import_job(
        &mut self,
        id: ImportJobId,
        version: i64,
        wanted: &str,
    ) -> Result<(), StoreError> {
        let current = self.import_job(id)?;
        let asked = diesel::update(import_job::table)
            .filter(import_job::id.eq(id.to_string()))
            .filter(import_job::version.eq(version))
            .filter(import_job::stage.eq(JobStage::Checked.name()))
            .set((
                import_job::stage.eq(JobStage::ToStore.name()),
                import_job::wanted.eq(Some(wanted.to_owned())),
                import_job::rows_done.eq(0),
                import_job::attempts.eq(0),
                // Whoever asks is who stores.
                import_job::actor.eq(self.actor().to_string()),
            ))
            .execute(self.connection)?;
        if asked != 1 {
            return Err(Conflict::StaleRevision { expected: version, current: current.version }.into());
        }
        Ok(())
    }

    /// Holds a job from its beginning, so that nobody else takes it before the holder does.
    pub fn hold_import_job(&mut self, id: ImportJobId, holder: &str) -> Result<(), StoreError> {
        let until = self.now().plus_seconds(HELD_SECONDS).to_string();
        diesel::update(import_job::table)
            .filter(import_job::id.eq(id.to_string()))
            .set((import_job::holder.eq(Some(holder.to_owned())), import_job::held_until.eq(Some(until))))
            .execute(self.connection)?;
        Ok(())
    }

    /// Takes a job that waits, or one whose holder was heard of no more: this one, or else the
    /// longest waiting.
    pub fn claim_import_job(
        &mut self,
        wanted: Option<ImportJobId>,
        holder: &str,
    ) -> Result<Option<JobRow>, StoreError> {
        let now = self.now().to_string();
        let waits = || import_job::stage.eq_any([JobStage::ToCheck.name(), JobStage::ToStore.name()]);
        let free = import_job::held_until
            .is_null()
            .or(import_job::held_until.lt(Some(now.clone())))
            .or(import_job::holder.eq(Some(holder.to_owned())));
        let mut query = import_job::table
            .select(import_job::id)
            .filter(waits())
            .filter(free.clone())
            .filter(import_job::ends_at.gt(now))
            .into_boxed();
        if let Some(wanted) = wanted {
            query = query.filter(import_job::id.eq(wanted.to_string()));
        }
        let waiting: Vec<String> = query.order(import_job::id.asc()).limit(5).load(self.connection)?;
        for id in waiting {
            let until = self.now().plus_seconds(HELD_SECONDS).to_string();
            // Asked again in the statement that takes it: another server may have been faster.
            let taken = diesel::update(import_job::table)
                .filter(import_job::id.eq(id.clone()))
                .filter(waits())
                .filter(free.clone())
                .set((
                    import_job::holder.eq(Some(holder.to_owned())),
                    import_job::held_until.eq(Some(until)),
                    import_job::attempts.eq(import_job::attempts + 1),
                ))
                .execute(self.connection)?;
            if taken == 1 {
                return self.import_job(read(&id, "import_job", "id")?).map(Some);
            }
        }
        Ok(None)
    }

    /// Says that the holder is still at work, and how far it is; whether it still holds the job.
    pub fn keep_import_job(
        &mut self,
        id: ImportJobId,
        holder: &str,
        rows_done: i64,
    ) -> Result<bool, StoreError> {
        let until = self.now().plus_seconds(HELD_SECONDS).to_string();
        let held = || {
            import_job::table
                .filter(import_job::id.eq(id.to_string()))
                .filter(import_job::holder.eq(Some(holder.to_owned())))
        };
        let kept =
            diesel::update(held()).set(import_job::held_until.eq(Some(until))).execute(self.connection)?;
        // Who takes a job over begins anew; what was told of it is not taken back.
        diesel::update(held().filter(import_job::rows_done.lt(rows_done)))
            .set(import_job::rows_done.eq(rows_done))
            .execute(self.connection)?;
        Ok(kept == 1)
    }

    /// Ends the stage that the holder worked on. What is stored, or never will be, is no longer
    /// kept in the job. Whoever lost the job meanwhile changes nothing.
    pub fn end_import_stage(
        &mut self,
        id: ImportJobId,
        holder: &str,
        next: JobStage,
        outcome: Option<String>,
    ) -> Result<(), StoreError> {
        let ended = diesel::update(import_job::table)
            .filter(import_job::id.eq(id.to_string()))
            .filter(import_job::holder.eq(Some(holder.to_owned())))
            .set((
                import_job::stage.eq(next.name()),
                import_job::outcome.eq(outcome),
                import_job::holder.eq(None::<String>),
                import_job::held_until.eq(None::<String>),
            ))
            .execute(self.connection)?;
        if ended == 1 && matches!(next, JobStage::Stored | JobStage::Failed) {
            self.drop_files(&id.to_string())?;
        }
        Ok(())
    }

    /// Throws a job away that nobody works on.
    pub fn drop_import_job(&mut self, id: ImportJobId) -> Result<(), StoreError> {
        let job = self.import_job(id)?;
        if !matches!(job.stage, JobStage::Checked | JobStage::Failed) {
            return Err(Conflict::Race.into());
        }
        self.sweep(&id.to_string(), job.centre)
    }

    /// Throws away every job whose day is over.
    pub fn drop_overdue_import_jobs(&mut self) -> Result<(), StoreError> {
        let overdue: Vec<(String, String)> = import_job::table
            .select((import_job::id, import_job::centre))
            .filter(import_job::ends_at.le(self.now().to_string()))
            .load(self.connection)?;
        for (id, centre) in overdue {
            self.sweep(&id, read(&centre, "import_job", "centre")?)?;
        }
        Ok(())
    }

    fn sweep(&mut self, id: &str, centre: CentreCode) -> Result<(), StoreError> {
        self.drop_files(id)?;
        let stored = import_job::stage.eq(JobStage::Stored.name());
        let was_stored: i64 = import_job::table
            .filter(import_job::id.eq(id.to_owned()))
            .filter(stored)
            .count()
            .get_result(self.connection)?;
        diesel::delete(import_job::table)
            .filter(import_job::id.eq(id.to_owned()))
            .execute(self.connection)?;
        // What was stored has its receipt; only what came to nothing is said to be dropped.
        if was_stored == 0 {
            self.record(Event::new(Deed::ImportDropped, Subject::ImportJob, id).at_centre(centre))?;
        }
        Ok(())
    }

    fn put_files(&mut self, id: ImportJobId, files: Vec<JobFile>) -> Result<(), StoreError> {
        self.drop_files(&id.to_string())?;
        for file in files {
            diesel::insert_into(import_job_file::table)
                .values((
                    import_job_file::job.eq(id.to_string()),
                    import_job_file::kind.eq(file.kind),
                    import_job_file::content.eq(file.content),
                ))
                .execute(self.connection)?;
        }
        Ok(())
    }

    fn drop_files(&mut self, id: &str) -> Result<(), StoreError> {
        diesel::delete(import_job_file::table)
            .filter(import_job_file::job.eq(id.to_owned()))
            .execute(self.connection)?;
        Ok(())
    }
}

fn read_row(row: Row) -> Result<JobRow, StoreError> {
    const TABLE: &str = "import_job";
    let stage = JobStage::ALL.into_iter().find(|stage| stage.name() == row.stage);
    Ok(JobRow {
        id: read(&row.id, TABLE, "id")?,
        centre: read(&row.centre, TABLE, "centre")?,
        stage: stage.ok_or(Broken::Unreadable { table: TABLE, column: "stage" })?,
        version: row.version,
        layout: row.layout,
        files_hash: row.files_hash,
        wanted: row.wanted,
        outcome: row.outcome,
        rows_all: row.rows_all,
        rows_done: row.rows_done,
        attempts: row.attempts,
        actor: read(&row.actor, TABLE, "actor")?,
        begun_at: read(&row.begun_at, TABLE, "begun_at")?,
        ends_at: read(&row.ends_at, TABLE, "ends_at")?,
    })
}
