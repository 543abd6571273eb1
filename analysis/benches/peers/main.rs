//! The side of this crate in the comparison with R and Python; `run` beside it drives all.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

#[path = "../speed/regression.rs"]
mod regression;
#[path = "../speed/work.rs"]
mod work;

use std::path::Path;
use std::time::Instant;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|text| text != "--bench").collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["data", folder] => {
            work::write(Path::new(folder));
            regression::write(Path::new(folder));
        }
        ["row", row, repetitions] => timed(row, repetitions.parse().unwrap()),
        // A plain `cargo bench` passes by: the comparison needs its driver.
        _ => println!("run analysis/benches/peers/run"),
    }
}

fn timed(row: &str, repetitions: usize) {
    match row {
        "score_interval" => {
            let tables = work::score_tables();
            report(repetitions, || work::score_intervals(&tables));
        }
        "barnard" | "boschloo" | "chan" => {
            let tables = work::exact_tables();
            let test = match row {
                "barnard" => work::barnard,
                "boschloo" => work::boschloo,
                _ => work::chan,
            };
            report(repetitions, || test(&tables));
        }
        "kaplan_meier" => {
            let (mut cases, second) = work::follow_up();
            cases.extend(second);
            report(repetitions, || work::kaplan_meier(&cases));
        }
        "log_rank" => {
            let (first, second) = work::follow_up();
            report(repetitions, || work::log_rank(&first, &second));
        }
        "rank_sum" => {
            let (first, second) = work::rank_doses();
            report(repetitions, || work::rank_sum(&first, &second));
        }
        "percentile" | "bca" => {
            let (first, second) = work::bootstrap_doses();
            let interval = if row == "bca" { work::bca } else { work::percentile };
            report(repetitions, || interval(&first, &second));
        }
        "random_intercept" => {
            let centres = work::centres();
            report(repetitions, || work::random_intercept(&centres));
        }
        "logistic" | "standardised" => {
            let cases = regression::Cases::draw();
            let effect =
                if row == "logistic" { regression::logistic_clustered } else { regression::standardised };
            report(repetitions, || effect(&cases));
        }
        _ => panic!("no such row: {row}"),
    }
}

/// Prints the seconds of every repetition, the peak memory of the process in KiB and the result.
fn report(repetitions: usize, work: impl Fn() -> f64) {
    let mut seconds = Vec::new();
    let mut result = 0.0;
    for _ in 0..repetitions {
        let start = Instant::now();
        result = work();
        seconds.push(format!("{:.6}", start.elapsed().as_secs_f64()));
    }
    println!("{} {} {result}", seconds.join(","), peak_kib());
}

fn peak_kib() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.map_or("0".to_owned(), |line| line.trim().trim_end_matches(" kB").to_owned())
}
