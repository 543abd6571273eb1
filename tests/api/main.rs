//! The API as a program sees it: the real server, real requests, both stores.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod bodies;
mod cases;
mod changes;
mod creation;
mod imports;
mod lists;
mod network;
mod queries;
mod sign_in;
mod tokens;
