//! The worst probability of a set of tables over an unknown proportion: the engine of the
//! exact unconditional tests.

use std::f64::consts::FRAC_PI_2;

use super::counts::{EventCount, TwoArms};
use super::interval::NotEstimable;

/// Most tables that are enumerated; two arms of 2,000 cases.
const MOST_TABLES: u64 = 4_100_000;

/// Most cases of one arm: an arm of a few beside one of a million has few tables, but each
/// place of the search walks along the longer arm.
const MOST_CASES: u32 = 20_000;

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
        if tables > MOST_TABLES || n1.max(n2) > MOST_CASES {
            return Err(NotEstimable::TooManyTables { tables });
        }
        let runs = (0..=n1).map(|x1| runs_of(n2, |x2| belongs(x1, x2))).collect();
        Ok(Self { first_total: n1, second_total: n2, runs })
    }

    /// Several sets of tables by one statistic, which is computed once a table.
    ///
    /// # Errors
    /// Too many tables to enumerate.
    pub(crate) fn by_statistic<const N: usize>(
        arms: TwoArms,
        statistic: impl Fn(TwoArms) -> f64,
        belongs: [&dyn Fn(f64) -> bool; N],
    ) -> Result<[Self; N], NotEstimable> {
        let empty = Self::of(arms, |_, _| false)?;
        let mut regions = belongs.map(|_| Self { runs: Vec::new(), ..empty });
        for x1 in 0..=empty.first_total {
            let row: Vec<f64> = (0..=empty.second_total).map(|x2| statistic(table(arms, x1, x2))).collect();
            for (region, belongs) in regions.iter_mut().zip(belongs) {
                region.runs.push(runs_of(empty.second_total, |x2| belongs(row[x2 as usize])));
            }
        }
        Ok(regions)
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
        let mut arms = self.chances();
        arms.at(p1, p2);
        self.mass(&arms)
    }

    /// Largest probability of the set while the second proportion runs over `range` and the
    /// first is `shift` above it.
    pub(crate) fn worst(&self, shift: f64, range: (f64, f64)) -> f64 {
        let [worst] = Self::worst_of([self], shift, range);
        worst
    }

    /// The same for several sets of tables with the same totals.
    ///
    /// A grid, even on the arcsine scale where a binomial peak has the same width everywhere: 32
    /// places for the square root of the cases put ten within its standard deviation. There the
    /// top of a peak is at most 0.2 % above the grid (the second derivative is never below minus the
    /// information), so only peaks this near the highest are climbed.
    pub(crate) fn worst_of<const N: usize>(regions: [&Self; N], shift: f64, range: (f64, f64)) -> [f64; N] {
        const NEAR: f64 = 0.99;
        let Some(any) = regions.first() else { return [0.0; N] };
        let cases = f64::from(any.first_total) + f64::from(any.second_total);
        let steps = (32.0 * cases.sqrt()).ceil().min(2_000.0);
        let mut arms = any.chances();
        let mut set = move |t: f64| {
            let share = (FRAC_PI_2 * t).sin().powi(2);
            let p2 = range.0 + share * (range.1 - range.0);
            arms.at((p2 + shift).clamp(0.0, 1.0), p2);
            regions.map(|region| region.mass(&arms))
        };
        let width = 1.0 / steps;
        let grid: Vec<[f64; N]> = (0..=steps as usize).map(|step| set(step as f64 * width)).collect();
        std::array::from_fn(|n| {
            let high = |i: usize| grid[i][n];
            let best = (0..grid.len()).map(high).fold(0.0, f64::max);
            let mut peaks: Vec<usize> = (0..grid.len())
                .filter(|&i| {
                    high(i) >= NEAR * best
                        && (i == 0 || high(i - 1) <= high(i))
                        && (i + 1 == grid.len() || high(i + 1) <= high(i))
                })
                .collect();
            peaks.sort_by(|&a, &b| high(b).total_cmp(&high(a)));
            peaks.truncate(10);
            let climbed = peaks.iter().map(|&i| {
                let t = i as f64 * width;
                climb(|t| set(t)[n], (t - width).max(0.0), (t + width).min(1.0)).max(high(i))
            });
            climbed.fold(0.0, f64::max)
        })
    }

    fn chances(&self) -> ArmChances {
        ArmChances {
            first: Binomial::new(self.first_total),
            second: Binomial::new(self.second_total),
            cumulative: vec![0.0; self.second_total as usize + 2],
        }
    }

    fn mass(&self, arms: &ArmChances) -> f64 {
        let mass = |&(from, to): &(usize, usize)| arms.cumulative[to + 1] - arms.cumulative[from];
        let row = |(p, runs): (&f64, &Vec<(usize, usize)>)| p * runs.iter().map(mass).sum::<f64>();
        arms.first.weights.iter().zip(&self.runs).map(row).sum::<f64>().clamp(0.0, 1.0)
    }
}

/// Probabilities of the counts of both arms, in memory that is used again.
struct ArmChances {
    first: Binomial,
    second: Binomial,
    /// Probability of fewer than 0, 1, … events in the second arm.
    cumulative: Vec<f64>,
}

impl ArmChances {
    fn at(&mut self, p1: f64, p2: f64) {
        self.first.at(p1);
        self.second.at(p2);
        let mut sum = 0.0;
        for (below, p) in self.cumulative[1..].iter_mut().zip(&self.second.weights) {
            sum += p;
            *below = sum;
        }
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
fn climb(mut f: impl FnMut(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut a, mut b) = (high - GOLDEN * (high - low), low + GOLDEN * (high - low));
    let (mut fa, mut fb) = (f(a), f(b));
    // Each round keeps 0.62 of the width, a fifth of a standard deviation at most; thirty leave
    // less than 1e-7 of one, which changes the height in its fifteenth digit.
    for _ in 0..30 {
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

/// Binomial probabilities of 0 to n events.
pub(crate) fn binomial(n: u32, p: f64) -> Vec<f64> {
    let mut binomial = Binomial::new(n);
    binomial.at(p);
    binomial.weights
}

/// Binomial probabilities for one number of cases and many proportions.
struct Binomial {
    /// (n − k)/(k + 1): how the number of ways grows from k events to k + 1.
    growth: Vec<f64>,
    weights: Vec<f64>,
}

impl Binomial {
    fn new(n: u32) -> Self {
        let growth = (0..n).map(|k| f64::from(n - k) / (f64::from(k) + 1.0)).collect();
        Self { growth, weights: vec![0.0; n as usize + 1] }
    }

    /// By ratios from the mode outward.
    fn at(&mut self, p: f64) {
        let n = self.growth.len();
        if p <= 0.0 || p >= 1.0 {
            self.weights.fill(0.0);
            self.weights[if p <= 0.0 { 0 } else { n }] = 1.0;
            return;
        }
        let mode = ((n as f64 + 1.0) * p).floor().clamp(0.0, n as f64) as usize;
        let odds = p / (1.0 - p);
        let (mut weight, mut total) = (1.0, 1.0);
        self.weights[mode] = 1.0;
        for (next, growth) in self.weights[mode + 1..].iter_mut().zip(&self.growth[mode..]) {
            weight *= growth * odds;
            total += weight;
            *next = weight;
        }
        weight = 1.0;
        // From k + 1 events to k the growth of n − k − 1 counts: (k + 1)/(n − k).
        let shrink = self.growth[n - mode..].iter();
        for (next, growth) in self.weights[..mode].iter_mut().rev().zip(shrink) {
            weight *= growth / odds;
            total += weight;
            *next = weight;
        }
        self.weights.iter_mut().for_each(|weight| *weight /= total);
    }
}

/// A table with the totals of `arms`.
pub(crate) fn table(arms: TwoArms, x1: u32, x2: u32) -> TwoArms {
    let count = |counts: EventCount, x| EventCount::of_same_total(counts, x);
    TwoArms { first: count(arms.first, x1), second: count(arms.second, x2) }
}
