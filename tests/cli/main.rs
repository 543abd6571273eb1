//! The command line as its user sees it: the words typed, and what is printed.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod calculate;
mod demo;
mod journey;
mod plan;
mod said;
mod taken_out;
