//! The store: the only place that speaks to a database. It opens with a permit and with
//! nothing else.
//!
//! ```
//! # use quietbeam::access::{Permit, action::ReadCase};
//! # use quietbeam::store::{CaseFilter, PageRequest, Store, StoreError};
//! fn newest(store: &Store, permit: Permit<ReadCase>) -> Result<usize, StoreError> {
//!     let filter = CaseFilter::default();
//!     let page = store.read_blocking(permit, move |session| session.list_cases(&filter, PageRequest::first()))?;
//!     Ok(page.rows.len())
//! }
//! ```
//!
//! The wrong permit does not compile:
//!
//! ```compile_fail
//! # use quietbeam::access::{Permit, action::ReadAudit};
//! # use quietbeam::store::{CaseFilter, PageRequest, Store, StoreError};
//! fn newest(store: &Store, permit: Permit<ReadAudit>) -> Result<usize, StoreError> {
//!     let filter = CaseFilter::default();
//!     let page = store.read_blocking(permit, move |session| session.list_cases(&filter, PageRequest::first()))?;
//!     Ok(page.rows.len())
//! }
//! ```
//!
//! Nor does writing while reading, although the permit is the right one; with
//! `write_blocking` it does:
//!
//! ```compile_fail
//! # use quietbeam::access::{Permit, action::SubmitCase};
//! # use quietbeam::store::{NewCase, Saved, Store, StoreError};
//! fn save(store: &Store, permit: Permit<SubmitCase>, case: NewCase) -> Result<Saved, StoreError> {
//!     store.read_blocking(permit, move |session| session.save_new_case(case))
//! }
//! ```
//!
//! ```
//! # use quietbeam::access::{Permit, action::SubmitCase};
//! # use quietbeam::store::{NewCase, Saved, Store, StoreError};
//! fn save(store: &Store, permit: Permit<SubmitCase>, case: NewCase) -> Result<Saved, StoreError> {
//!     store.write_blocking(permit, move |session| session.save_new_case(case))
//! }
//! ```

mod address;
mod approvals;
mod audit;
mod case_changes;
mod cases;
mod centres;
mod comparisons;
mod connection;
mod contacts;
mod current_cases;
mod cut_memory;
mod cuts;
mod dialect;
mod drafts;
mod error;
mod exports;
mod idempotency;
mod import_jobs;
mod judgements;
mod looks;
mod members;
mod migrate;
mod own_picture;
mod plans;
mod queries;
mod questions_at;
mod receipts;
mod regions_at;
mod report_texts;
mod rule_queries;
mod screening;
mod session;
mod sign_ins;
mod summaries;
mod tables;
mod transaction;
mod writer;

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::Duration;

use diesel::r2d2::{ManageConnection, Pool, R2D2Connection};
use quietbeam_schema::instant::Instant;
use tokio::sync::oneshot;

pub use address::Address;
pub use approvals::ReadsApprovals;
pub use audit::{AuditFilter, AuditRow};
pub use case_changes::{
    CaseContent, CaseIndex, Change, ChangesCases, IssuesCodes, NewCase, Saved, SubmitsCases, UnusedCode,
};
pub use cases::{CaseFilter, CaseHistory, CaseRow, ReadsCases, StrategyCount};
pub use centres::ReadsCentres;
pub use comparisons::{Comparison, ComparisonRun, NewComparison, ReadsComparisons};
pub use contacts::Awaiting;
pub use current_cases::EnteredCase;
pub use cuts::{DataCut, ReadsCutCases, ReadsCuts, Standing};
pub use drafts::DraftRow;
pub use error::{Broken, Conflict, OpenError, Refused, StoreError};
pub use idempotency::{RequestKey, StoredReply};
pub use import_jobs::{JobFile, JobRow, JobStage, NewJob};
pub use judgements::{Judgement, NewJudgement, ReadsEvents};
pub use looks::KeptLook;
pub use members::{Administers, NamesMembers, ReadsMembers};
pub use own_picture::CentreColumns;
pub use plans::{NewPlan, Plan, ReadsPlans};
pub use queries::{QueryFilter, QueryGroup, QueryRow, Question};
pub use questions_at::QuestionAt;
pub use receipts::Receipt;
pub use report_texts::{NewReportText, ReportText};
pub use rule_queries::{Followed, FollowsRules, Found};
pub use screening::{ReadsScreening, ScreeningEntry, ScreeningLine, ScreeningRow};
pub(crate) use session::hex;
pub use session::{Page, PageRequest, Reading, Session, Writing, sha256_hex};
pub(crate) use sign_ins::{Credentials, LiveSignIn, NewSignIn, RefreshRules, Rotation};
pub use sign_ins::{OwnSignIn, SignInKind};
pub use summaries::{NewSummary, PublicBody, PublicSummary, ReadsSummaries, Summary};

use crate::access::{Action, Permit};
use crate::clock::{Clock, Randomness};
use connection::{AnyConnection, Purpose, connect};
use cut_memory::CutMemory;
use transaction::in_transaction;
use writer::Writer;

/// How the store is opened.
#[derive(Clone)]
pub struct StoreSettings {
    /// Where the database is.
    pub address: Address,
    /// How many connections at most (SQLite: reading ones).
    pub connections: u32,
    /// Accept a PostgreSQL server that may forget what it confirmed. For tests only.
    pub unsafe_durability: bool,
}

/// The store. Cloning it is cheap and gives the same store.
#[derive(Clone)]
pub struct Store(Arc<Inner>);

struct Inner {
    pool: Pool<Connections>,
    /// Only the embedded store has one.
    writer: Option<Writer>,
    clock: Clock,
    randomness: Randomness,
    memory: CutMemory,
    latest_write: AtomicI64,
}

struct Connections {
    address: Address,
    purpose: Purpose,
}

impl ManageConnection for Connections {
    type Connection = AnyConnection;
    type Error = OpenError;

    fn connect(&self) -> Result<AnyConnection, OpenError> {
        connect(&self.address, self.purpose)
    }

    fn is_valid(&self, connection: &mut AnyConnection) -> Result<(), OpenError> {
        Ok(connection.ping()?)
    }

    fn has_broken(&self, connection: &mut AnyConnection) -> bool {
        connection.is_broken()
    }
}

impl Store {
    /// Opens the store and brings its schema up to date.
    pub fn open(settings: StoreSettings, clock: Clock, randomness: Randomness) -> Result<Self, OpenError> {
        let StoreSettings { address, connections, unsafe_durability } = settings;
        let mut first = connect(&address, Purpose::Write)?;
        if let (AnyConnection::Postgres(postgres), false) = (&mut first, unsafe_durability) {
            connection::check_postgres(postgres)?;
        }
        migrate::migrate(&mut first)?;
        let latest = audit::latest(&mut first)?;
        drop(first);
        let (writer, purpose) = match &address {
            Address::Sqlite(_) => (Some(Writer::start(address.clone())?), Purpose::Read),
            Address::Postgres(_) => (None, Purpose::Write),
        };
        let pool = Pool::builder()
            .max_size(connections.max(1))
            .min_idle(Some(0))
            .connection_timeout(Duration::from_secs(5))
            .build(Connections { address, purpose })
            .map_err(|error| OpenError::NoConnection(error.to_string()))?;
        let latest_write = AtomicI64::new(latest.map_or(0, Instant::unix_milliseconds));
        let memory = CutMemory::default();
        Ok(Self(Arc::new(Inner { pool, writer, clock, randomness, memory, latest_write })))
    }

    /// Reads within one state of the database.
    pub async fn read<A, T, E, F>(&self, permit: Permit<A>, work: F) -> Result<T, E>
    where
        A: Action,
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
        F: FnOnce(&mut Session<'_, A>) -> Result<T, E> + Send + 'static,
    {
        let store = self.clone();
        blocking(move || store.read_blocking(permit, work)).await
    }

    /// Writes: all of it or nothing. The answer comes once it is durable.
    pub async fn write<A, T, E, F>(&self, permit: Permit<A>, work: F) -> Result<T, E>
    where
        A: Action,
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
        F: FnOnce(&mut Session<'_, A, Writing>) -> Result<T, E> + Send + 'static,
    {
        if self.0.writer.is_some() {
            return self.submit(permit, work)?.await.unwrap_or_else(|_| Err(closed()));
        }
        let store = self.clone();
        blocking(move || store.write_blocking(permit, work)).await
    }

    /// [`Store::read`] for the command line.
    pub fn read_blocking<A, T, E, F>(&self, permit: Permit<A>, work: F) -> Result<T, E>
    where
        A: Action,
        E: From<StoreError>,
        F: FnOnce(&mut Session<'_, A>) -> Result<T, E>,
    {
        let mut connection = self.0.pool.get().map_err(|_| StoreError::from(Broken::Busy))?;
        let (now, beside) = (self.0.clock.now(), (&self.0.randomness, &self.0.memory));
        in_transaction(&mut connection, dialect::begin_reading, |connection| {
            work(&mut Session::new(connection, &permit, beside, now))
        })
    }

    /// [`Store::write`] for the command line.
    pub fn write_blocking<A, T, E, F>(&self, permit: Permit<A>, work: F) -> Result<T, E>
    where
        A: Action,
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
        F: FnOnce(&mut Session<'_, A, Writing>) -> Result<T, E> + Send + 'static,
    {
        if self.0.writer.is_some() {
            return self.submit(permit, work)?.blocking_recv().unwrap_or_else(|_| Err(closed()));
        }
        let mut connection = self.0.pool.get().map_err(|_| StoreError::from(Broken::Busy))?;
        in_transaction(&mut connection, dialect::begin_writing, |connection| {
            self.0.work(connection, &permit, work)
        })
    }

    /// Whether the store can read and commit now.
    pub async fn is_ready(&self) -> bool {
        let probe = || Permit::<crate::access::action::ReadCentres>::for_operator("readiness probe");
        let reads = self.read(probe(), |_| Ok::<_, StoreError>(())).await;
        let writes = self.write(probe(), |_| Ok::<_, StoreError>(())).await;
        reads.is_ok() && writes.is_ok()
    }

    fn submit<A, T, E, F>(&self, permit: Permit<A>, work: F) -> Result<oneshot::Receiver<Result<T, E>>, E>
    where
        A: Action,
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
        F: FnOnce(&mut Session<'_, A, Writing>) -> Result<T, E> + Send + 'static,
    {
        let (sender, receiver) = oneshot::channel();
        let Some(writer) = &self.0.writer else { return Err(closed()) };
        let inner = Arc::clone(&self.0);
        writer.submit(
            move |connection| inner.work(connection, &permit, work),
            // Nobody waits any more when the request was dropped; the write stands.
            move |outcome| drop(sender.send(outcome)),
        )?;
        Ok(receiver)
    }
}

impl Inner {
    fn work<A, T, E, F>(&self, connection: &mut AnyConnection, permit: &Permit<A>, work: F) -> Result<T, E>
    where
        A: Action,
        E: From<StoreError>,
        F: FnOnce(&mut Session<'_, A, Writing>) -> Result<T, E>,
    {
        dialect::lock_writers(connection, A::ALONE).map_err(StoreError::from)?;
        let now = self.clock.now();
        let mut session = Session::new(connection, permit, (&self.randomness, &self.memory), now);
        let latest = self.latest_write.load(Ordering::SeqCst);
        session.watch_clock(Instant::from_unix_milliseconds(latest))?;
        let outcome = work(&mut session);
        if outcome.is_ok() {
            self.latest_write.store(now.unix_milliseconds(), Ordering::SeqCst);
        }
        outcome
    }
}

fn closed<E: From<StoreError>>() -> E {
    StoreError::from(Broken::Closed).into()
}

async fn blocking<T, E>(work: impl FnOnce() -> Result<T, E> + Send + 'static) -> Result<T, E>
where
    T: Send + 'static,
    E: From<StoreError> + Send + 'static,
{
    tokio::task::spawn_blocking(work).await.unwrap_or_else(|_| Err(closed()))
}
