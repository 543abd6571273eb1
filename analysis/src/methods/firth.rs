//! Logistic regression with Firth's penalty: finite where the likelihood alone has no maximum.

use nalgebra::{DMatrix, DVector};

use super::coefficient_variance::{CoefficientVariance, Parts};
use super::design::inverse;
use super::events_per_parameter::EventsPerParameter;
use super::interval::{IntervalMethod, NotEstimable};
use super::lanes::{BLOCK, Lane};
use super::logistic::LogisticFit;
use super::logistic_cases::LogisticCases;
use super::logistic_pass::{At, Pass};
use super::row_blocks::{RowBlock, Units, mirrored};

/// A regression fitted with Firth's penalty.
#[derive(Clone, Debug, PartialEq)]
pub struct FirthFit<'a> {
    fit: LogisticFit<'a>,
    penalised_log_likelihood: f64,
}

impl<'a> FirthFit<'a> {
    /// Change of the log odds per unit of a column, after the intercept.
    pub fn coefficients(&self) -> Vec<f64> {
        self.fit.coefficients()
    }

    /// Fitted probability of the event, one a case. Their mean lies nearer to one half than the
    /// share of events: the penalty pulls the intercept too.
    pub fn probabilities(&self) -> &[f64] {
        self.fit.probabilities()
    }

    /// Log-likelihood + half the logarithm of the determinant of the information, where columns
    /// have mean 0 and standard deviation 1.
    pub fn penalised_log_likelihood(&self) -> f64 {
        self.penalised_log_likelihood
    }

    /// Cases of the rarer outcome against the columns.
    pub fn events_per_parameter(&self) -> EventsPerParameter {
        self.fit.events_per_parameter()
    }

    /// Inverse information at the penalised estimate; standardisation takes it as any other.
    pub fn variance(&self) -> CoefficientVariance<'_> {
        let (fit, standard) = (&self.fit, self.fit.bread.clone());
        CoefficientVariance { fit, method: IntervalMethod::WaldFirth, standard, parts: Parts::Model }
    }
}

/// Rounds of scoring; each gains a digit or more on all but tiny designs.
const ROUNDS: usize = 500;

/// Logistic regression, Firth's penalised likelihood.
///
/// Formula: maximises the log-likelihood + ½ ln det(X'WX), whose score is
/// Σ (y − p + h(½ − p))x, h the diagonal of the hat matrix; standard errors from (X'WX)⁻¹ there.
/// Units: log odds per unit of a column.
/// Edges: finite under separation and with outcomes that are all equal; a constant or repeated
/// column is refused.
/// Source: [firth1993], [heinze_schemper2002].
/// Checked: tests/numbers/logistic.csv.
pub fn firth_regression(cases: LogisticCases<'_>) -> Result<FirthFit<'_>, NotEstimable> {
    let units = Units::of(cases.design)?;
    let mut at = Place::new(cases, &units, DVector::zeros(units.terms())).ok_or(NotEstimable::Collinear)?;
    for _ in 0..ROUNDS {
        let step = at.step(cases, &units)?;
        let moved = units.furthest_move(&step);
        if moved < 1e-10 {
            let Place { coefficients: standard, pass, bread, penalised: penalised_log_likelihood, .. } = at;
            let Pass { log_likelihood, probabilities, .. } = pass;
            let fit = LogisticFit { cases, units, standard, bread, probabilities, log_likelihood };
            return Ok(FirthFit { fit, penalised_log_likelihood });
        }
        // A long step is shortened: the penalty is only locally a parabola.
        at = at.climb(cases, &units, step / (moved / 5.0).max(1.0));
    }
    Err(NotEstimable::NotConverged { rounds: ROUNDS })
}

/// Coefficients with everything known there.
struct Place {
    coefficients: DVector<f64>,
    pass: Pass,
    bread: DMatrix<f64>,
    /// Lower root of the inverse information.
    root: DMatrix<f64>,
    penalised: f64,
}

impl Place {
    /// `None` where the information cannot be inverted.
    fn new(cases: LogisticCases<'_>, units: &Units, coefficients: DVector<f64>) -> Option<Self> {
        let pass = At { cases, units, coefficients: &coefficients }.pass(true, Vec::new());
        let bread = inverse(&pass.information).ok()?;
        let root = bread.clone().cholesky()?.unpack();
        let half_log_determinant: f64 = root.diagonal().iter().map(|v| libm::log(*v)).sum();
        let penalised = pass.log_likelihood - half_log_determinant;
        Some(Self { coefficients, pass, bread, root, penalised })
    }

    /// Takes the step, halved until the penalised likelihood does not fall.
    fn climb(self, cases: LogisticCases<'_>, units: &Units, mut step: DVector<f64>) -> Self {
        let least = self.penalised - 1e-10 * (1.0 + self.penalised.abs());
        for _ in 0..40 {
            let tried = Self::new(cases, units, &self.coefficients + &step);
            if let Some(place) = tried.filter(|place| place.penalised >= least) {
                return place;
            }
            step /= 2.0;
        }
        self
    }

    /// The penalty is that of h/2 further cases with and h/2 without the event beside each case:
    /// the Newton step of those cases, h held.
    fn step(&self, cases: LogisticCases<'_>, units: &Units) -> Result<DVector<f64>, NotEstimable> {
        let (mut score, mut information) = (self.pass.score.clone(), self.pass.information.clone());
        let mut block = RowBlock::of(cases.design, units);
        for (number, some) in self.pass.probabilities.chunks(BLOCK).enumerate() {
            block.read(number * BLOCK, 1);
            let (mut weights, mut pulls) = (Lane::ZERO, Lane::ZERO);
            for column in self.root.column_iter() {
                for (pull, along) in pulls.iter_mut().zip(block.combine(&column.into_owned()).iter()) {
                    *pull += along * along;
                }
            }
            for (case, p) in some.iter().enumerate() {
                let variance = p * (1.0 - p);
                let leverage = variance * pulls[case];
                weights[case] = variance * leverage;
                pulls[case] = leverage * (0.5 - p);
            }
            pulls[some.len()..].fill(0.0);
            block.add_weighted(&pulls, &mut score);
            block.add_crossed(&weights, &mut information);
        }
        Ok(inverse(&mirrored(information))? * score)
    }
}
