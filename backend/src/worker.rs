//! The worker of this server: a thread that takes up imports that wait, those of a server that
//! is gone among them. It ends with the server.

use quietbeam_schema::ids::ImportJobId;
use std::io;
use std::sync::mpsc::{RecvTimeoutError, SyncSender, sync_channel};
use std::thread;
use std::time::Duration;

use crate::clock::Randomness;
use crate::registry::RegistryError;
use crate::registry::imports::under_way::{Progress, UnderWay};
use crate::registry::imports::work::{sweep, waits, work};
use crate::store::{Store, hex};

/// How long a job waits at most that another server left behind.
const LOOKS_AFTER: Duration = Duration::from_secs(3);
/// After how many looks what is older than a day is thrown away.
const LOOKS_A_SWEEP: u32 = 200;

/// Takes up imports.
pub struct Worker {
    store: Store,
    holder: String,
    under_way: UnderWay,
    call: SyncSender<()>,
}

impl Worker {
    /// Starts the thread.
    ///
    /// # Errors
    /// When there are no random bytes for its name, or no thread.
    pub fn start(store: Store, randomness: &Randomness) -> io::Result<Self> {
        let holder = hex(&randomness.bytes::<16>().map_err(io::Error::other)?);
        let (call, calls) = sync_channel(1);
        let (own_store, own_name) = (store.clone(), holder.clone());
        let under_way = UnderWay::default();
        let own_work = under_way.clone();
        thread::Builder::new().name("import-worker".to_owned()).spawn(move || {
            let mut looks = 0;
            loop {
                if looks % LOOKS_A_SWEEP == 0 {
                    told(sweep(&own_store).map(|()| false));
                }
                looks = looks.wrapping_add(1);
                while told(waits(&own_store)) && told(work(&own_store, &own_work, None, &own_name)) {}
                if calls.recv_timeout(LOOKS_AFTER) == Err(RecvTimeoutError::Disconnected) {
                    return;
                }
            }
        })?;
        Ok(Self { store, holder, under_way, call })
    }

    /// Has a job taken up by the thread.
    pub fn call(&self) {
        // A call that waits already serves this job too.
        let _ = self.call.try_send(());
    }

    /// How far the jobs are that this server works on; to be asked before they are read.
    pub fn progress(&self) -> Progress {
        self.under_way.progress()
    }

    /// As whom a request holds a job that it works on itself.
    pub fn holder_of(&self, request_id: &str) -> String {
        format!("{} {request_id}", self.holder)
    }

    /// Works on one job at once and comes back when it is done.
    ///
    /// # Errors
    /// When the store fails; then the job waits for the thread.
    pub fn work_on(&self, job: ImportJobId, holder: &str) -> Result<bool, RegistryError> {
        work(&self.store, &self.under_way, Some(job), holder)
    }
}

/// Whether there was something; what went wrong goes to the log, and is tried again later.
fn told(outcome: Result<bool, RegistryError>) -> bool {
    outcome.unwrap_or_else(|error| {
        tracing::warn!(%error, "an import under way could not be worked on");
        false
    })
}
