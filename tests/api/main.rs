//! The API as a program sees it: the real server, real requests, both stores.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod cases;
mod lists;
mod network;
mod sign_in;
mod tokens;
