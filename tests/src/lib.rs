//! What the test programs share.

// Here a failure is a failed test.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

pub mod browser;
pub mod demo;
pub mod fit;
pub mod intake_laws;
pub mod log;
pub mod open_document;
pub mod people;
pub mod plan;
pub mod postgres;
pub mod registry;
#[path = "../../schema/src/case/sample.rs"]
pub mod sample;
pub mod server;
pub mod visitor;
