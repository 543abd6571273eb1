//! How long a whole report takes, and how much memory; `run` beside it drives this, R and Python.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

mod cases;
#[path = "../../../tests/src/plan.rs"]
#[allow(unreachable_pub)]
mod plan;
#[allow(dead_code, unreachable_pub)]
#[path = "../../../schema/src/case/sample.rs"]
mod sample;

use quietbeam_analysis::study::cohort::Cohort;
use quietbeam_analysis::study::planned::carry_out;
use quietbeam_analysis::study::recheck::kit;
use quietbeam_analysis::study::report::{Facts, ReportCase, report};
use std::path::Path;
use std::time::Instant;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|text| text != "--bench").collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["report", number] => {
            // As the registry keeps the columns of a cut.
            let mut cases = cases::draw(number.parse().unwrap());
            cases.sort_by_cached_key(ReportCase::order);
            timed(cases);
        }
        ["unordered", number] => timed(cases::draw(number.parse().unwrap())),
        ["kit", number, folder] => write(number.parse().unwrap(), Path::new(folder)),
        // A plain `cargo bench` passes by: the comparison needs its driver.
        _ => println!("run analysis/benches/report/run"),
    }
}

/// Prints the seconds of one report, the peak memory of the process in KiB and the first planned
/// difference.
fn timed(cases: Vec<ReportCase>) {
    let plan = cases::plan();
    let start = Instant::now();
    let made = report(cases, &plan, &Facts::default());
    let seconds = start.elapsed().as_secs_f64();
    let found = made.planned.endpoints[0].as_intended.difference(plan.method()).unwrap();
    println!("{seconds:.2} {} {:.9}", peak_kib(), found.upper);
}

/// The tables that the peers compute the same from.
fn write(number: usize, folder: &Path) {
    let cohort: Cohort = cases::draw(number).into_iter().map(|case| case.row).collect();
    let planned = carry_out(&cohort, &cases::plan());
    std::fs::create_dir_all(folder).unwrap();
    for file in kit(&cohort, &planned, "Invented cases.").files {
        std::fs::write(folder.join(file.name), file.text).unwrap();
    }
}

fn peak_kib() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.map_or("0".to_owned(), |line| line.trim().trim_end_matches(" kB").to_owned())
}
