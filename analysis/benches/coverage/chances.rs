//! Probabilities of counts, and counts drawn from them.

use quietbeam_analysis::methods::counts::EventCount;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use statrs::distribution::{Binomial, Discrete};

/// Counts less likely than this are left out: they cannot change a printed digit.
const NEGLIGIBLE: f64 = 1e-15;

/// The counts of one group that can occur, with their probabilities.
pub(crate) struct Counts(Vec<(EventCount, f64)>);

impl Counts {
    pub(crate) fn of(total: u32, p: f64) -> Self {
        let binomial = Binomial::new(p, u64::from(total)).unwrap();
        let possible = (0..=total)
            .map(|events| (EventCount::new(events, total).unwrap(), binomial.pmf(u64::from(events))))
            .filter(|(_, chance)| *chance > NEGLIGIBLE)
            .collect();
        Self(possible)
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = (EventCount, f64)> + '_ {
        self.0.iter().copied()
    }

    /// One count, by inversion.
    pub(crate) fn draw(&self, chance: &mut Chance) -> EventCount {
        let mut rest = chance.uniform();
        for (count, p) in &self.0 {
            rest -= p;
            if rest < 0.0 {
                return *count;
            }
        }
        self.0[self.0.len() - 1].0
    }
}

/// Seeded chance: a stream of its own for every replicate, so that neither the order of the
/// rows nor the number of threads changes a draw.
pub(crate) struct Chance(ChaCha8Rng);

/// The seed of the study.
pub(crate) const SEED: u64 = 20_261_125;

impl Chance {
    pub(crate) fn of(setting: u64, replicate: u64) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(SEED ^ (setting << 32));
        generator.set_stream(replicate);
        Self(generator)
    }

    /// Uniform from 0 up to, not including, 1.
    pub(crate) fn uniform(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Standard normal.
    pub(crate) fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }
}
