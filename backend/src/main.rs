//! The `quietbeam` command.
fn main() {}
