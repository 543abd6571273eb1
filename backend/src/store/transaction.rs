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
            undo(connection);
            Err(error)
        }
        Err(_) => {
            undo(connection);
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
    undo(connection);
    Broken::Commit(error.to_string()).into()
}

/// Rolls back. Where that fails the database has ended the transaction by itself (a full
/// disk does that to SQLite): from then on nothing may be committed on this connection, or a
/// batch could be confirmed of which the first half is gone.
fn undo(connection: &mut AnyConnection) {
    if AnyConnection::rollback_transaction(connection).is_err() {
        AnyConnection::transaction_manager_status_mut(connection).set_in_error();
    }
}
