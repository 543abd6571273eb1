//! Seven centres of unequal size: simulated networks.

use quietbeam_analysis::methods::counts::{EventCount, Stratum, TwoArms};
use quietbeam_analysis::methods::interval::{Confidence, Interval, NotEstimable};
use quietbeam_analysis::methods::mantel_haenszel::{
    mantel_haenszel_difference_greenland_robins, mantel_haenszel_difference_sato,
};
use quietbeam_analysis::methods::non_inferiority::Margin;
use quietbeam_analysis::methods::score::miettinen_nurminen_interval;
use quietbeam_analysis::methods::stratified_newcombe::{
    stratified_newcombe_recovered_interval, stratified_newcombe_yan_su_interval,
};
use quietbeam_analysis::methods::stratified_score::{
    stratified_mee_interval, stratified_miettinen_nurminen_interval,
};

use super::chances::{Chance, Counts, SEED};
use super::setting::{Outcome, Truth, outcomes};
use super::tally::Tally;

type Answer = Result<Interval, NotEstimable>;
type Method = fn(&[Stratum], Confidence) -> Answer;

const METHODS: [(&str, Method); 7] = [
    ("stratified Miettinen–Nurminen", |strata, level| {
        stratified_miettinen_nurminen_interval(strata, level).map(|answer| answer.interval)
    }),
    ("stratified Farrington–Manning (Mee)", |strata, level| {
        stratified_mee_interval(strata, level).map(|answer| answer.interval)
    }),
    ("Mantel–Haenszel, Sato", mantel_haenszel_difference_sato),
    ("Mantel–Haenszel, Greenland–Robins", mantel_haenszel_difference_greenland_robins),
    ("stratified Newcombe, Yan–Su", stratified_newcombe_yan_su_interval),
    ("stratified Newcombe, recovered", stratified_newcombe_recovered_interval),
    ("crude Miettinen–Nurminen, centres ignored", crude),
];

fn crude(strata: &[Stratum], level: Confidence) -> Answer {
    let all = |arm: fn(&Stratum) -> Option<EventCount>| {
        let counts = || strata.iter().filter_map(arm);
        let (events, total) = (counts().map(EventCount::events).sum(), counts().map(EventCount::total).sum());
        EventCount::new(events, total).unwrap()
    };
    Ok(miettinen_nurminen_interval(TwoArms { first: all(|s| s.first), second: all(|s| s.second) }, level))
}

/// Cases and share of zero-fluoroscopy (in tenths of a per cent) of the demonstration's centres,
/// and how their log odds of success and of harm differ: four times as much as there, where the
/// centres resemble each other.
pub(crate) const CENTRES: [(u32, u32, f64, f64); 7] = [
    (1_100, 885, 0.4, -0.4),
    (700, 450, 0.0, 0.0),
    (600, 100, -0.2, 0.2),
    (900, 500, -0.2, 0.8),
    (260, 750, 0.2, -0.8),
    (420, 325, -0.8, 0.6),
    (320, 400, -0.4, 0.4),
];

/// A kind of network.
#[derive(Clone, Copy)]
struct Network {
    name: &'static str,
    /// Cases of the demonstration for one case here.
    thinned: u32,
    unbalanced: bool,
    differing: bool,
}

const NETWORKS: [Network; 6] = [
    Network { name: "even arms, alike", thinned: 1, unbalanced: false, differing: false },
    Network { name: "unbalanced, alike", thinned: 1, unbalanced: true, differing: false },
    Network { name: "unbalanced, differing", thinned: 1, unbalanced: true, differing: true },
    Network { name: "a tenth: even arms, alike", thinned: 10, unbalanced: false, differing: false },
    Network { name: "a tenth: unbalanced, alike", thinned: 10, unbalanced: true, differing: false },
    Network { name: "a tenth: unbalanced, differing", thinned: 10, unbalanced: true, differing: true },
];

impl Network {
    /// The counts that can occur in each centre, by arm.
    fn centres(&self, outcome: Outcome, difference: f64) -> Vec<(Counts, Counts)> {
        let centre = |(cases, tenths, success, harm): &(u32, u32, f64, f64)| {
            let cases = cases / self.thinned;
            let first = if self.unbalanced { (cases * tenths + 500) / 1_000 } else { cases / 2 };
            let shift = match outcome.margin {
                Margin::Benefit(_) => success,
                Margin::Harm(_) => harm,
            };
            let base = if self.differing { shifted(outcome.base, *shift) } else { outcome.base };
            (Counts::of(first, base + difference), Counts::of(cases - first, base))
        };
        CENTRES.iter().map(centre).collect()
    }
}

fn shifted(p: f64, log_odds: f64) -> f64 {
    let odds = p / (1.0 - p) * log_odds.exp();
    odds / (1.0 + odds)
}

pub(crate) fn print(replicates: u64) {
    println!("## Seven centres\n");
    println!(
        "Per cent of {replicates} simulated networks (seed {SEED}) ± Monte Carlo standard error. The \
         difference is the same in every centre. \"Shown\" is non-inferiority; wrongly shown is the \
         one-sided error, nominal 2.5. Coverage is that of the intervals given; one that is not given \
         (without difference / at the margin) shows nothing.\n"
    );
    println!(
        "| outcome | network | method | no difference: covered | shown | at the margin: covered | \
         wrongly shown | not given |"
    );
    println!("|---|---|---|---:|---:|---:|---:|---:|");
    for (number, outcome) in outcomes().into_iter().enumerate() {
        for (place, network) in NETWORKS.iter().enumerate() {
            let number = 100 * number as u64 + 10 * place as u64;
            let equal = simulate(outcome, network, Truth::NoDifference, (number, replicates));
            let edge = simulate(outcome, network, Truth::AtTheMargin, (number + 1, replicates));
            for (index, (name, _)) in METHODS.iter().enumerate() {
                println!(
                    "| {} | {} | {name} | {} | {} | {} | {} | {} / {} |",
                    outcome.name,
                    network.name,
                    equal[index].covered().simulated(),
                    equal[index].shown().simulated(),
                    edge[index].covered().simulated(),
                    edge[index].shown().simulated(),
                    equal[index].missing().exact(),
                    edge[index].missing().exact(),
                );
            }
        }
    }
}

fn simulate(
    outcome: Outcome,
    network: &Network,
    truth: Truth,
    (number, replicates): (u64, u64),
) -> Vec<Tally> {
    let difference = truth.difference(outcome.margin);
    let centres = network.centres(outcome, difference);
    let mut tallies = vec![Tally::default(); METHODS.len()];
    for replicate in 0..replicates {
        let mut chance = Chance::of(number, replicate);
        let strata: Vec<Stratum> = centres
            .iter()
            .map(|(first, second)| Stratum {
                first: Some(first.draw(&mut chance)),
                second: Some(second.draw(&mut chance)),
            })
            .collect();
        for ((_, method), tally) in METHODS.iter().zip(&mut tallies) {
            let interval = method(&strata, Confidence::NINETY_FIVE);
            tally.interval(1.0, &interval, difference, outcome.margin);
        }
    }
    tallies
}
