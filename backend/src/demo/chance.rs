//! Seeded chance. The stream cipher, the normal variates and the elementary
//! functions are all computed in Rust, so that any machine draws the same.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// A stream of chance, fixed by its seed and its number.
pub(super) struct Chance(ChaCha8Rng);

impl Chance {
    /// The stream `number` of a seed; streams do not disturb each other.
    pub(super) fn new(seed: u64, number: u64) -> Self {
        let mut key = [0; 32];
        key[..8].copy_from_slice(&seed.to_le_bytes());
        let mut generator = ChaCha8Rng::from_seed(key);
        generator.set_stream(number);
        Self(generator)
    }

    /// Uniform from 0 up to, not including, 1.
    pub(super) fn uniform(&mut self) -> f64 {
        // The 53 highest bits: every value is exact in a double.
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// True with this probability.
    pub(super) fn happens(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    /// Standard normal.
    pub(super) fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    /// Log-normal with this median and standard deviation of the logarithm.
    pub(super) fn log_normal(&mut self, median: f64, log_sd: f64) -> f64 {
        median * libm::exp(log_sd * self.normal())
    }

    /// A whole number from `low` to `high`, both included.
    pub(super) fn between(&mut self, low: i64, high: i64) -> i64 {
        low + (self.uniform() * (high - low + 1) as f64) as i64
    }

    /// One of the items, with probability in proportion to its weight.
    pub(super) fn one_of<T: Copy>(&mut self, items: &[(T, f64)]) -> T {
        let total: f64 = items.iter().map(|(_, weight)| weight).sum();
        let mut rest = self.uniform() * total;
        for (item, weight) in items {
            rest -= weight;
            if rest < 0.0 {
                return *item;
            }
        }
        items[items.len() - 1].0
    }
}

/// The log odds of a probability strictly between 0 and 1.
pub(super) fn log_odds(probability: f64) -> f64 {
    libm::log(probability / (1.0 - probability))
}

/// The probability of log odds.
pub(super) fn probability(log_odds: f64) -> f64 {
    1.0 / (1.0 + libm::exp(-log_odds))
}
