//! How often do the intervals hold what they promise, and how often does each method wrongly
//! call an arm non-inferior? Prints the tables of `analysis/COVERAGE.md`.
//!
//! `cargo bench -p quietbeam-analysis --bench coverage [-- REPLICATES]`
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

mod adjusted;
mod centres;
mod chances;
mod one_arm;
mod setting;
mod tally;
mod two_arms;

/// Simulated networks a row, unless another number is asked for; a tenth where cases are drawn
/// one by one.
const REPLICATES: u64 = 20_000;

fn main() {
    // Cargo adds a flag of its own.
    let asked = std::env::args().skip(1).find_map(|argument| argument.parse().ok());
    one_arm::print();
    two_arms::print();
    centres::print(asked.unwrap_or(REPLICATES));
    adjusted::print(asked.unwrap_or(REPLICATES) / 10);
}
