//! The registry: it reads, asks the core to decide, writes and renders.

pub mod cli;
