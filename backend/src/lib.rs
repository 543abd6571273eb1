//! The registry: it reads, asks the core to decide, writes and renders.

pub mod access;
pub mod api;
pub mod cli;
pub mod clock;
pub mod config;
pub mod demo;
pub mod export;
pub mod intake;
pub mod pages;
pub mod registry;
pub mod server;
pub mod store;
#[cfg(feature = "pdf")]
mod typeset;
pub mod worker;
