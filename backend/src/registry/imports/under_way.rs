//! How far the jobs are that this server works on. The store hears of it too, for whoever asks
//! another server; but the one writer of the embedded store has no ear while rows are stored.

use quietbeam_schema::ids::ImportJobId;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::jobs::Job;
use crate::store::{JobRow, JobStage};

/// The rows of one job, counted while they go by.
pub(super) struct Rows {
    /// How often all of them are read.
    readings: u64,
    counted: Mutex<Counted>,
}

/// Both numbers change at once: whoever saw only one of them change would see rows undone.
#[derive(Clone, Copy, Default)]
struct Counted {
    /// Rows of the readings that have ended.
    before: u64,
    /// Rows of the present reading.
    now: u64,
}

impl Rows {
    fn new(readings: u64) -> Self {
        Self { readings, counted: Mutex::default() }
    }

    /// Notes that so many rows of a reading went by; fewer than before are the next reading's.
    pub(super) fn read(&self, rows: u64) {
        let mut counted = self.counted.lock().unwrap_or_else(PoisonError::into_inner);
        if rows <= counted.now {
            counted.before += counted.now;
        }
        counted.now = rows;
    }

    /// Rows that are done. One that is read twice is half done when it was read once.
    pub(super) fn done(&self) -> u64 {
        let Counted { before, now } = *self.counted.lock().unwrap_or_else(PoisonError::into_inner);
        (before + now) / self.readings
    }
}

/// The work that rows are counted for: a stage of one version of a job.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Work {
    job: ImportJobId,
    version: i64,
    to_store: bool,
}

impl Work {
    /// The work that a job is at, if it is at any.
    fn of(row: &JobRow) -> Option<Self> {
        let to_store = match row.stage {
            JobStage::ToCheck => false,
            JobStage::ToStore => true,
            JobStage::Checked | JobStage::Stored | JobStage::Failed => return None,
        };
        Some(Self { job: row.id, version: row.version, to_store })
    }
}

type Works = BTreeMap<Work, Arc<Rows>>;

/// The jobs that this server works on. Cloning it gives the same.
#[derive(Clone, Default)]
pub struct UnderWay(Arc<Mutex<Works>>);

/// How far the jobs were at one moment.
pub struct Progress(BTreeMap<Work, u64>);

impl UnderWay {
    /// How far they are. To be asked before the jobs are read from the store: work that ends
    /// in between is still known here, and the store knows that it ended.
    pub fn progress(&self) -> Progress {
        Progress(self.works().iter().map(|(work, rows)| (*work, rows.done())).collect())
    }

    /// Counts the rows of a job, until what is given back is dropped.
    pub(super) fn begin(&self, job: &JobRow, readings: u64) -> AtWork {
        let rows = Arc::new(Rows::new(readings));
        let work = Work::of(job);
        if let Some(work) = work {
            self.works().insert(work, Arc::clone(&rows));
        }
        AtWork { work, rows, under_way: self.clone() }
    }

    fn works(&self) -> MutexGuard<'_, Works> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Progress {
    /// A job with how far it is, if this server knows it better than the store.
    pub fn of(&self, mut job: Job) -> Job {
        let known = Work::of(&job.row).and_then(|work| self.0.get(&work));
        if let Some(done) = known.and_then(|done| i64::try_from(*done).ok()) {
            job.row.rows_done = done.max(job.row.rows_done);
        }
        job
    }
}

/// A job that is worked on.
pub(super) struct AtWork {
    work: Option<Work>,
    /// Its rows.
    pub(super) rows: Arc<Rows>,
    under_way: UnderWay,
}

impl Drop for AtWork {
    fn drop(&mut self) {
        if let Some(work) = self.work {
            self.under_way.works().remove(&work);
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::registry::imports::jobs::Stage;
    use quietbeam_schema::audit::Actor;
    use quietbeam_schema::instant::Instant;
    use std::thread;

    fn row(stage: JobStage, version: i64) -> JobRow {
        let at = Instant::from_unix_milliseconds(0);
        JobRow {
            id: ImportJobId::from_random(0, [7; 10]),
            centre: "S07".parse().unwrap(),
            stage,
            version,
            layout: "[]".to_owned(),
            files_hash: String::new(),
            wanted: None,
            outcome: None,
            rows_all: 1_000,
            rows_done: 0,
            attempts: 1,
            actor: Actor::Nobody,
            begun_at: at,
            ends_at: at,
        }
    }

    fn shown(progress: &Progress, row: &JobRow) -> i64 {
        progress.of(Job { row: row.clone(), files: Vec::new(), stage: Stage::Checking }).row.rows_done
    }

    #[test]
    fn rows_that_are_read_twice_never_become_fewer() {
        let rows = Rows::new(2);
        thread::scope(|scope| {
            scope.spawn(|| {
                for _ in 0..2 {
                    (1..=20_000).for_each(|row| rows.read(row));
                }
            });
            let mut last = 0;
            while last < 20_000 {
                let now = rows.done();
                assert!(now >= last, "{now} after {last}");
                last = now;
            }
        });
        assert_eq!(rows.done(), 20_000);
    }

    /// A job is looked through, answered and looked through again, then stored; whoever reads it
    /// meanwhile may hold the row of one stage and the count of another.
    #[test]
    fn the_count_of_one_stage_is_not_shown_for_the_next() {
        let under_way = UnderWay::default();
        let first = under_way.begin(&row(JobStage::ToCheck, 1), 1);
        first.rows.read(900);
        let progress = under_way.progress();
        drop(first);
        assert_eq!(shown(&progress, &row(JobStage::ToCheck, 1)), 900, "it ended after it was asked");
        assert_eq!(shown(&progress, &row(JobStage::ToCheck, 2)), 0);
        assert_eq!(shown(&progress, &row(JobStage::ToStore, 1)), 0);
        assert_eq!(shown(&progress, &row(JobStage::Checked, 1)), 0);
        assert_eq!(shown(&under_way.progress(), &row(JobStage::ToCheck, 1)), 0);
    }

    #[test]
    fn what_the_store_knows_better_stays() {
        let under_way = UnderWay::default();
        let work = under_way.begin(&row(JobStage::ToStore, 1), 2);
        work.rows.read(400);
        let told = JobRow { rows_done: 700, ..row(JobStage::ToStore, 1) };
        assert_eq!(shown(&under_way.progress(), &told), 700);
    }
}
