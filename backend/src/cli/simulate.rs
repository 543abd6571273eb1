//! `quietbeam simulate`: the estimators held to invented networks whose truth is known.

use super::Failure;
use crate::demo::Scenario;
use clap::Args;
use quietbeam_analysis::study::recovery::{Answer, Recovery, trial};
use std::fs;
use std::io::Write;
use std::path::PathBuf;
use std::thread;

/// What a registry can and cannot recover: bias, coverage and wrong claims of every estimator in
/// invented networks, with the operator's sense of complexity recorded nowhere, half visible or
/// recorded in full. Opens no registry. Prints a table in Markdown.
///
/// Example: quietbeam simulate --networks 1000
#[derive(Args)]
pub(super) struct SimulateArgs {
    /// How many networks.
    #[arg(long, default_value_t = 1_000, value_parser = clap::value_parser!(u32).range(2..=100_000))]
    networks: u32,
    /// Cases of each network.
    #[arg(long, default_value_t = Scenario::USUAL_CASES as u32, value_parser = clap::value_parser!(u32).range(100..=100_000))]
    cases: u32,
    /// The seed of the first network; the next has the next.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Write into this file instead of printing.
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,
}

/// Networks whose answers wait in memory.
const BATCH: u64 = 64;

pub(super) fn run(args: &SimulateArgs, out: &mut dyn Write) -> Result<(), Failure> {
    let mut recovery = Recovery::default();
    let last = args.seed.saturating_add(u64::from(args.networks));
    let mut seed = args.seed;
    while seed < last {
        let next = (seed + BATCH).min(last);
        // Added in the order of the seeds, however many threads computed them.
        for answers in trials(seed..next, args.cases as usize) {
            recovery.add(&answers);
        }
        seed = next;
    }
    let text = page(args, &recovery);
    match &args.output {
        Some(path) => Ok(fs::write(path, text)?),
        None => Ok(out.write_all(text.as_bytes())?),
    }
}

fn trials(seeds: std::ops::Range<u64>, cases: usize) -> Vec<Vec<Answer>> {
    let threads = thread::available_parallelism().map_or(1, usize::from);
    let ask = |seed| (seed, trial(&Scenario::simulate(seed, cases)));
    let mut all: Vec<(u64, Vec<Answer>)> = thread::scope(|scope| {
        let share = |first: usize| {
            let seeds = seeds.clone().skip(first).step_by(threads);
            scope.spawn(move || seeds.map(ask).collect::<Vec<_>>())
        };
        let running: Vec<_> = (0..threads).map(share).collect();
        // A thread that fell over takes its networks with it, and the count says so.
        running.into_iter().filter_map(|thread| thread.join().ok()).flatten().collect()
    });
    all.sort_by_key(|(seed, _)| *seed);
    all.into_iter().map(|(_, answers)| answers).collect()
}

fn page(args: &SimulateArgs, recovery: &Recovery) -> String {
    format!(
        include_str!("simulate.md"),
        networks = recovery.networks(),
        cases = args.cases,
        seed = args.seed,
        table = recovery.rows()
    )
}
