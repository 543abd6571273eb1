//! A difference of two arms: every possible table, weighted with its probability.

use quietbeam_analysis::methods::counts::TwoArms;
use quietbeam_analysis::methods::difference::{
    agresti_caffo_interval, newcombe_corrected_interval, newcombe_interval, wald_difference_interval,
};
use quietbeam_analysis::methods::exact_unconditional::chan_non_inferiority_p;
use quietbeam_analysis::methods::interval::{Confidence, Interval};
use quietbeam_analysis::methods::score::{mee_interval, miettinen_nurminen_interval};

use super::chances::Counts;
use super::setting::{Outcome, Truth, outcomes};
use super::tally::Tally;

type Method = fn(TwoArms, Confidence) -> Interval;

const METHODS: [(&str, Method); 6] = [
    ("Miettinen–Nurminen", miettinen_nurminen_interval),
    ("Farrington–Manning (Mee)", mee_interval),
    ("Newcombe", newcombe_interval),
    ("Newcombe, corrected", newcombe_corrected_interval),
    ("Agresti–Caffo", agresti_caffo_interval),
    ("Wald", wald_difference_interval),
];

/// Arms of the demonstration: the whole network, an even centre, the centre that hardly does
/// without fluoroscopy, the children's centre; and a small study.
const ARMS: [(u32, u32); 5] = [(2_259, 2_041), (450, 450), (60, 540), (195, 65), (100, 100)];
/// Most cases of both arms for which every table's exact p value is worked out.
const SMALL: u32 = 260;

pub(crate) fn print() {
    println!("## Two arms\n");
    println!(
        "Per cent, by enumeration of every table, so without Monte Carlo error. The last column is \
         the one-sided error: nominal 2.5.\n"
    );
    println!(
        "| outcome, margin | arms | method | no difference: covered | shown | at the margin: covered | \
         wrongly shown |"
    );
    println!("|---|---|---|---:|---:|---:|---:|");
    for outcome in outcomes() {
        for arms in ARMS {
            setting(outcome, arms);
        }
    }
    println!();
}

fn setting(outcome: Outcome, arms: (u32, u32)) {
    let tallies = Truth::BOTH.map(|truth| enumerate(outcome, arms, truth));
    let margin = 100.0 * outcome.margin.null_difference().difference();
    let place = format!("| {}, {margin:+.0} | {} / {}", outcome.name, arms.0, arms.1);
    for (index, (name, _)) in
        METHODS.iter().chain(&[("Chan, exact", wald_difference_interval as Method)]).enumerate()
    {
        let [equal, edge] = [&tallies[0], &tallies[1]];
        if let (Some(equal), Some(edge)) = (equal.get(index), edge.get(index)) {
            println!(
                "{place} | {name} | {} | {} | {} | {} |",
                equal.covered().exact(),
                equal.shown().exact(),
                edge.covered().exact(),
                edge.shown().exact()
            );
        }
    }
}

/// One tally a method; the exact test comes last, for small arms alone.
fn enumerate(outcome: Outcome, (n1, n2): (u32, u32), truth: Truth) -> Vec<Tally> {
    let difference = truth.difference(outcome.margin);
    let (first, second) = (Counts::of(n1, outcome.base + difference), Counts::of(n2, outcome.base));
    let exact = n1 + n2 <= SMALL;
    let mut tallies = vec![Tally::default(); METHODS.len() + usize::from(exact)];
    for (a, chance_a) in first.iter() {
        for (b, chance_b) in second.iter() {
            let (arms, weight) = (TwoArms { first: a, second: b }, chance_a * chance_b);
            for ((_, method), tally) in METHODS.iter().zip(&mut tallies) {
                let interval = Ok(method(arms, Confidence::NINETY_FIVE));
                tally.interval(weight, &interval, difference, outcome.margin);
            }
            if exact {
                // The least likely tables cost the most time and weigh nothing.
                let likely = weight > 1e-9;
                let shown = likely && chan_non_inferiority_p(arms, outcome.margin).unwrap() <= 0.025;
                tallies[METHODS.len()].test(weight, shown);
            }
        }
    }
    tallies
}
