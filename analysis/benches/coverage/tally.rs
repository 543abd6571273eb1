//! Counting what became of one method.

use quietbeam_analysis::methods::interval::{Interval, NotEstimable};
use quietbeam_analysis::methods::non_inferiority::{Conclusion, Margin, decide};

/// Shares of the tables, weighted with their probability or counted one by one.
#[derive(Clone, Copy, Default)]
pub(crate) struct Tally {
    all: f64,
    covered: f64,
    shown: f64,
    missing: f64,
}

impl Tally {
    /// An interval that is not given shows nothing.
    pub(crate) fn interval(
        &mut self,
        weight: f64,
        interval: &Result<Interval, NotEstimable>,
        truth: f64,
        margin: Margin,
    ) {
        self.all += weight;
        match interval {
            Ok(interval) if interval.lower <= truth && truth <= interval.upper => self.covered += weight,
            Ok(_) => {}
            Err(_) => self.missing += weight,
        }
        if decide(interval, margin) == Conclusion::Shown {
            self.shown += weight;
        }
    }

    /// The tables of both.
    pub(crate) fn add(&mut self, other: Self) {
        self.all += other.all;
        self.covered += other.covered;
        self.shown += other.shown;
        self.missing += other.missing;
    }

    /// A test without an interval.
    pub(crate) fn test(&mut self, weight: f64, shown: bool) {
        self.all += weight;
        self.covered = f64::NAN;
        if shown {
            self.shown += weight;
        }
    }

    pub(crate) fn covered(&self) -> Share {
        let given = self.all - self.missing;
        Share { share: self.covered / given, of: given }
    }

    pub(crate) fn shown(&self) -> Share {
        Share { share: self.shown / self.all, of: self.all }
    }

    pub(crate) fn missing(&self) -> Share {
        Share { share: self.missing / self.all, of: self.all }
    }
}

/// A share of all tables.
#[derive(Clone, Copy)]
pub(crate) struct Share {
    share: f64,
    of: f64,
}

impl Share {
    /// Per cent from an enumeration, exact to the digits printed.
    pub(crate) fn exact(self) -> String {
        if self.share.is_nan() { "–".to_owned() } else { format!("{:.2}", 100.0 * self.share) }
    }

    /// Per cent from a simulation with its Monte Carlo standard error.
    pub(crate) fn simulated(self) -> String {
        let error = (self.share * (1.0 - self.share) / self.of).sqrt();
        format!("{:.2} ± {:.2}", 100.0 * self.share, 100.0 * error)
    }
}
