//! Replies that are given again when the same request comes twice. The reply is kept in the
//! transaction of the write, so a lost answer cannot lead to a second case.

use diesel::prelude::*;

use super::connection::MultiBackend;
use super::error::{Broken, Refused, StoreError};
use super::session::{Session, Writing};
use super::tables::idempotency;
use crate::access::Action;

/// How long a reply is kept.
const KEPT_SECONDS: i64 = 24 * 60 * 60;

/// Which request it is: the key is the client's, the fingerprint is of the body.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RequestKey {
    /// Method and route template.
    pub route: String,
    /// What the client sent as Idempotency-Key.
    pub key: String,
    /// Hash of the body.
    pub fingerprint: String,
}

/// The reply of a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredReply {
    /// Its status.
    pub status: u16,
    /// Its body.
    pub body: String,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = idempotency, check_for_backend(MultiBackend))]
struct Row {
    fingerprint: String,
    status: i64,
    body: String,
}

impl<A: Action> Session<'_, A, Writing> {
    /// The reply given to this very request before. The same key with another body is
    /// refused.
    pub fn recall(&mut self, request: &RequestKey) -> Result<Option<StoredReply>, StoreError> {
        let oldest = self.now().plus_seconds(-KEPT_SECONDS).to_string();
        let row: Option<Row> = idempotency::table
            .select(Row::as_select())
            .filter(idempotency::actor.eq(self.actor().to_string()))
            .filter(idempotency::route.eq(request.route.clone()))
            .filter(idempotency::key.eq(request.key.clone()))
            .filter(idempotency::at.gt(oldest))
            .first(self.connection)
            .optional()?;
        let Some(row) = row else { return Ok(None) };
        if row.fingerprint != request.fingerprint {
            return Err(Refused::KeyReused.into());
        }
        let status = u16::try_from(row.status)
            .map_err(|_| Broken::Unreadable { table: "idempotency", column: "status" })?;
        Ok(Some(StoredReply { status, body: row.body }))
    }

    /// Keeps the reply together with what the request wrote. Two equal requests at once: one
    /// of them fails here, is undone, and finds the reply when it tries again.
    pub fn remember(&mut self, request: &RequestKey, reply: &StoredReply) -> Result<(), StoreError> {
        let oldest = self.now().plus_seconds(-KEPT_SECONDS).to_string();
        diesel::delete(idempotency::table.filter(idempotency::at.le(oldest))).execute(self.connection)?;
        diesel::insert_into(idempotency::table)
            .values((
                idempotency::actor.eq(self.actor().to_string()),
                idempotency::route.eq(request.route.clone()),
                idempotency::key.eq(request.key.clone()),
                idempotency::fingerprint.eq(request.fingerprint.clone()),
                idempotency::status.eq(i64::from(reply.status)),
                idempotency::body.eq(reply.body.clone()),
                idempotency::at.eq(self.now().to_string()),
            ))
            .execute(self.connection)?;
        Ok(())
    }
}
