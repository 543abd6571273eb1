//! A transaction around some work: kept when the work succeeds, undone when it fails or
//! panics.

use std::panic::{AssertUnwindSafe, catch_unwind};

use diesel::QueryResult;
use diesel::connection::TransactionManager;

use super::connection::AnyConnection;
use super::error::{Broken, StoreError};

/// Runs the work in a transaction that `begin` opens.
pub(super) fn in_transaction<T, E: From<StoreError>>(
    connection: &mut AnyConnection,
    begin: fn(&mut AnyConnection) -> QueryResult<()>,
    work: impl FnOnce(&mut AnyConnection) -> Result<T, E>,
) -> Result<T, E> {
    begin(connection).map_err(StoreError::from)?;
    match catch_unwind(AssertUnwindSafe(|| work(connection))) {
        Ok(Ok(value)) => match AnyConnection::commit_transaction(connection) {
            Ok(()) => Ok(value),
            Err(error) => Err(failed_commit(connection, &error).into()),
        },
        Ok(Err(error)) => {
            // The work's own error says more than a failing rollback, after which the
            // connection counts as broken and is thrown away.
            let _ = AnyConnection::rollback_transaction(connection);
            Err(error)
        }
        Err(_) => {
            let _ = AnyConnection::rollback_transaction(connection);
            Err(StoreError::from(Broken::Panicked).into())
        }
    }
}

/// Runs the work in a savepoint of the open transaction.
pub(super) fn in_savepoint<T, E: From<StoreError>>(
    connection: &mut AnyConnection,
    work: impl FnOnce(&mut AnyConnection) -> Result<T, E>,
) -> Result<T, E> {
    in_transaction(connection, AnyConnection::begin_transaction, work)
}

fn failed_commit(connection: &mut AnyConnection, error: &diesel::result::Error) -> StoreError {
    let _ = AnyConnection::rollback_transaction(connection);
    Broken::Commit(error.to_string()).into()
}
