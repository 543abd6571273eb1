//! The invented network: the same bytes for the same seed, rows that the rules
//! accept, faults that show, and the shape that its own parameters promise.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod bytes;
mod complexity;
mod doses;
mod expected;
mod faults;
mod reading;
mod recurrence;
mod rows;
mod screening;
mod shape;
