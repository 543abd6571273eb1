//! What can go wrong between a question and the database, in four families: a rule said no,
//! it is not there, somebody else was faster, or something broke. Status codes are not
//! this module's business.

use quietbeam_schema::data_query::QueryRefusal;
use quietbeam_schema::summary::SummaryRefusal;

use crate::clock::NoRandomness;

/// Why the store did not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// A rule said no.
    #[error(transparent)]
    Refused(#[from] Refused),
    /// It does not exist, or belongs to another centre: the two are never told apart.
    #[error("{0} not found")]
    Absent(&'static str),
    /// Somebody else was faster.
    #[error(transparent)]
    Conflict(#[from] Conflict),
    /// The database or the machine failed.
    #[error(transparent)]
    Broken(#[from] Broken),
}

/// A rule said no.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// The step does not fit the stage of a query.
    #[error(transparent)]
    Query(#[from] QueryRefusal),
    /// The step does not fit the stage of a summary.
    #[error(transparent)]
    Summary(#[from] SummaryRefusal),
    /// The same idempotency key came with another body.
    #[error("this idempotency key was used for another request; send a new key")]
    KeyReused,
    /// A member would change the own role or disable itself.
    #[error("nobody changes the own role, centres or account state; ask another administrator")]
    OwnMembership,
    /// Only the command line of the server may do this.
    #[error("only the command line of the server sets the password of somebody else")]
    OnlyOperator,
    /// Nobody could manage members any more.
    #[error("this is the last administrator who can sign in; appoint another one first")]
    LastAdministrator,
    /// The first administrator exists already.
    #[error("the registry has members already; an administrator creates further ones")]
    MembersExist,
    /// More than one centre could be meant.
    #[error("centre: name the centre this belongs to")]
    CentreNotNamed,
    /// A correction without its reason.
    #[error("reason: give the reason for this change in at least 3 characters")]
    ReasonRequired,
    /// A line of the screening log that is signed already.
    #[error("this line of the screening log is signed already; correct it first, or leave it")]
    AlreadySigned,
    /// An approval that was taken back before.
    #[error("this approval was withdrawn already; record a new one")]
    ApprovalWithdrawn,
    /// Every centre code is taken.
    #[error("every centre code is taken; a registry holds at most 100 centres")]
    NoCodeLeft,
    /// An event that waits for no judgement of this member.
    #[error("this event is judged already, or was changed by its centre; go on with the next")]
    NotToBeJudged,
    /// A data cut of no case.
    #[error("there is no case to cut; submit or import cases first")]
    NothingToCut,
}

/// Somebody else was faster.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Conflict {
    /// The revision to be replaced is no longer the current one.
    #[error(
        "the record was changed meanwhile: revision {current} is current, {expected} was expected; read it again"
    )]
    StaleRevision {
        /// The revision that was expected to be current.
        expected: i64,
        /// The revision that is current.
        current: i64,
    },
    /// A case with this code was submitted already.
    #[error("case_code: a case with this code was submitted already; change that case instead")]
    CaseExists,
    /// The name, code or key is taken.
    #[error("{0}: this is taken; choose another")]
    Taken(&'static str),
    /// Two writers met in the database and this one lost.
    #[error("somebody else changed the same at the same time; try again")]
    Race,
}

/// The database or the machine failed. The text is for the log, never for a person outside.
#[derive(Debug, thiserror::Error)]
pub enum Broken {
    /// Too much to do at once; later it will work.
    #[error("the store is too busy")]
    Busy,
    /// The store is closed.
    #[error("the store is closed")]
    Closed,
    /// The work panicked; nothing of it was kept.
    #[error("the work panicked")]
    Panicked,
    /// The database refused a statement.
    #[error("database: {0}")]
    Database(String),
    /// A commit failed, so nothing of the batch was kept.
    #[error("commit: {0}")]
    Commit(String),
    /// A row cannot be turned back into what it stands for.
    #[error("{table}.{column} holds a value that cannot be read")]
    Unreadable {
        /// The table.
        table: &'static str,
        /// The column.
        column: &'static str,
    },
    /// No random bytes.
    #[error(transparent)]
    NoRandomness(#[from] NoRandomness),
}

impl From<NoRandomness> for StoreError {
    fn from(error: NoRandomness) -> Self {
        Broken::from(error).into()
    }
}

impl From<QueryRefusal> for StoreError {
    fn from(refusal: QueryRefusal) -> Self {
        Refused::from(refusal).into()
    }
}

impl From<SummaryRefusal> for StoreError {
    fn from(refusal: SummaryRefusal) -> Self {
        Refused::from(refusal).into()
    }
}

impl From<diesel::result::Error> for StoreError {
    fn from(error: diesel::result::Error) -> Self {
        use diesel::result::{DatabaseErrorKind as Kind, Error};
        match error {
            Error::NotFound => StoreError::Absent("record"),
            Error::DatabaseError(Kind::UniqueViolation | Kind::SerializationFailure, _) => {
                Conflict::Race.into()
            }
            Error::DatabaseError(_, ref detail) if detail.message().contains("deadlock") => {
                Conflict::Race.into()
            }
            Error::DatabaseError(Kind::ClosedConnection, _) => Broken::Busy.into(),
            Error::DatabaseError(_, ref detail) if is_waiting(detail.message()) => Broken::Busy.into(),
            // Only the message: details of PostgreSQL errors repeat values of the row.
            Error::DatabaseError(_, ref detail) => Broken::Database(detail.message().to_owned()).into(),
            other => Broken::Database(other.to_string()).into(),
        }
    }
}

/// Whether the statement only waited too long for others.
fn is_waiting(message: &str) -> bool {
    ["is locked", "lock timeout"].iter().any(|part| message.contains(part))
}

/// Names what is taken when an insertion met a unique key.
pub(super) fn taken(what: &'static str) -> impl Fn(diesel::result::Error) -> StoreError {
    move |error| match StoreError::from(error) {
        StoreError::Conflict(Conflict::Race) => Conflict::Taken(what).into(),
        other => other,
    }
}

/// Says of a lost race for the next revision what it is: a change of a version that is no
/// longer the present one.
pub(super) fn overtaken(expected: i64) -> impl Fn(StoreError) -> StoreError {
    move |error| match error {
        StoreError::Conflict(Conflict::Race) => {
            Conflict::StaleRevision { expected, current: expected + 1 }.into()
        }
        other => other,
    }
}

/// Why the store could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// The address of the database is neither SQLite nor PostgreSQL.
    #[error("the database address must be a file path, sqlite:PATH or postgres://USER@HOST/NAME")]
    UnknownAddress,
    /// A database in memory would be a different one for every connection.
    #[error("a database in memory keeps nothing; give a file path")]
    InMemory,
    /// TLS is asked for but not built in.
    #[error(
        "the address asks for sslmode={mode}, but this program was built without TLS to PostgreSQL; build it with --features postgres-tls, or connect through a socket or loopback"
    )]
    NoTls {
        /// The mode asked for.
        mode: String,
    },
    /// No connection.
    #[error("no connection to the database: {0}")]
    NoConnection(String),
    /// A SQLite version that can lose data.
    #[error("SQLite {found} can damage its write-ahead log; 3.51.3 or newer is needed, but not 3.52.0")]
    UnsafeSqlite {
        /// The version found.
        found: String,
    },
    /// A setting did not take effect.
    #[error(
        "the database setting {setting} is {found} instead of {needed}; answers could be given before the data are safe"
    )]
    UnsafeSetting {
        /// The setting.
        setting: &'static str,
        /// Its value.
        found: String,
        /// The value needed.
        needed: &'static str,
    },
    /// The database was written by a newer program.
    #[error(
        "the database has the schema step {version}, which this program does not know; use the newer program"
    )]
    NewerSchema {
        /// The step that is not known.
        version: String,
    },
    /// A step of the schema failed.
    #[error("bringing the database up to date failed: {0}")]
    Migration(String),
    /// The database answered with an error.
    #[error("the database does not answer as it should: {0}")]
    Database(String),
}

impl From<diesel::result::Error> for OpenError {
    fn from(error: diesel::result::Error) -> Self {
        OpenError::Database(error.to_string())
    }
}
