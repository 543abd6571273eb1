//! How far the jobs are that this server works on. The store hears of it too, for whoever asks
//! another server; but the one writer of the embedded store has no ear while rows are stored.

use quietbeam_schema::ids::ImportJobId;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use super::jobs::{Job, Stage};

/// The rows of one job, counted while they go by.
pub(super) struct Rows {
    /// How often all of them are read.
    readings: u64,
    /// Rows of the readings that have ended.
    before: AtomicU64,
    /// Rows of the present reading.
    now: AtomicU64,
}

impl Rows {
    /// Notes that so many rows of a reading went by; fewer than before are the next reading's.
    pub(super) fn read(&self, rows: u64) {
        let last = self.now.swap(rows, Ordering::Relaxed);
        if rows <= last {
            self.before.fetch_add(last, Ordering::Relaxed);
        }
    }

    /// Rows that are done. One that is read twice is half done when it was read once.
    pub(super) fn done(&self) -> u64 {
        (self.before.load(Ordering::Relaxed) + self.now.load(Ordering::Relaxed)) / self.readings
    }
}

type Jobs = BTreeMap<ImportJobId, Arc<Rows>>;

/// The jobs that this server works on. Cloning it gives the same.
#[derive(Clone, Default)]
pub struct UnderWay(Arc<Mutex<Jobs>>);

impl UnderWay {
    /// Puts in how far the job is, if this server knows it better than the store.
    pub fn put_into(&self, job: &mut Job) {
        if !matches!(job.stage, Stage::Checking | Stage::Storing) {
            return;
        }
        let known = self.jobs().get(&job.row.id).map(|rows| rows.done());
        if let Some(done) = known.and_then(|done| i64::try_from(done).ok()) {
            job.row.rows_done = done.max(job.row.rows_done);
        }
    }

    /// Counts the rows of a job, until what is given back is dropped.
    pub(super) fn begin(&self, id: ImportJobId, readings: u64) -> AtWork {
        let rows = Arc::new(Rows { readings, before: AtomicU64::new(0), now: AtomicU64::new(0) });
        self.jobs().insert(id, Arc::clone(&rows));
        AtWork { id, rows, under_way: self.clone() }
    }

    fn jobs(&self) -> MutexGuard<'_, Jobs> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A job that is worked on.
pub(super) struct AtWork {
    id: ImportJobId,
    /// Its rows.
    pub(super) rows: Arc<Rows>,
    under_way: UnderWay,
}

impl Drop for AtWork {
    fn drop(&mut self) {
        self.under_way.jobs().remove(&self.id);
    }
}
