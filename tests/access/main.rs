//! Who may do what.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod members;
mod policy;
mod sign_in;
mod tokens;
