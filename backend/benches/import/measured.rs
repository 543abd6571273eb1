//! A part in a process of its own, and what is told of it.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;
use std::{env, fs};

/// What one part took.
pub(crate) struct Measured {
    pub(crate) rows: u64,
    pub(crate) seconds: f64,
    /// Peak resident memory of the whole process; 0 where the system does not tell.
    pub(crate) peak_kib: u64,
}

/// Times some work that gives back how many rows it did.
pub(crate) fn timed(work: impl FnOnce() -> u64) -> Measured {
    let start = Instant::now();
    let rows = work();
    Measured { rows, seconds: start.elapsed().as_secs_f64(), peak_kib: peak_kib() }
}

/// Starts a process for a part and waits for what it tells.
pub(crate) fn part(name: &str, folder: &Path, address: &str) -> Measured {
    let own = env::current_exe().expect("this program");
    let mut command = Command::new(own);
    command.args(["part", name]).arg(folder).arg(address).stderr(Stdio::inherit());
    let output = command.output().expect("a process");
    let told = String::from_utf8(output.stdout).expect("text");
    assert!(output.status.success(), "{name}: {told}");
    let numbers: Vec<&str> = told.split_whitespace().collect();
    let [rows, seconds, peak] = numbers[..] else { panic!("{name} told {told}") };
    Measured {
        rows: rows.parse().expect("rows"),
        seconds: seconds.parse().expect("seconds"),
        peak_kib: peak.parse().expect("a size"),
    }
}

/// Tells the process that started this one.
pub(crate) fn tell(measured: &Measured) {
    println!("{} {} {}", measured.rows, measured.seconds, measured.peak_kib);
}

fn peak_kib() -> u64 {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.trim().trim_end_matches(" kB").parse().ok()).unwrap_or(0)
}
