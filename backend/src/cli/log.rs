//! The log: lines of JSON on standard error, with route templates and no values.

use std::io;
use tracing_subscriber::EnvFilter;
use tracing_subscriber::filter::LevelFilter;

/// Starts the log. `QUIETBEAM_LOG` chooses what is logged, such as `debug`.
pub(super) fn start(usual: LevelFilter) {
    let filter = EnvFilter::builder()
        .with_default_directive(usual.into())
        .with_env_var("QUIETBEAM_LOG")
        .from_env_lossy();
    // A second start, as in a test that runs two commands, keeps the first.
    let _ = tracing_subscriber::fmt().json().with_env_filter(filter).with_writer(io::stderr).try_init();
}
