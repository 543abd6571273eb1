//! The little that differs between the engines: how a transaction begins, locks that hold
//! until its end, and statements with many rows.

use diesel::connection::AnsiTransactionManager;
use diesel::dsl::sql;
use diesel::prelude::*;
use diesel::sql_types::BigInt;

use super::connection::AnyConnection;

/// Expands the body once for each concrete connection: statements with many rows do not
/// compile through the connection enum.
macro_rules! on_each_engine {
    ($connection:expr, $concrete:ident => $body:expr) => {
        match $connection {
            $crate::store::connection::AnyConnection::Postgres($concrete) => $body,
            $crate::store::connection::AnyConnection::Sqlite($concrete) => $body,
        }
    };
}
pub(super) use on_each_engine;

/// How many rows one insertion holds. With at most 19 columns this stays below the 32,766
/// variables of a SQLite statement.
pub(super) const ROWS_A_STATEMENT: usize = 500;

// Any two numbers that no other program uses on the same database.
const WRITERS: i64 = 0x7175_6965_7401;
const MEMBERS: i64 = 0x7175_6965_7402;

/// Begins a transaction that sees one state of the database throughout.
pub(super) fn begin_reading(connection: &mut AnyConnection) -> QueryResult<()> {
    match connection {
        AnyConnection::Postgres(postgres) => AnsiTransactionManager::begin_transaction_sql(
            postgres,
            "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY",
        ),
        AnyConnection::Sqlite(sqlite) => AnsiTransactionManager::begin_transaction_sql(sqlite, "BEGIN"),
    }
}

/// Begins a transaction that writes. SQLite must know at once: a reading transaction that
/// turns to writing fails instead of waiting.
pub(super) fn begin_writing(connection: &mut AnyConnection) -> QueryResult<()> {
    match connection {
        AnyConnection::Postgres(postgres) => AnsiTransactionManager::begin_transaction_sql(postgres, "BEGIN"),
        AnyConnection::Sqlite(sqlite) => {
            AnsiTransactionManager::begin_transaction_sql(sqlite, "BEGIN IMMEDIATE")
        }
    }
}

/// Joins the writers, or waits until there are none and keeps new ones out. SQLite has one
/// writer anyway.
pub(super) fn lock_writers(connection: &mut AnyConnection, alone: bool) -> QueryResult<()> {
    let function = if alone { "pg_advisory_xact_lock" } else { "pg_advisory_xact_lock_shared" };
    lock(connection, function, WRITERS)
}

/// Lets one administrator at a time decide: who is the last one, or what a version that was
/// read becomes.
pub(super) fn lock_members(connection: &mut AnyConnection) -> QueryResult<()> {
    lock(connection, "pg_advisory_xact_lock", MEMBERS)
}

/// One schema change at a time, held until the end of the transaction.
pub(super) fn lock_schema(connection: &mut PgConnection) -> QueryResult<()> {
    lock_postgres(connection, "pg_advisory_xact_lock", WRITERS)
}

fn lock(connection: &mut AnyConnection, function: &str, number: i64) -> QueryResult<()> {
    match connection {
        AnyConnection::Postgres(postgres) => lock_postgres(postgres, function, number),
        AnyConnection::Sqlite(_) => Ok(()),
    }
}

fn lock_postgres(connection: &mut PgConnection, function: &str, number: i64) -> QueryResult<()> {
    // The lock function returns nothing, so count what it returned.
    let statement = format!("SELECT count(*) FROM (SELECT {function}({number})) AS held");
    sql::<BigInt>(&statement).get_result::<i64>(connection).map(|_| ())
}
