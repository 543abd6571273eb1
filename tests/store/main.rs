//! How the store behaves: one suite, on both engines.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod append_only;
mod audit;
mod changes;
mod cuts;
mod idempotency;
mod imports;
mod queries;
mod schema;
mod scope;
mod screening;
mod summaries;
mod writers;
