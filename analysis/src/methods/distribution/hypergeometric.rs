//! Events of the first arm when all margins of a two-by-two table are fixed.

use super::super::counts::TwoArms;

/// Fisher's noncentral hypergeometric distribution: events in the first arm given the events
/// of both, for any odds ratio.
pub(crate) struct FixedMargins {
    first_total: f64,
    second_total: f64,
    events: f64,
    observed: f64,
}

/// Probabilities of fewer, as many and more events than observed, and the mean.
pub(crate) struct AroundObserved {
    pub(crate) below: f64,
    pub(crate) at: f64,
    pub(crate) above: f64,
    pub(crate) mean: f64,
}

impl FixedMargins {
    pub(crate) fn of(arms: TwoArms) -> Self {
        Self {
            first_total: arms.first.n(),
            second_total: arms.second.n(),
            events: arms.first.x() + arms.second.x(),
            observed: arms.first.x(),
        }
    }

    /// Fewest events the first arm can have.
    pub(crate) fn least(&self) -> f64 {
        (self.events - self.second_total).max(0.0)
    }

    /// Most events the first arm can have.
    pub(crate) fn most(&self) -> f64 {
        self.events.min(self.first_total)
    }

    /// P(k + 1) / P(k) at odds ratio 1.
    fn step_up(&self, k: f64) -> f64 {
        (self.first_total - k) / (k + 1.0) * ((self.events - k) / (self.second_total - self.events + k + 1.0))
    }

    /// Split of the distribution at the observed count.
    ///
    /// Sums outward from the observed count in both directions until terms no longer matter;
    /// every term is a product of ratios, so nothing overflows unless a side outweighs the
    /// other by more than a double can say, and then the split is 0 and 1.
    pub(crate) fn around_observed(&self, odds_ratio: f64) -> AroundObserved {
        let up = Side::sum(self.observed, self.most(), 1.0, |k| self.step_up(k) * odds_ratio);
        let down =
            Side::sum(self.observed, self.least(), -1.0, |k| 1.0 / (self.step_up(k - 1.0) * odds_ratio));
        if up.weight.is_infinite() || down.weight.is_infinite() {
            let above = f64::from(u8::from(up.weight >= down.weight));
            let mean = if above > 0.0 { self.most() } else { self.least() };
            return AroundObserved { below: 1.0 - above, at: 0.0, above, mean };
        }
        let total = 1.0 + up.weight + down.weight;
        AroundObserved {
            below: down.weight / total,
            at: 1.0 / total,
            above: up.weight / total,
            mean: self.observed + (up.moment + down.moment) / total,
        }
    }

    /// Probability of every possible count at odds ratio 1, from the fewest on.
    pub(crate) fn central_probabilities(&self) -> Vec<f64> {
        let (fewest, likely) = self.central_window();
        // Exact: whole numbers of a table that fits in memory.
        let (before, after) = (fewest - self.least(), self.most() - fewest - (likely.len() - 1) as f64);
        let mut all = vec![0.0; before as usize];
        all.extend(likely);
        all.resize(all.len() + after as usize, 0.0);
        all
    }

    /// The same where it is a normal double beside the highest, and the fewest events of these
    /// counts: at most some millions of places where billions of tables are possible.
    ///
    /// Below the normal doubles a factor a little under 1 rounds back to the same number: waiting
    /// for 0 would walk through every table.
    pub(crate) fn central_window(&self) -> (f64, Vec<f64>) {
        let mode = ((self.first_total + 1.0) * (self.events + 1.0)
            / (self.first_total + self.second_total + 2.0))
            .floor()
            .clamp(self.least(), self.most());
        let mut down = Vec::new();
        let (mut k, mut weight) = (mode, 1.0);
        while k > self.least() {
            weight /= self.step_up(k - 1.0);
            if weight < f64::MIN_POSITIVE {
                break;
            }
            k -= 1.0;
            down.push(weight);
        }
        let fewest = k;
        let mut all: Vec<f64> = down.into_iter().rev().collect();
        all.push(1.0);
        let (mut k, mut weight) = (mode, 1.0);
        while k < self.most() {
            weight *= self.step_up(k);
            if weight < f64::MIN_POSITIVE {
                break;
            }
            k += 1.0;
            all.push(weight);
        }
        let total: f64 = sum_from_small(&all);
        (fewest, all.iter().map(|weight| weight / total).collect())
    }
}

/// Sum that adds small terms first.
pub(crate) fn sum_from_small(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.iter().sum()
}

/// Weight and first moment of one side, relative to the weight of the observed count.
struct Side {
    weight: f64,
    moment: f64,
}

impl Side {
    fn sum(observed: f64, end: f64, step: f64, ratio: impl Fn(f64) -> f64) -> Self {
        let mut side = Self { weight: 0.0, moment: 0.0 };
        let (mut k, mut term) = (observed, 1.0);
        while k != end {
            let ratio = ratio(k);
            term *= ratio;
            k += step;
            side.weight += term;
            side.moment += (k - observed) * term;
            // Past the mode the terms fall ever faster: what is left is below ratio/(1−ratio) terms.
            let finished = ratio < 1.0 && term < 1e-18 * (1.0 - ratio) * (1.0 + side.weight);
            if finished || side.weight.is_infinite() {
                break;
            }
        }
        side
    }
}
