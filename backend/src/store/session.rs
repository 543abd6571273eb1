//! What a permit opens: a transaction in which the functions of that permit, and no other,
//! exist.

use std::marker::PhantomData;

use quietbeam_schema::audit::Actor;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::instant::Instant;
use sha2::{Digest, Sha256};

use super::connection::AnyConnection;
use super::cut_memory::CutMemory;
use super::error::{Broken, StoreError};
use crate::access::{Action, CentreScope, Permit};
use crate::clock::Randomness;

/// The session only reads.
pub struct Reading;
/// The session also writes.
pub struct Writing;

/// A transaction opened by a permit for `A`. Which functions it has depends on `A`, and what
/// they see on the centres of the permit.
pub struct Session<'s, A: Action, M = Reading> {
    pub(super) connection: &'s mut AnyConnection,
    pub(super) permit: &'s Permit<A>,
    pub(super) randomness: &'s Randomness,
    pub(super) memory: &'s CutMemory,
    now: Instant,
    mode: PhantomData<fn() -> M>,
}

impl<'s, A: Action, M> Session<'s, A, M> {
    pub(super) fn new(
        connection: &'s mut AnyConnection,
        permit: &'s Permit<A>,
        (randomness, memory): (&'s Randomness, &'s CutMemory),
        now: Instant,
    ) -> Self {
        Self { connection, permit, randomness, memory, now, mode: PhantomData }
    }

    /// The server's time of this transaction. Times that a client sends are never used.
    pub fn now(&self) -> Instant {
        self.now
    }

    /// Who acts.
    pub fn actor(&self) -> Actor {
        self.permit.actor()
    }

    /// The centres to which every query of this session is narrowed; `None` is all.
    pub(super) fn centres(&self) -> Option<Vec<String>> {
        match self.permit.centres() {
            CentreScope::All => None,
            CentreScope::These(centres) => Some(centres.iter().map(ToString::to_string).collect()),
        }
    }

    /// Another centre answers like one that does not exist.
    pub(super) fn within(&self, centre: CentreCode) -> Result<(), StoreError> {
        if self.permit.centres().covers(centre) { Ok(()) } else { Err(StoreError::Absent("centre")) }
    }

    /// A byte that nobody foresees.
    pub fn random_byte(&self) -> Result<u8, StoreError> {
        let [byte] = self.randomness.bytes()?;
        Ok(byte)
    }

    /// A new identifier from the session's time and randomness.
    pub(super) fn new_id<I>(&self, build: fn(i64, [u8; 10]) -> I) -> Result<I, StoreError> {
        Ok(build(self.now.unix_milliseconds(), self.randomness.bytes()?))
    }
}

/// SHA-256 in hexadecimal.
pub fn sha256_hex(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Reads a stored text back into what it stands for.
pub(super) fn read<T: std::str::FromStr>(
    text: &str,
    table: &'static str,
    column: &'static str,
) -> Result<T, StoreError> {
    text.parse().map_err(|_| Broken::Unreadable { table, column }.into())
}

/// Reads stored JSON back into what it stands for.
pub(super) fn read_json<T: serde::de::DeserializeOwned>(
    text: &str,
    table: &'static str,
    column: &'static str,
) -> Result<T, StoreError> {
    serde_json::from_str(text).map_err(|_| Broken::Unreadable { table, column }.into())
}

/// Writes a value as the JSON to be stored.
pub(super) fn to_json<T: serde::Serialize>(value: &T) -> Result<String, StoreError> {
    serde_json::to_string(value).map_err(|error| Broken::Database(error.to_string()).into())
}

/// One page of a list with where the next one begins.
#[derive(Debug, Clone, PartialEq)]
pub struct Page<T> {
    /// The rows.
    pub rows: Vec<T>,
    /// Hand this in to read on; `None` when there is nothing more.
    pub next: Option<i64>,
}

/// Where a page begins and how long it is.
#[derive(Debug, Clone, Copy)]
pub struct PageRequest {
    /// The [`Page::next`] of the page before.
    pub after: Option<i64>,
    /// Rows wanted, at most 200.
    pub limit: i64,
}

impl PageRequest {
    /// The first page of the usual length.
    pub fn first() -> Self {
        Self { after: None, limit: 50 }
    }

    /// One row more than asked for tells whether there is a next page.
    pub(super) fn fetch(self) -> i64 {
        self.limit.clamp(1, 200) + 1
    }

    pub(super) fn page<R, T>(
        self,
        mut rows: Vec<R>,
        seq: impl Fn(&R) -> i64,
        read: impl Fn(R) -> Result<T, StoreError>,
    ) -> Result<Page<T>, StoreError> {
        let length = usize::try_from(self.fetch() - 1).unwrap_or(1);
        let more = rows.len() > length;
        rows.truncate(length);
        let next = rows.last().filter(|_| more).map(seq);
        Ok(Page { rows: rows.into_iter().map(read).collect::<Result<_, _>>()?, next })
    }
}
