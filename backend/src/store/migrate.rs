//! Brings the database to the schema this program knows: forward only, all steps in one
//! transaction, one runner at a time.

use std::collections::BTreeSet;

use diesel::backend::Backend;
use diesel::connection::TransactionManager;
use diesel::migration::{Migration, MigrationSource};
use diesel::prelude::*;
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

use super::connection::AnyConnection;
use super::dialect;
use super::error::OpenError;

const SQLITE: EmbeddedMigrations = embed_migrations!("migrations/sqlite");
const POSTGRES: EmbeddedMigrations = embed_migrations!("migrations/postgres");

pub(super) fn migrate(connection: &mut AnyConnection) -> Result<(), OpenError> {
    dialect::begin_writing(connection)?;
    let outcome = match connection {
        AnyConnection::Postgres(postgres) => {
            dialect::lock_schema(postgres).map_err(OpenError::from).and_then(|()| run(postgres, POSTGRES))
        }
        AnyConnection::Sqlite(sqlite) => run(sqlite, SQLITE),
    };
    match outcome {
        Ok(()) => Ok(AnyConnection::commit_transaction(connection)?),
        Err(error) => {
            AnyConnection::rollback_transaction(connection)?;
            Err(error)
        }
    }
}

fn run<C, DB>(connection: &mut C, steps: EmbeddedMigrations) -> Result<(), OpenError>
where
    C: Connection<Backend = DB> + MigrationHarness<DB>,
    DB: Backend,
{
    let failed = |error: Box<dyn std::error::Error + Send + Sync>| OpenError::Migration(error.to_string());
    let known: Vec<Box<dyn Migration<DB>>> = steps.migrations().map_err(failed)?;
    let known: BTreeSet<String> = known.iter().map(|step| step.name().version().to_string()).collect();
    let applied = connection.applied_migrations().map_err(failed)?;
    if let Some(newer) = applied.iter().map(ToString::to_string).find(|version| !known.contains(version)) {
        return Err(OpenError::NewerSchema { version: newer });
    }
    connection.run_pending_migrations(steps).map(|_| ()).map_err(failed)
}
