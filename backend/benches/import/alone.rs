//! Reading and inserting with nothing around them.

use crate::files::CASES;
use crate::measured::{Measured, timed};
use csv::{Reader, ReaderBuilder, StringRecord};
use diesel::backend::Backend;
use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use diesel::query_builder::{AstPass, QueryFragment, QueryId};
use diesel::query_dsl::methods::ExecuteDsl;
use diesel::serialize::ToSql;
use diesel::sql_types::{HasSqlType, Text};
use diesel::{PgConnection, SqliteConnection};
use std::fs::File;
use std::hint::black_box;
use std::path::Path;

fn reader(folder: &Path) -> Reader<File> {
    ReaderBuilder::new().from_path(folder.join(CASES)).expect("the file")
}

/// Reads every field as text.
pub(crate) fn read(folder: &Path) -> Measured {
    timed(|| {
        let mut reader = reader(folder);
        let (mut record, mut rows) = (StringRecord::new(), 0);
        while reader.read_record(&mut record).expect("a row") {
            rows += 1;
            black_box(&record);
        }
        rows
    })
}

/// Inserts every row as it stands, one prepared statement a row, all in one transaction. What
/// is measured does not hold the reading: the rows are in memory already.
pub(crate) fn insert(folder: &Path, address: &str) -> Measured {
    let mut reader = reader(folder);
    let header = reader.headers().expect("a header").clone();
    let rows: Vec<StringRecord> = reader.records().map(|row| row.expect("a row")).collect();
    let columns: Vec<String> = header.iter().map(|key| format!("{key} TEXT NOT NULL")).collect();
    let table = format!("CREATE TABLE row_as_sent ({})", columns.join(", "));
    if address.starts_with("postgres://") {
        let mut connection = PgConnection::establish(address).expect("a connection");
        connection.batch_execute(&table).expect("a table");
        timed(|| insert_all(&mut connection, &rows))
    } else {
        let mut connection = SqliteConnection::establish(address).expect("a connection");
        // As durable as the store.
        connection.batch_execute("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL").expect("settings");
        connection.batch_execute(&table).expect("a table");
        timed(|| insert_all(&mut connection, &rows))
    }
}

fn insert_all<C>(connection: &mut C, rows: &[StringRecord]) -> u64
where
    C: Connection,
    for<'r> InsertRow<'r>: ExecuteDsl<C>,
{
    let inserted = connection.transaction(|connection| {
        rows.iter().map(|row| InsertRow(row).execute(connection)).sum::<QueryResult<usize>>()
    });
    inserted.expect("to insert") as u64
}

/// One row. It has an identity of its own, so that it is prepared once.
struct InsertRow<'r>(&'r StringRecord);

impl QueryId for InsertRow<'_> {
    type QueryId = InsertRow<'static>;
    const HAS_STATIC_QUERY_ID: bool = true;
}

impl<DB> QueryFragment<DB> for InsertRow<'_>
where
    DB: Backend + HasSqlType<Text>,
    str: ToSql<Text, DB>,
{
    fn walk_ast<'b>(&'b self, mut out: AstPass<'_, 'b, DB>) -> QueryResult<()> {
        out.push_sql("INSERT INTO row_as_sent VALUES (");
        for (place, field) in self.0.iter().enumerate() {
            if place > 0 {
                out.push_sql(", ");
            }
            out.push_bind_param::<Text, str>(field)?;
        }
        out.push_sql(")");
        Ok(())
    }
}

impl<C> RunQueryDsl<C> for InsertRow<'_> {}
