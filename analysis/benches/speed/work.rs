//! The work that is timed, on data that is the same on every machine and in every language.

use std::path::Path;

use quietbeam_analysis::methods::bootstrap::{
    Replicates, Statistic, TwoSamples, bca_interval, percentile_interval,
};
use quietbeam_analysis::methods::counts::{EventCount, TwoArms};
use quietbeam_analysis::methods::exact_unconditional::{
    barnard_pooled_test, boschloo_test, chan_non_inferiority_p,
};
use quietbeam_analysis::methods::follow_up::{Curve, Ended, FollowUp};
use quietbeam_analysis::methods::interval::Confidence;
use quietbeam_analysis::methods::log_rank::{TwoGroups, log_rank_test};
use quietbeam_analysis::methods::non_inferiority::{Margin, MarginSize};
use quietbeam_analysis::methods::random_intercept::random_intercept_logistic;
use quietbeam_analysis::methods::rank::rank_sum_test;
use quietbeam_analysis::methods::sample::Sample;
use quietbeam_analysis::methods::score::miettinen_nurminen_interval;
use quietbeam_analysis::methods::survival::kaplan_meier_log_log_interval;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

const LEVEL: Confidence = Confidence::NINETY_FIVE;
const CASES: usize = 1_000_000;
const DOSES_PER_ARM: usize = 10_000;
const RESAMPLES: u32 = 10_000;

pub(crate) struct Chance(ChaCha8Rng);

impl Chance {
    pub(crate) fn of(stream: u64) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(20_261_125);
        generator.set_stream(stream);
        Self(generator)
    }

    pub(crate) fn uniform(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub(crate) fn whole(&mut self, low: u32, high: u32) -> u32 {
        low + (self.uniform() * f64::from(high - low + 1)) as u32
    }

    /// Log-normal around 1, from the sum of twelve uniform numbers.
    fn dose(&mut self) -> f64 {
        let normal = (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0;
        normal.exp()
    }
}

/// Tables of two arms: 100,000 for the score interval, few and small for exact tests.
pub(crate) fn tables(number: usize, least: u32, most: u32) -> Vec<TwoArms> {
    let mut chance = Chance::of(u64::from(most));
    let mut arm = || {
        let total = chance.whole(least, most);
        let p = chance.uniform();
        let events = (f64::from(total) * p * p) as u32;
        EventCount::new(events, total).unwrap()
    };
    (0..number).map(|_| TwoArms { first: arm(), second: arm() }).collect()
}

pub(crate) fn score_tables() -> Vec<TwoArms> {
    tables(100_000, 20, 2_000)
}

pub(crate) fn exact_tables() -> Vec<TwoArms> {
    tables(20, 30, 100)
}

/// Follow-up of a year and a half in whole days; about a third have the event.
pub(crate) fn follow_up() -> (Vec<FollowUp>, Vec<FollowUp>) {
    let mut chance = Chance::of(3);
    let mut group = |rate: f64| {
        let mut case = || {
            let event = (-chance.uniform().max(1e-12).ln() * rate) as u32 + 1;
            let censored = chance.whole(30, 540);
            let ended = if event <= censored { Ended::Event } else { Ended::Censored };
            FollowUp { days: event.min(censored), ended }
        };
        (0..CASES / 2).map(|_| case()).collect()
    };
    (group(700.0), group(690.0))
}

/// Events of five hundred centres whose log odds differ.
pub(crate) fn centres() -> Vec<EventCount> {
    let mut chance = Chance::of(6);
    let mut centre = || {
        let total = chance.whole(20, 400);
        let log_odds = chance.dose().ln() * 0.5 - 2.0;
        let p = 1.0 / (1.0 + (-log_odds).exp());
        let events = (0..total).filter(|_| chance.uniform() < p).count();
        EventCount::new(events as u32, total).unwrap()
    };
    (0..500).map(|_| centre()).collect()
}

/// Doses of two arms.
pub(crate) fn doses(per_arm: usize) -> (Vec<f64>, Vec<f64>) {
    let mut chance = Chance::of(4);
    let mut arm = |factor: f64| (0..per_arm).map(|_| factor * chance.dose()).collect();
    (arm(1.0), arm(1.002))
}

pub(crate) fn rank_doses() -> (Vec<f64>, Vec<f64>) {
    doses(CASES / 2)
}

pub(crate) fn bootstrap_doses() -> (Vec<f64>, Vec<f64>) {
    doses(DOSES_PER_ARM)
}

/// The sum of all limits.
pub(crate) fn score_intervals(tables: &[TwoArms]) -> f64 {
    tables
        .iter()
        .map(|arms| miettinen_nurminen_interval(*arms, LEVEL))
        .map(|interval| interval.lower + interval.upper)
        .sum()
}

/// The sum of all two-sided p values.
pub(crate) fn barnard(tables: &[TwoArms]) -> f64 {
    tables.iter().map(|arms| barnard_pooled_test(*arms).unwrap().p_two_sided).sum()
}

/// The sum of all two-sided p values.
pub(crate) fn boschloo(tables: &[TwoArms]) -> f64 {
    tables.iter().map(|arms| boschloo_test(*arms).unwrap().p_two_sided).sum()
}

/// The sum of the p values at a margin of ten points.
pub(crate) fn chan(tables: &[TwoArms]) -> f64 {
    let margin = Margin::Harm(MarginSize::new(0.1).unwrap());
    tables.iter().map(|arms| chan_non_inferiority_p(*arms, margin).unwrap()).sum()
}

/// Lower log–log limit of the first group at a year.
pub(crate) fn kaplan_meier(cases: &[FollowUp]) -> f64 {
    kaplan_meier_log_log_interval(&Curve::of(cases).unwrap(), 365, LEVEL).unwrap().lower
}

/// The chi-square.
pub(crate) fn log_rank(first: &[FollowUp], second: &[FollowUp]) -> f64 {
    log_rank_test(&[TwoGroups { first, second }]).unwrap().test.statistic
}

/// The pairs won, from values in any order.
pub(crate) fn rank_sum(first: &[f64], second: &[f64]) -> f64 {
    let (first, second) = (Sample::new(first.to_vec()).unwrap(), Sample::new(second.to_vec()).unwrap());
    rank_sum_test(&first, &second).unwrap().pairs_won
}

/// The upper limit.
pub(crate) fn percentile(first: &[f64], second: &[f64]) -> f64 {
    let samples = TwoSamples { first, second };
    let replicates = Replicates::of_cases(samples, Statistic::GEOMETRIC_MEAN_RATIO, RESAMPLES, 1).unwrap();
    percentile_interval(Statistic::GEOMETRIC_MEAN_RATIO.of(samples), &replicates, LEVEL).unwrap().upper
}

/// The upper limit.
pub(crate) fn bca(first: &[f64], second: &[f64]) -> f64 {
    let samples = TwoSamples { first, second };
    let replicates = Replicates::of_cases(samples, Statistic::GEOMETRIC_MEAN_RATIO, RESAMPLES, 1).unwrap();
    bca_interval(samples, Statistic::GEOMETRIC_MEAN_RATIO, &replicates, LEVEL).unwrap().upper
}

/// The variance of the centres' log odds.
pub(crate) fn random_intercept(centres: &[EventCount]) -> f64 {
    random_intercept_logistic(centres, LEVEL).unwrap().tau_squared
}

/// Writes the data for the peers.
pub(crate) fn write(folder: &Path) {
    let counts = |arms: &TwoArms| {
        vec![arms.first.events(), arms.first.total(), arms.second.events(), arms.second.total()]
    };
    let tables = |tables: Vec<TwoArms>| tables.iter().map(counts).collect::<Vec<_>>();
    table(folder, "score_tables", "x1,n1,x2,n2", tables(score_tables()));
    table(folder, "exact_tables", "x1,n1,x2,n2", tables(exact_tables()));
    let centre = |centre: &EventCount| vec![centre.events(), centre.total()];
    table(folder, "centres", "x,n", centres().iter().map(centre).collect());
    let (first, second) = follow_up();
    let case =
        |group: u32| move |case: &FollowUp| vec![case.days, u32::from(case.ended == Ended::Event), group];
    let cases = first.iter().map(case(1)).chain(second.iter().map(case(2))).collect();
    table(folder, "follow_up", "days,event,group", cases);
    for (name, (first, second)) in [("rank", rank_doses()), ("bootstrap", bootstrap_doses())] {
        let pairs = first.iter().zip(&second).map(|(a, b)| vec![*a, *b]).collect();
        table(folder, name, "first,second", pairs);
    }
}

fn table<T: std::fmt::Display>(folder: &Path, name: &str, header: &str, rows: Vec<Vec<T>>) {
    let mut text = format!("{header}\n");
    for row in rows {
        let cells: Vec<String> = row.iter().map(T::to_string).collect();
        text.push_str(&cells.join(","));
        text.push('\n');
    }
    std::fs::write(folder.join(format!("{name}.csv")), text).unwrap();
}
