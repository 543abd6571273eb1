//! `quietbeam serve`: the registry over HTTP.

use super::Failure;
use super::registry::{Registry, wait};
use crate::config::Options;
use crate::server::{Pieces, serve as run_server};
use clap::Args;
use std::io::Write;
use std::net::TcpListener;

/// Serve the registry. It listens on loopback; put a proxy with TLS in front.
///
/// Example: quietbeam serve --data registry --listen 127.0.0.1:8080
#[derive(Args)]
pub(super) struct ServeArgs {
    #[command(flatten)]
    options: Options,
}

pub(super) fn run(args: &ServeArgs, out: &mut dyn Write) -> Result<(), Failure> {
    let registry = Registry::open(&args.options)?;
    serve(&registry, out)
}

/// Serves an open registry until the process is told to stop.
pub(super) fn serve(registry: &Registry, out: &mut dyn Write) -> Result<(), Failure> {
    let address = registry.settings.serve.listen;
    let listener = TcpListener::bind(address).map_err(|error| {
        Failure::Broken(format!("cannot listen on {address}: {error}; choose another with --listen"))
    })?;
    let pieces = Pieces {
        store: registry.store.clone(),
        desk: registry.desk()?,
        clock: registry.clock.clone(),
        randomness: registry.randomness.clone(),
        https: registry.settings.serve.https,
        network: registry.settings.network.clone(),
    };
    let public = &registry.settings.serve.public_url;
    writeln!(out, "\nServing on {public} · API {public}/api/v1/ · safety summaries {public}/summaries")?;
    writeln!(out, "Ctrl-C stops it; requests under way are finished.")?;
    out.flush()?;
    let workers = std::thread::available_parallelism().map_or(2, usize::from);
    wait(async { Ok(run_server(pieces, listener, workers)?.await?) })
}
