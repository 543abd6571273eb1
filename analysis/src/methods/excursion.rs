//! The way of a cumulative sum from 0 back to 0 or to its threshold.

use super::interval::NotEstimable;

/// A chart moves by one of two steps a case.
#[derive(Clone, Copy)]
pub(super) struct Steps {
    pub(super) up: f64,
    pub(super) up_probability: f64,
    pub(super) down: f64,
    pub(super) down_probability: f64,
}

/// Additions that a run length may take before the answer is "cannot be estimated".
pub(super) struct Budget(usize);

impl Budget {
    /// Enough for one run length: a fraction of a second.
    pub(super) fn of_one() -> Self {
        Self(100_000_000)
    }

    /// Enough for the many run lengths of a search.
    pub(super) fn of_a_search() -> Self {
        Self(1_000_000_000)
    }

    /// Takes what so many cases cost, with so many additions each.
    pub(super) fn take(&mut self, cases: usize, additions: usize) -> Result<(), NotEstimable> {
        // What a case costs at least also bounds the memory.
        let cost = cases.saturating_mul(additions + 20);
        self.0 = self.0.checked_sub(cost).ok_or(NotEstimable::RunLengthOutOfReach)?;
        Ok(())
    }
}

/// What one case did to charts that were on their way.
pub(super) struct Ended {
    pub(super) signalled: f64,
    pub(super) returned: f64,
}

/// Charts on their way after some cases, by the number of steps up: together with the number of cases
/// it fixes the height, so that no height is ever rounded.
pub(super) struct Excursion {
    steps: Steps,
    threshold: f64,
    cases: f64,
    /// Fewest steps up of those on their way.
    fewest: f64,
    shares: Vec<f64>,
    going: f64,
}

impl Excursion {
    pub(super) fn start(steps: Steps, threshold: f64) -> Self {
        Self { steps, threshold, cases: 0.0, fewest: 0.0, shares: vec![1.0], going: 1.0 }
    }

    /// Share of charts that have neither returned nor signalled.
    pub(super) fn going(&self) -> f64 {
        self.going
    }

    pub(super) fn states(&self) -> usize {
        self.shares.len()
    }

    fn height_at(&self, place: usize) -> f64 {
        let ups = self.fewest + place as f64;
        ups * self.steps.up - (self.cases - ups) * self.steps.down
    }

    /// One case more.
    pub(super) fn step(&mut self) -> Ended {
        self.cases += 1.0;
        self.shares.push(0.0);
        let Steps { up_probability, down_probability, .. } = self.steps;
        let mut below = 0.0;
        for share in &mut self.shares {
            let here = *share;
            *share = here * down_probability + below * up_probability;
            below = here;
        }
        let mut signalled = 0.0;
        while self.shares.last().is_some() && self.height_at(self.shares.len() - 1) >= self.threshold {
            signalled += self.shares.pop().unwrap_or(0.0);
        }
        let fallen = (0..self.shares.len()).take_while(|place| self.height_at(*place) <= 0.0).count();
        let returned = self.shares.drain(..fallen).sum();
        self.fewest += fallen as f64;
        self.going = self.shares.iter().sum();
        Ended { signalled, returned }
    }
}
