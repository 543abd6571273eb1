//! The `quietbeam` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    quietbeam::cli::main()
}
