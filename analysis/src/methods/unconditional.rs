//! The worst probability of a set of tables over an unknown proportion: the engine of the
//! exact unconditional tests.

use std::f64::consts::FRAC_PI_2;

use super::counts::{EventCount, TwoArms};
use super::interval::NotEstimable;

/// Most tables that are enumerated; two arms of 2,000 cases.
const MOST_TABLES: u64 = 4_100_000;

/// Relative difference below which two statistics are the same statistic reached by other
/// roundings; without it a tied table falls out of the set by chance.
pub(crate) const TIE: f64 = 1e-9;

/// Tables with the totals of two arms: for every count of the first arm, the runs of counts
/// of the second arm that belong to the set.
pub(crate) struct Region {
    first_total: u32,
    second_total: u32,
    runs: Vec<Vec<(usize, usize)>>,
}

impl Region {
    /// All tables with the totals of `arms` for which `belongs` is true.
    ///
    /// # Errors
    /// Too many tables to enumerate.
    pub(crate) fn of(arms: TwoArms, belongs: impl Fn(u32, u32) -> bool) -> Result<Self, NotEstimable> {
        let (n1, n2) = (arms.first.total(), arms.second.total());
        let tables = (u64::from(n1) + 1) * (u64::from(n2) + 1);
        if tables > MOST_TABLES {
            return Err(NotEstimable::TooManyTables { tables });
        }
        let runs = (0..=n1).map(|x1| runs_of(n2, |x2| belongs(x1, x2))).collect();
        Ok(Self { first_total: n1, second_total: n2, runs })
    }

    /// All tables for which `belongs` is true, where it stays true when the second arm has one
    /// event more and when the first has one fewer: the border climbs like a staircase, so one
    /// walk along it asks about n1 + n2 tables instead of all.
    pub(crate) fn staircase(arms: TwoArms, belongs: impl Fn(u32, u32) -> bool) -> Self {
        let (n1, n2) = (arms.first.total(), arms.second.total());
        let mut from = 0;
        let row = |x1| {
            while from <= n2 && !belongs(x1, from) {
                from += 1;
            }
            if from <= n2 { vec![(from as usize, n2 as usize)] } else { Vec::new() }
        };
        Self { first_total: n1, second_total: n2, runs: (0..=n1).map(row).collect() }
    }

    /// The tables whose non-events form a table of this set.
    pub(crate) fn of_non_events(self) -> Self {
        let n2 = self.second_total as usize;
        let row = |runs: Vec<(usize, usize)>| runs.into_iter().rev().map(|(a, b)| (n2 - b, n2 - a)).collect();
        Self { runs: self.runs.into_iter().rev().map(row).collect(), ..self }
    }

    /// Probability of the set when the arms have proportions `p1` and `p2`.
    pub(crate) fn probability(&self, p1: f64, p2: f64) -> f64 {
        let first = binomial(self.first_total, p1);
        let mut cumulative = vec![0.0];
        let mut sum = 0.0;
        for p in binomial(self.second_total, p2) {
            sum += p;
            cumulative.push(sum);
        }
        let mass = |&(from, to): &(usize, usize)| cumulative[to + 1] - cumulative[from];
        let total: f64 =
            first.iter().zip(&self.runs).map(|(p, runs)| p * runs.iter().map(mass).sum::<f64>()).sum();
        total.clamp(0.0, 1.0)
    }

    /// Largest probability of the set while the second proportion runs over `range` and the
    /// first is `shift` above it.
    ///
    /// A grid of 2,001 places, even on the arcsine scale where a binomial peak has the same
    /// width everywhere, then the highest ten peaks climbed to the top.
    pub(crate) fn worst(&self, shift: f64, range: (f64, f64)) -> f64 {
        const STEPS: u32 = 2_000;
        let place = |t: f64| {
            let share = (FRAC_PI_2 * t).sin().powi(2);
            range.0 + share * (range.1 - range.0)
        };
        let at = |t: f64| {
            let p2 = place(t);
            self.probability((p2 + shift).clamp(0.0, 1.0), p2)
        };
        let width = 1.0 / f64::from(STEPS);
        let grid: Vec<f64> = (0..=STEPS).map(|step| at(f64::from(step) * width)).collect();
        let mut peaks: Vec<usize> = (0..grid.len())
            .filter(|&i| {
                (i == 0 || grid[i - 1] <= grid[i]) && (i + 1 == grid.len() || grid[i + 1] <= grid[i])
            })
            .collect();
        peaks.sort_by(|&a, &b| grid[b].total_cmp(&grid[a]));
        peaks.truncate(10);
        let climbed = peaks.iter().map(|&i| {
            let t = i as f64 * width;
            climb(at, (t - width).max(0.0), (t + width).min(1.0)).max(grid[i])
        });
        climbed.fold(0.0, f64::max)
    }
}

fn runs_of(n: u32, belongs: impl Fn(u32) -> bool) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for x in (0..=n).filter(|&x| belongs(x)) {
        let x = x as usize;
        match runs.last_mut() {
            Some(run) if run.1 + 1 == x => run.1 = x,
            _ => runs.push((x, x)),
        }
    }
    runs
}

/// Golden-section search for the top of one peak.
fn climb(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut a, mut b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
    let (mut fa, mut fb) = (f(a), f(b));
    // Each round keeps 0.62 of the width: forty rounds reach the square root of the precision.
    for _ in 0..40 {
        if fa >= fb {
            (high, b, fb) = (b, a, fa);
            a = high - GOLDEN * (high - low);
            fa = f(a);
        } else {
            (low, a, fa) = (a, b, fb);
            b = low + GOLDEN * (high - low);
            fb = f(b);
        }
    }
    fa.max(fb)
}

/// Binomial probabilities of 0 to n events, by ratios from the mode outward.
pub(crate) fn binomial(n: u32, p: f64) -> Vec<f64> {
    let mut weights = vec![0.0; n as usize + 1];
    if p <= 0.0 || p >= 1.0 {
        weights[if p <= 0.0 { 0 } else { n as usize }] = 1.0;
        return weights;
    }
    let cases = f64::from(n);
    let mode = ((cases + 1.0) * p).floor().clamp(0.0, cases);
    let odds = p / (1.0 - p);
    let start = mode as usize;
    weights[start] = 1.0;
    for k in start..n as usize {
        let x = k as f64;
        weights[k + 1] = weights[k] * (cases - x) / (x + 1.0) * odds;
    }
    for k in (0..start).rev() {
        let x = k as f64;
        weights[k] = weights[k + 1] * (x + 1.0) / (cases - x) / odds;
    }
    let total: f64 = weights.iter().sum();
    weights.iter_mut().for_each(|weight| *weight /= total);
    weights
}

/// A table with the totals of `arms`.
pub(crate) fn table(arms: TwoArms, x1: u32, x2: u32) -> TwoArms {
    let count = |counts: EventCount, x| EventCount::of_same_total(counts, x);
    TwoArms { first: count(arms.first, x1), second: count(arms.second, x2) }
}
