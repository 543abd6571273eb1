//! One connection type for both engines, and how a connection is made safe before use.

// The derive writes items without documentation and with more visibility than they need.
#![allow(missing_docs, unreachable_pub)]

use std::path::Path;

use diesel::connection::SimpleConnection;
use diesel::dsl::sql;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Text};
use diesel::{ConnectionError, PgConnection, SqliteConnection};

use super::address::Address;
use super::error::OpenError;

#[derive(diesel::MultiConnection)]
pub enum AnyConnection {
    Postgres(PgConnection),
    Sqlite(SqliteConnection),
}

/// What a connection is for.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Purpose {
    Read,
    Write,
}

/// Opens and prepares a connection. Not `AnyConnection::establish`: that would try one
/// engine after the other and hide the error of the first.
pub(super) fn connect(address: &Address, purpose: Purpose) -> Result<AnyConnection, OpenError> {
    match address {
        Address::Sqlite(path) => connect_sqlite(path, purpose).map(AnyConnection::Sqlite),
        Address::Postgres(url) => {
            let mut connection = PgConnection::establish(url).map_err(no_connection)?;
            // A server that stops answering must not hold a worker for ever. And a plan that was
            // made while a table was empty must not serve a whole import, which would then read
            // every row for every batch.
            connection.batch_execute(
                "SET client_min_messages = warning; SET lock_timeout = '30s'; \
                 SET idle_in_transaction_session_timeout = '5min'; \
                 SET plan_cache_mode = force_custom_plan",
            )?;
            Ok(AnyConnection::Postgres(connection))
        }
    }
}

fn no_connection(error: ConnectionError) -> OpenError {
    OpenError::NoConnection(error.to_string())
}

fn connect_sqlite(path: &Path, purpose: Purpose) -> Result<SqliteConnection, OpenError> {
    let path = path.to_str().ok_or(OpenError::UnknownAddress)?;
    let mut connection = SqliteConnection::establish(path).map_err(no_connection)?;
    // The waiting time comes first: switching to the write-ahead log may itself have to wait.
    connection.batch_execute(
        "PRAGMA busy_timeout = 5000; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; \
         PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF;",
    )?;
    if purpose == Purpose::Read {
        connection.batch_execute("PRAGMA query_only = ON")?;
    }
    check_sqlite(&mut connection)?;
    Ok(connection)
}

/// Reads every setting back: SQLite ignores a pragma it does not know without a word.
fn check_sqlite(connection: &mut SqliteConnection) -> Result<(), OpenError> {
    let version: String = sql::<Text>("SELECT sqlite_version()").get_result(connection)?;
    if !is_safe_sqlite(&version) {
        return Err(OpenError::UnsafeSqlite { found: version });
    }
    let journal: String = sql::<Text>("PRAGMA journal_mode").get_result(connection)?;
    if journal != "wal" {
        return Err(OpenError::UnsafeSetting { setting: "journal_mode", found: journal, needed: "wal" });
    }
    for (setting, needed) in
        [("busy_timeout", "5000"), ("synchronous", "2"), ("foreign_keys", "1"), ("trusted_schema", "0")]
    {
        let found: i64 = sql::<BigInt>(&format!("PRAGMA {setting}")).get_result(connection)?;
        if found.to_string() != needed {
            return Err(OpenError::UnsafeSetting { setting, found: found.to_string(), needed });
        }
    }
    Ok(())
}

/// Versions up to 3.51.2 can damage the write-ahead log when it is reset while a checkpoint
/// runs; the fix came with 3.51.3, and 3.52.0 was withdrawn (sqlite.org, list of changes).
fn is_safe_sqlite(version: &str) -> bool {
    let mut parts = version.split('.').map(|part| part.parse::<u32>().unwrap_or(0));
    let mut next = || parts.next().unwrap_or(0);
    let version = (next(), next(), next());
    version >= (3, 51, 3) && version != (3, 52, 0)
}

/// Refuses a PostgreSQL server that may forget what it confirmed.
pub(super) fn check_postgres(connection: &mut PgConnection) -> Result<(), OpenError> {
    for setting in ["fsync", "full_page_writes", "synchronous_commit"] {
        let found: String =
            sql::<Text>(&format!("SELECT current_setting('{setting}')")).get_result(connection)?;
        // remote_apply waits for a standby on top of what "on" waits for.
        let enough = ["on", "remote_apply"].contains(&found.as_str());
        if !enough {
            return Err(OpenError::UnsafeSetting { setting, found, needed: "on" });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

    use super::*;

    #[test]
    fn every_sqlite_connection_is_durable_and_readers_only_read() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("registry.sqlite");
        let mut writer = connect_sqlite(&path, Purpose::Write).unwrap();
        let mut reader = connect_sqlite(&path, Purpose::Read).unwrap();
        for connection in [&mut writer, &mut reader] {
            let mut number = |pragma: &str| {
                sql::<BigInt>(&format!("PRAGMA {pragma}")).get_result::<i64>(connection).unwrap()
            };
            assert_eq!(number("busy_timeout"), 5000);
            assert_eq!(number("synchronous"), 2, "FULL");
            assert_eq!(number("foreign_keys"), 1);
            assert_eq!(number("trusted_schema"), 0);
            let journal: String = sql::<Text>("PRAGMA journal_mode").get_result(connection).unwrap();
            assert_eq!(journal, "wal");
        }
        writer.batch_execute("CREATE TABLE note (text TEXT)").unwrap();
        assert!(reader.batch_execute("INSERT INTO note VALUES ('x')").is_err());
    }

    /// A setting that did not take effect is noticed, not believed.
    #[test]
    fn a_setting_that_did_not_take_effect_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("registry.sqlite");
        let mut connection = connect_sqlite(&path, Purpose::Write).unwrap();
        for (pragma, setting) in [
            ("synchronous = NORMAL", "synchronous"),
            ("foreign_keys = OFF", "foreign_keys"),
            ("trusted_schema = ON", "trusted_schema"),
            ("busy_timeout = 0", "busy_timeout"),
        ] {
            let mut spoilt = connect_sqlite(&path, Purpose::Write).unwrap();
            spoilt.batch_execute(&format!("PRAGMA {pragma}")).unwrap();
            let error = check_sqlite(&mut spoilt).unwrap_err();
            let OpenError::UnsafeSetting { setting: named, .. } = error else { panic!("{error}") };
            assert_eq!(named, setting);
        }
        check_sqlite(&mut connection).unwrap();
    }

    #[test]
    fn knows_the_sqlite_versions_that_lose_data() {
        for unsafe_version in ["3.7.0", "3.40.1", "3.51.2", "3.52.0", "", "x.y.z"] {
            assert!(!is_safe_sqlite(unsafe_version), "{unsafe_version}");
        }
        for safe in ["3.51.3", "3.52.1", "3.53.2", "4.0.0"] {
            assert!(is_safe_sqlite(safe), "{safe}");
        }
    }
}
