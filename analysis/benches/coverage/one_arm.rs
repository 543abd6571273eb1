//! One proportion: every possible count, weighted with its probability.

use quietbeam_analysis::methods::counts::EventCount;
use quietbeam_analysis::methods::interval::{Confidence, Interval};
use quietbeam_analysis::methods::proportion::{
    clopper_pearson_interval, jeffreys_interval, mid_p_interval, wilson_corrected_interval, wilson_interval,
};
use quietbeam_analysis::methods::proportion_simple::{agresti_coull_interval, wald_interval};

use super::chances::Counts;

type Method = fn(EventCount, Confidence) -> Interval;

const METHODS: [Method; 7] = [
    wilson_interval,
    wilson_corrected_interval,
    clopper_pearson_interval,
    mid_p_interval,
    jeffreys_interval,
    agresti_coull_interval,
    wald_interval,
];

/// The smallest centre, the largest, and the network of the demonstration.
const TOTALS: [u32; 3] = [260, 1_100, 4_300];
/// From 0.5 % to 3 %, and the same distances from a success of every case.
const RARE: (u32, u32) = (5, 30);

pub(crate) fn print() {
    println!("## One proportion\n");
    println!(
        "Coverage of 95 % intervals in per cent, by enumeration: the mean and the least over proportions \
         of 0.5 % to 3 % in steps of 0.1 points, and at 94 %.\n"
    );
    let head: Vec<String> = TOTALS.iter().map(|n| format!("{n} cases, mean | least | at 94 %")).collect();
    println!("| method | {} |", head.join(" | "));
    println!("|---{}|", "|---:".repeat(3 * TOTALS.len()));
    for method in METHODS {
        let cells: Vec<String> = TOTALS.iter().map(|n| row(*n, method)).collect();
        println!("| {} | {} |", label(method), cells.join(" | "));
    }
    println!();
}

fn row(total: u32, method: Method) -> String {
    let rare: Vec<f64> = (RARE.0..=RARE.1).map(|p| covered(total, f64::from(p) / 1_000.0, method)).collect();
    let mean = rare.iter().sum::<f64>() / rare.len() as f64;
    let least = rare.iter().copied().fold(1.0, f64::min);
    format!("{:.2} | {:.2} | {:.2}", 100.0 * mean, 100.0 * least, 100.0 * covered(total, 0.94, method))
}

fn covered(total: u32, p: f64, method: Method) -> f64 {
    let held = |count: EventCount| {
        let interval = method(count, Confidence::NINETY_FIVE);
        interval.lower <= p && p <= interval.upper
    };
    Counts::of(total, p).iter().filter(|(count, _)| held(*count)).map(|(_, chance)| chance).sum()
}

fn label(method: Method) -> &'static str {
    method(EventCount::new(1, 2).unwrap(), Confidence::NINETY_FIVE).method.label()
}
