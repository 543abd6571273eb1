//! What the estimators said of many networks, counted and written down.

use super::{Answer, Line};
use std::fmt::Write;

/// What one estimator said of many networks.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Tally {
    /// Networks as they were built for which it gave an interval.
    given: u32,
    /// Those among them whose truth the interval held.
    covered: u32,
    /// Networks as they were built.
    all: u32,
    /// Estimate less truth, summed, and its squares.
    error: f64,
    squares: f64,
    /// Networks with the truth at the margin, and those in which the margin was excluded.
    edge: u32,
    shown: u32,
}

/// The table.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Recovery {
    networks: u32,
    lines: Vec<(Line, Tally)>,
}

impl Recovery {
    /// Adds what was said of one network. The order in which networks are added decides the last
    /// digit, so it must not hang on threads.
    pub fn add(&mut self, trial: &[Answer]) {
        self.networks += 1;
        for answer in trial {
            let place = self.lines.iter().position(|(line, _)| *line == answer.line);
            let place = place.unwrap_or_else(|| {
                self.lines.push((answer.line, Tally::default()));
                self.lines.len() - 1
            });
            self.lines[place].1.count(answer);
        }
    }

    /// The lines as a table in Markdown, with the error of the simulation beside each number.
    pub fn rows(&self) -> String {
        let mut text = String::from(
            "| outcome | complexity | estimator | bias, points | covered, % | at the margin: wrongly shown, % | no interval, % |\n|---|---|---|---:|---:|---:|---:|\n",
        );
        for (line, tally) in &self.lines {
            let visibility = line.visibility.map_or("not used", super::Visibility::label);
            let (outcome, estimator) = (line.outcome.label(), line.estimator.label());
            // Writing into a string never fails.
            let _ = writeln!(
                text,
                "| {outcome} | {visibility} | {estimator} | {} | {} | {} | {:.1} |",
                tally.bias(),
                share(tally.covered, tally.given),
                share(tally.shown, tally.edge),
                100.0 * f64::from(tally.all - tally.given) / f64::from(tally.all.max(1)),
            );
        }
        text
    }

    /// How many networks were added.
    pub fn networks(&self) -> u32 {
        self.networks
    }
}

impl Tally {
    fn count(&mut self, answer: &Answer) {
        if answer.at_the_margin {
            let margin = answer.line.outcome.margin();
            let shown = |margin| {
                use crate::methods::non_inferiority::{Conclusion, decide};
                decide(&answer.said, margin) == Conclusion::Shown
            };
            self.edge += 1;
            self.shown += u32::from(margin.is_some_and(shown));
            return;
        }
        self.all += 1;
        if let Ok(interval) = &answer.said {
            let error = interval.estimate - answer.truth;
            self.given += 1;
            self.covered += u32::from(interval.lower <= answer.truth && answer.truth <= interval.upper);
            self.error += error;
            self.squares += error * error;
        }
    }

    /// In percentage points.
    fn bias(&self) -> String {
        if self.given == 0 {
            return "–".to_owned();
        }
        let given = f64::from(self.given);
        let mean = self.error / given;
        let spread = (self.squares / given - mean * mean).max(0.0).sqrt();
        format!("{:+.2} ± {:.2}", 100.0 * mean, 100.0 * spread / given.sqrt())
    }
}

/// Per cent with its Monte Carlo standard error.
fn share(part: u32, of: u32) -> String {
    if of == 0 {
        return "–".to_owned();
    }
    let share = f64::from(part) / f64::from(of);
    format!("{:.1} ± {:.1}", 100.0 * share, 100.0 * (share * (1.0 - share) / f64::from(of)).sqrt())
}
