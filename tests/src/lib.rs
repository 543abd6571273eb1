//! What the test programs share.

// Here a failure is a failed test.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

pub mod people;
pub mod postgres;
pub mod registry;
pub mod sample;
