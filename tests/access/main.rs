//! Who may do what.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod coverage;
mod members;
mod policy;
mod routes;
mod sign_in;
mod tokens;
