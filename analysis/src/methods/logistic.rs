//! Logistic regression by maximum likelihood.

use nalgebra::{DMatrix, DVector};

use super::cluster_sums::ClusterSums;
use super::design::inverse;
use super::events_per_parameter::EventsPerParameter;
use super::interval::NotEstimable;
use super::lanes::{BLOCK, Lane};
use super::logistic_cases::LogisticCases;
use super::logistic_pass::{At, Pass};
use super::parts::over_parts_of;
use super::row_blocks::{RowBlock, Units, mirrored};
use super::separation::separating_column;

/// A fitted logistic regression. Coefficients stand in the order intercept, columns of the design.
#[derive(Clone, Debug, PartialEq)]
pub struct LogisticFit<'a> {
    pub(super) cases: LogisticCases<'a>,
    pub(super) units: Units,
    /// Coefficients on standardised columns.
    pub(super) standard: DVector<f64>,
    /// Inverse information on standardised columns.
    pub(super) bread: DMatrix<f64>,
    pub(super) probabilities: Vec<f64>,
    pub(super) log_likelihood: f64,
}

impl<'a> LogisticFit<'a> {
    /// Change of the log odds per unit of a column, after the intercept.
    pub fn coefficients(&self) -> Vec<f64> {
        self.units.coefficients(&self.standard)
    }

    /// The cases it was fitted to.
    pub fn cases(&self) -> LogisticCases<'a> {
        self.cases
    }

    /// Fitted probability of the event, one a case.
    pub fn probabilities(&self) -> &[f64] {
        &self.probabilities
    }

    /// Log-likelihood at the coefficients.
    pub fn log_likelihood(&self) -> f64 {
        self.log_likelihood
    }

    /// Cases of the rarer outcome against the columns.
    pub fn events_per_parameter(&self) -> EventsPerParameter {
        self.cases.events_per_parameter()
    }

    /// Inverse of the Fisher information of the coefficients: their covariance if the model holds
    /// and cases are independent.
    pub fn inverse_information(&self) -> DMatrix<f64> {
        self.units.covariance(&self.bread)
    }

    /// The first-order effect of each case on a quantity with this gradient by the coefficients
    /// (intercept first): (y − p) x' I⁻¹ gradient. Summed over all cases it is 0; the sum of the
    /// squares is the HC0 variance of the quantity, that of the sums of centres CR0.
    ///
    /// `None` when the gradient has not one entry a coefficient.
    pub fn influence_along(&self, gradient: &[f64]) -> Option<Vec<f64>> {
        (gradient.len() == self.units.terms())
            .then(|| self.influence(&(&self.bread * self.units.contrast(gradient))))
    }

    /// (y − p) × the standardised terms weighted by `direction`.
    pub(super) fn influence(&self, direction: &DVector<f64>) -> Vec<f64> {
        let mut block = RowBlock::of(self.cases.design, &self.units);
        let mut all = Vec::with_capacity(self.probabilities.len());
        for first in (0..self.cases.design.cases()).step_by(BLOCK) {
            block.read(first, 1);
            let along = block.combine(direction);
            all.extend((0..block.cases).map(|i| self.residual(first + i) * along[i]));
        }
        all
    }

    /// Outcome − fitted probability, of the block of cases that begins here.
    pub(super) fn residuals(&self, first: usize) -> Lane {
        residuals(&self.cases.events[first..], &self.probabilities[first..])
    }

    /// p(1 − p), of the block of cases that begins here.
    pub(super) fn weights(&self, first: usize) -> Lane {
        weights(&self.probabilities[first..])
    }

    /// Outcome − fitted probability.
    pub(super) fn residual(&self, case: usize) -> f64 {
        f64::from(u8::from(self.cases.events[case])) - self.probabilities[case]
    }
}

fn residuals(events: &[bool], probabilities: &[f64]) -> Lane {
    let mut residuals = Lane::ZERO;
    let both = events.iter().zip(probabilities);
    residuals
        .iter_mut()
        .zip(both)
        .for_each(|(residual, (event, p))| *residual = f64::from(u8::from(*event)) - p);
    residuals
}

fn weights(probabilities: &[f64]) -> Lane {
    let mut weights = Lane::ZERO;
    weights.iter_mut().zip(probabilities).for_each(|(weight, p)| *weight = p * (1.0 - p));
    weights
}

/// A maximum but for a last step, so small that the probabilities follow it as a parabola.
struct Summit<'a> {
    cases: LogisticCases<'a>,
    units: Units,
    standard: DVector<f64>,
    probabilities: Vec<f64>,
    log_likelihood: f64,
    step: DVector<f64>,
}

impl<'a> Summit<'a> {
    /// Takes the step. Sums that begin with `none` are told of every block with its first case and
    /// the probabilities of its cases.
    fn take_step<T: Send>(
        &mut self,
        none: impl Fn() -> T + Send + Sync,
        told: impl Fn(&mut T, &RowBlock<'_>, usize, &[f64]) + Send + Sync,
        add: impl Fn(T, T) -> T,
    ) -> T {
        self.standard += &self.step;
        let (design, units, step) = (self.cases.design, &self.units, &self.step);
        let part = |start: usize, probabilities: &mut [f64]| {
            let mut sums = none();
            let mut block = RowBlock::of(design, units);
            for (number, some) in probabilities.chunks_mut(BLOCK).enumerate() {
                let first = start + number * BLOCK;
                block.read(first, 1);
                for (p, change) in some.iter_mut().zip(block.combine(step).iter()) {
                    *p += *p * (1.0 - *p) * change * (1.0 + (0.5 - *p) * change);
                }
                told(&mut sums, &block, first, some);
            }
            sums
        };
        over_parts_of(&mut self.probabilities, part, add)
    }

    fn fit(self, information: &DMatrix<f64>) -> Result<LogisticFit<'a>, NotEstimable> {
        let Self { cases, units, standard, probabilities, log_likelihood, .. } = self;
        let bread = inverse(information)?;
        Ok(LogisticFit { cases, units, standard, bread, probabilities, log_likelihood })
    }

    fn reach(mut self) -> Result<LogisticFit<'a>, NotEstimable> {
        let terms = self.units.terms();
        let information = self.take_step(
            || DMatrix::zeros(terms, terms),
            |information, block, _, some| block.add_crossed(&weights(some), information),
            |one, other| one + other,
        );
        self.fit(&mirrored(information))
    }

    /// The same with the sums by cluster, in the same pass.
    fn reach_by(mut self, labels: &[u32]) -> Result<(LogisticFit<'a>, ClusterSums), NotEstimable> {
        let none = ClusterSums::by(labels, self.units.terms());
        let events = self.cases.events;
        let told = |sums: &mut ClusterSums, block: &RowBlock<'_>, first: usize, some: &[f64]| {
            sums.add_scores(block, first, &residuals(&events[first..], some));
            sums.add_informations(block, first, &weights(some));
        };
        let sums = self.take_step(|| none.clone(), told, ClusterSums::add).whole();
        Ok((self.fit(&sums.information())?, sums))
    }
}

/// Newton rounds; a finite maximum is reached in far fewer, a separated one never.
const ROUNDS: usize = 60;

/// Rounds after which a column that separates is looked for.
const SUSPICIOUS: usize = 12;

/// Cases of the sample that gives a start; it spares a large design half of its rounds.
const SAMPLE: usize = 64 * BLOCK;

/// Logistic regression, maximum likelihood.
///
/// Formula: maximises Σ y xβ − ln(1 + e^xβ), x with a leading 1, by Newton's method; a step that
/// lowers the likelihood is halved.
/// Units: log odds per unit of a column.
/// Edges: a constant or repeated column is refused, as are outcomes that are all equal; where a
/// column, or a combination, separates events from non-events, or so nearly that the maximum is
/// not met in 60 rounds, no finite estimate exists.
/// Source: [mccullagh_nelder1989].
/// Checked: tests/numbers/logistic.csv.
pub fn logistic_regression(cases: LogisticCases<'_>) -> Result<LogisticFit<'_>, NotEstimable> {
    let units = cases.units()?;
    let start = start(cases, &units);
    maximise(cases, units, start)?.reach()
}

/// The same with the sums by cluster, one label a case. It begins at coefficients near its own,
/// intercept first, where there are some, such as those of nearly the same cases: they decide how
/// soon the maximum is met, not where it lies.
pub(crate) fn logistic_regression_by_cluster<'a>(
    cases: LogisticCases<'a>,
    labels: &[u32],
    near: Option<&[f64]>,
) -> Result<(LogisticFit<'a>, ClusterSums), NotEstimable> {
    let units = cases.units()?;
    let start = near.map_or_else(|| start(cases, &units), |near| units.standard(near));
    maximise(cases, units, start)?.reach_by(labels)
}

/// Where to begin: at a sample where that spares rounds, and otherwise at 0.
fn start(cases: LogisticCases<'_>, units: &Units) -> DVector<f64> {
    let stride = cases.design.cases() / SAMPLE;
    let sampled = if stride < 4 { None } else { of_sample(cases, units, stride) };
    sampled.unwrap_or_else(|| DVector::zeros(units.terms()))
}

/// Coefficients of a sample of the cases, good to a digit or two.
fn of_sample(cases: LogisticCases<'_>, units: &Units, stride: usize) -> Option<DVector<f64>> {
    let mut ascent = Ascent { cases, units, stride, at: DVector::zeros(units.terms()) };
    let mut pass = ascent.start();
    for _ in 0..SUSPICIOUS {
        let step = inverse(&pass.information).ok()? * &pass.score;
        if units.furthest_move(&step) < 1e-3 {
            return Some(ascent.at);
        }
        pass = ascent.climb(step, pass, true);
    }
    None
}

fn maximise<'a>(
    cases: LogisticCases<'a>,
    units: Units,
    start: DVector<f64>,
) -> Result<Summit<'a>, NotEstimable> {
    let mut ascent = Ascent { cases, units: &units, stride: 1, at: start };
    let mut pass = ascent.start();
    let mut bread = inverse(&pass.information)?;
    // How far the coefficients went since they had this information.
    let mut since = 0.0;
    for round in 0..ROUNDS {
        let step = &bread * &pass.score;
        let (moved, gain) = (units.furthest_move(&step), step.dot(&pass.score));
        // The next step would be as long as this one times itself, or times what the information
        // is behind. Nearly collinear columns hold it above the rounding of the others; a separated
        // likelihood still moves a case by about one in every round.
        if moved * moved.max(since) < 1e-12 || (moved < 1e-5 && gain < 1e-20) {
            let (standard, probabilities) = (ascent.at, pass.probabilities);
            let log_likelihood = pass.log_likelihood + gain / 2.0;
            return Ok(Summit { cases, units, standard, probabilities, log_likelihood, step });
        }
        if round == SUSPICIOUS && separating_column(cases.design, cases.events).is_some() {
            break;
        }
        let anew = moved > 1e-4 || since > 0.0;
        pass = ascent.climb(step, pass, anew);
        since = if anew { 0.0 } else { moved };
        if anew {
            bread = inverse(&pass.information).map_err(|_| separated(cases))?;
        }
    }
    Err(separated(cases))
}

fn separated(cases: LogisticCases<'_>) -> NotEstimable {
    separating_column(cases.design, cases.events)
        .map_or(NotEstimable::Separated, |column| NotEstimable::SeparatedByColumn { column })
}

/// The way up the likelihood.
struct Ascent<'a> {
    cases: LogisticCases<'a>,
    units: &'a Units,
    stride: usize,
    at: DVector<f64>,
}

impl Ascent<'_> {
    fn start(&self) -> Pass {
        self.pass(&self.at, true, Vec::new())
    }

    fn pass(&self, coefficients: &DVector<f64>, informed: bool, room: Vec<f64>) -> Pass {
        let at = At { cases: self.cases, units: self.units, coefficients };
        if self.stride == 1 { at.pass(informed, room) } else { at.sample(self.stride) }
    }

    /// Takes the step, halved until the likelihood does not fall.
    fn climb(&mut self, mut step: DVector<f64>, last: Pass, informed: bool) -> Pass {
        let (from, mut room) = (last.log_likelihood, last.probabilities);
        let mut halvings = 0;
        loop {
            let tried = &self.at + &step;
            let pass = self.pass(&tried, informed, room);
            if pass.log_likelihood >= from - 1e-10 * (1.0 + from.abs()) || halvings == 40 {
                self.at = tried;
                return pass;
            }
            step /= 2.0;
            halvings += 1;
            room = pass.probabilities;
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::clustered::ClusteredFit;
    use super::super::design::Design;
    use super::*;

    fn cases(separated: bool) -> (Design, Vec<bool>) {
        let column = |step: usize| (0..600).map(|case| ((case * step) % 97) as f64 / 10.0).collect();
        let columns: [Vec<f64>; 2] = [column(31), column(53)];
        let event = |case: usize| columns[0][case] > 4.0 || !separated && case.is_multiple_of(3);
        let events = (0..600).map(event).collect();
        (Design::new(600, &columns).unwrap(), events)
    }

    /// A law: the likelihood has one maximum.
    #[test]
    fn a_start_decides_how_soon_the_maximum_is_met_and_not_where_it_lies() {
        let (design, events) = cases(false);
        let cases = LogisticCases::new(&design, &events).unwrap();
        let labels: Vec<u32> = (0..600).map(|case| case / 150).collect();
        let plain = logistic_regression(cases).unwrap();
        let own = plain.coefficients();
        for apart in [0.0, 1e-5, 1e-3, 0.3, -2.0] {
            let near: Vec<f64> = own.iter().map(|coefficient| coefficient + apart).collect();
            let (found, sums) = logistic_regression_by_cluster(cases, &labels, Some(&near)).unwrap();
            assert_eq!(sums, ClusteredFit::new(&found, &labels).unwrap().sums());
            for (one, other) in found.coefficients().iter().zip(&own) {
                assert!((one - other).abs() < 1e-11, "{apart}: {one} {other}");
            }
            let both = (found.inverse_information(), plain.inverse_information());
            assert!((both.0 - both.1).abs().max() < 1e-11, "{apart}");
        }
    }

    #[test]
    fn no_start_makes_a_separated_maximum_finite() {
        let (design, events) = cases(true);
        let cases = LogisticCases::new(&design, &events).unwrap();
        for near in [[0.0, 0.0, 0.0], [-8.0, 2.0, 0.0]] {
            let found = logistic_regression_by_cluster(cases, &[0; 600], Some(&near)).err();
            assert_eq!(found, Some(NotEstimable::SeparatedByColumn { column: 1 }));
        }
    }
}
