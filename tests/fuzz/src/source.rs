//! Valid input with a liking for extremes.

use arbitrary::Unstructured;
use quietbeam_analysis::methods::counts::{EventCount, Stratum, TwoArms};
use quietbeam_analysis::methods::follow_up::{Ended, FollowUp};
use quietbeam_analysis::methods::interval::Confidence;
use quietbeam_analysis::methods::non_inferiority::{Margin, MarginSize};
use quietbeam_analysis::methods::null_test::{NullDifference, NullRatio};
use quietbeam_analysis::methods::sample::Sample;

/// Bytes, read as numbers; past their end everything is 0.
pub struct Source<'a>(Unstructured<'a>);

impl<'a> Source<'a> {
    pub fn new(bytes: &'a [u8]) -> Self {
        Self(Unstructured::new(bytes))
    }

    pub fn byte(&mut self) -> u8 {
        self.0.arbitrary().unwrap_or_default()
    }

    pub fn yes(&mut self) -> bool {
        self.byte() & 1 == 1
    }

    /// A whole number from `low` to `high`, both included.
    pub fn whole(&mut self, low: u32, high: u32) -> u32 {
        self.0.int_in_range(low..=high).unwrap_or(low)
    }

    /// From 1 to `most`, every order of magnitude alike.
    pub fn size(&mut self, most: u32) -> u32 {
        let any: u32 = self.0.arbitrary().unwrap_or_default();
        (any >> self.whole(0, 31)).clamp(1, most)
    }

    /// Between 0 and 1, both included, often beside an end.
    pub fn share(&mut self) -> f64 {
        let any: u64 = self.0.arbitrary().unwrap_or_default();
        let even = any as f64 / u64::MAX as f64;
        match self.byte() % 8 {
            0 => even.powi(20),
            1 => 1.0 - even.powi(20),
            2 => 0.0,
            3 => 1.0,
            _ => even,
        }
    }

    /// Any double at all.
    pub fn any(&mut self) -> f64 {
        f64::from_bits(self.0.arbitrary().unwrap_or_default())
    }

    /// A value that a sample may hold, often tied with others.
    pub fn value(&mut self) -> f64 {
        match self.byte() % 4 {
            0 => self.any(),
            1 => self.share() * 1e3,
            _ => f64::from(self.byte()),
        }
    }

    pub fn text(&mut self) -> String {
        let length = usize::from(self.byte() % 12);
        let bytes = self.0.bytes(length.min(self.0.len())).unwrap_or_default();
        String::from_utf8_lossy(bytes).into_owned()
    }

    pub fn level(&mut self) -> Confidence {
        let level = match self.byte() % 6 {
            0 => 0.5,
            1 => 0.999,
            2 => 1.0 - f64::EPSILON / 2.0,
            3 => 0.5 + 0.49 * self.share(),
            _ => 0.95,
        };
        Confidence::new(level).unwrap_or(Confidence::NINETY_FIVE)
    }

    pub fn count(&mut self, most: u32) -> EventCount {
        let total = self.size(most);
        let events = match self.byte() % 4 {
            0 => 0,
            1 => total,
            2 => self.size(most).min(total),
            _ => self.whole(0, total),
        };
        EventCount::new(events, total).unwrap()
    }

    pub fn arms(&mut self, most: u32) -> TwoArms {
        TwoArms { first: self.count(most), second: self.count(most) }
    }

    pub fn strata(&mut self, most: u32) -> Vec<Stratum> {
        let stratum = |source: &mut Self| {
            let mut arm = || (source.byte() % 8 > 0).then(|| source.count(most));
            Stratum { first: arm(), second: arm() }
        };
        (0..self.whole(0, 12)).map(|_| stratum(self)).collect()
    }

    pub fn margin(&mut self) -> Margin {
        let size = MarginSize::new(self.share().clamp(1e-300, 1.0 - 1e-16)).unwrap();
        if self.yes() { Margin::Harm(size) } else { Margin::Benefit(size) }
    }

    pub fn null_difference(&mut self) -> NullDifference {
        NullDifference::new((2.0 * self.share() - 1.0) * (1.0 - 1e-16)).unwrap()
    }

    pub fn null_ratio(&mut self) -> NullRatio {
        NullRatio::new(10_f64.powf(12.0 * self.share() - 6.0).clamp(1e-6, 1e6)).unwrap()
    }

    /// Values a sample accepts, up to `most` of them.
    pub fn sample(&mut self, most: u32) -> Option<Sample> {
        let values = (0..self.whole(1, most)).map(|_| self.value()).collect();
        Sample::new(values).ok()
    }

    pub fn follow_up(&mut self, most: u32) -> Vec<FollowUp> {
        let case = |source: &mut Self| FollowUp {
            days: if source.byte() % 8 == 0 { source.size(u32::MAX) } else { source.whole(0, 30) },
            ended: if source.yes() { Ended::Event } else { Ended::Censored },
        };
        (0..self.whole(0, most)).map(|_| case(self)).collect()
    }
}
