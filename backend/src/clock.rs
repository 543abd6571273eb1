//! The only place that reads the wall clock or asks for random bytes. Everything else is
//! handed both, so that a test or the demo can fix them.

use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{SystemTime, UNIX_EPOCH};

use quietbeam_schema::instant::Instant;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha20Rng;

/// Tells the time of the server.
#[derive(Clone)]
pub struct Clock(TimeSource);

#[derive(Clone)]
enum TimeSource {
    System,
    Hand(Arc<AtomicI64>),
}

/// Moves a clock that was made to be moved by hand.
#[derive(Clone)]
pub struct Hand(Arc<AtomicI64>);

impl Clock {
    /// The wall clock.
    pub fn system() -> Self {
        Self(TimeSource::System)
    }

    /// A clock that stands still.
    pub fn fixed(at: Instant) -> Self {
        Self::by_hand(at).0
    }

    /// A clock that moves only when its hand is moved.
    pub fn by_hand(start: Instant) -> (Self, Hand) {
        let time = Arc::new(AtomicI64::new(start.unix_milliseconds()));
        (Self(TimeSource::Hand(Arc::clone(&time))), Hand(time))
    }

    /// The present moment.
    #[allow(clippy::disallowed_methods, reason = "this is the one place")]
    pub fn now(&self) -> Instant {
        Instant::from_unix_milliseconds(match &self.0 {
            TimeSource::System => SystemTime::now()
                .duration_since(UNIX_EPOCH)
                .map_or(0, |since| i64::try_from(since.as_millis()).unwrap_or(i64::MAX)),
            TimeSource::Hand(time) => time.load(Ordering::SeqCst),
        })
    }
}

impl Hand {
    /// Moves the clock by some seconds, backwards when negative.
    pub fn advance(&self, seconds: i64) {
        self.0.fetch_add(seconds * 1000, Ordering::SeqCst);
    }
}

/// Gives random bytes.
#[derive(Clone)]
pub struct Randomness(ByteSource);

#[derive(Clone)]
enum ByteSource {
    System,
    Seeded(Arc<Mutex<ChaCha20Rng>>),
}

/// The operating system gave no random bytes.
#[derive(Debug, thiserror::Error)]
#[error("the operating system gave no random bytes")]
pub struct NoRandomness;

impl Randomness {
    /// The operating system's generator: the only one fit for secrets.
    pub fn system() -> Self {
        Self(ByteSource::System)
    }

    /// The same bytes for the same seed, for the demo and for tests.
    pub fn seeded(seed: u64) -> Self {
        Self(ByteSource::Seeded(Arc::new(Mutex::new(ChaCha20Rng::seed_from_u64(seed)))))
    }

    /// The next random bytes.
    pub fn bytes<const N: usize>(&self) -> Result<[u8; N], NoRandomness> {
        let mut bytes = [0; N];
        match &self.0 {
            ByteSource::System => getrandom::fill(&mut bytes).map_err(|_| NoRandomness)?,
            ByteSource::Seeded(generator) => {
                generator.lock().unwrap_or_else(PoisonError::into_inner).fill_bytes(&mut bytes);
            }
        }
        Ok(bytes)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn a_clock_by_hand_moves_only_by_hand() {
        let start = Instant::from_unix_milliseconds(1_000_000);
        let (clock, hand) = Clock::by_hand(start);
        assert_eq!(clock.now(), start);
        hand.advance(-2);
        assert_eq!(clock.now(), start.plus_seconds(-2));
    }

    #[test]
    fn a_seed_gives_the_same_bytes_and_the_system_does_not() {
        let draw = |source: Randomness| source.bytes::<16>().unwrap();
        assert_eq!(draw(Randomness::seeded(7)), draw(Randomness::seeded(7)));
        assert_ne!(draw(Randomness::seeded(7)), draw(Randomness::seeded(8)));
        assert_ne!(draw(Randomness::system()), draw(Randomness::system()));
    }
}
