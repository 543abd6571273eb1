//! Delimited files on their way in: what is taken, what is refused, and the
//! sentence that says so.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod bounds;
mod command;
mod dose_reports;
mod fields;
mod importing;
mod joining;
mod layout;
mod mutated;
mod open_document;
mod round_trip;
mod sheet;
mod workbooks;
