//! Cox regression with Efron's treatment of tied days.

use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

use super::association::ChiSquareTest;
use super::cox_pass::{Pass, RiskOrder};
use super::design::{Design, inverse};
use super::follow_up::{Curve, Ended, FollowUp};
use super::interval::{Confidence, IntervalMethod, NotEstimable, Ratio, RatioInterval};

/// Why some vectors are not the cases of one regression.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{found} values for {cases} cases")]
pub struct CoxCasesError {
    /// Length given.
    pub found: usize,
    /// Cases of the design.
    pub cases: usize,
}

/// Cases of one regression, all vectors of one length.
#[derive(Clone, Copy, Debug)]
pub struct CoxCases<'a> {
    pub(super) follow_up: &'a [FollowUp],
    pub(super) design: &'a Design,
    pub(super) strata: &'a [u32],
    pub(super) centres: &'a [u32],
}

impl<'a> CoxCases<'a> {
    /// `strata` have baseline risks of their own (all equal: one baseline); `centres` are the
    /// clusters of the robust variance.
    ///
    /// # Errors
    /// A vector of another length than the design.
    pub fn new(
        follow_up: &'a [FollowUp],
        design: &'a Design,
        strata: &'a [u32],
        centres: &'a [u32],
    ) -> Result<Self, CoxCasesError> {
        let cases = design.cases();
        for found in [follow_up.len(), strata.len(), centres.len()] {
            if found != cases {
                return Err(CoxCasesError { found, cases });
            }
        }
        Ok(Self { follow_up, design, strata, centres })
    }
}

/// One coefficient.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CoxCoefficient {
    /// Natural logarithm of the hazard ratio for one unit of the covariate.
    pub log_hazard_ratio: f64,
    /// Standard error if the model holds and cases are independent.
    pub model_standard_error: f64,
    /// Standard error that allows for cases of one centre resembling each other (CR0).
    pub centre_standard_error: f64,
    /// Test that the hazard ratio does not change over time.
    pub proportionality: ChiSquareTest,
}

impl CoxCoefficient {
    /// Hazard ratio with limits by the centre-robust standard error.
    ///
    /// # Errors
    /// A ratio beyond the range of numbers, as for one unit of a covariate that never varies by so
    /// much.
    pub fn hazard_ratio(&self, level: Confidence) -> Result<RatioInterval, NotEstimable> {
        let limit = |z: f64| (self.log_hazard_ratio + z * self.centre_standard_error).exp();
        let (estimate, lower, upper) = (self.log_hazard_ratio.exp(), limit(-level.z()), limit(level.z()));
        if !(estimate.is_finite() && lower.is_finite()) {
            return Err(NotEstimable::LimitsTooWide);
        }
        Ok(RatioInterval {
            estimate: Some(Ratio::Finite(estimate)),
            lower,
            upper: if upper.is_finite() { Ratio::Finite(upper) } else { Ratio::Unbounded },
            level,
            method: IntervalMethod::CoxCentreRobust,
        })
    }
}

/// A fitted Cox regression.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CoxFit {
    /// One entry a column of the design.
    pub coefficients: Vec<CoxCoefficient>,
    /// Partial log-likelihood without covariates.
    pub log_likelihood_null: f64,
    /// Partial log-likelihood of the fit.
    pub log_likelihood: f64,
    /// Score statistic of no effect of any covariate.
    pub score_statistic: f64,
    /// Wald statistic of the same, by the model variance.
    pub wald_statistic: f64,
    /// Number of centres; with few of them the robust standard error is too small.
    pub centres: usize,
}

/// Newton rounds; a finite maximum is reached in far fewer.
const ROUNDS: usize = 60;

/// Cox regression, Efron's method for tied days, centre-robust variance.
///
/// Formula: maximises Σ events xβ − Σ over tied events number l of d ln(Σ risk set e^xβ −
/// (l/d) Σ tied e^xβ); robust variance A⁻¹(Σ centre UUᵀ)A⁻¹, U summed score residuals.
/// Units: log hazard ratio per unit of the covariate; time in whole days.
/// Edges: collinear columns, no events, or a covariate that separates early from late events
/// are refused; robust errors (CR0) are too small with fewer than some thirty centres.
/// Source: [cox1972], [efron1977], [lin_wei1989], [grambsch_therneau1994].
/// Checked: tests/numbers/cox.csv.
pub fn cox_regression(cases: CoxCases<'_>) -> Result<CoxFit, NotEstimable> {
    if cases.follow_up.iter().all(|case| case.ended == Ended::Censored) {
        return Err(NotEstimable::NoVariation);
    }
    let order = RiskOrder::of(cases);
    let null = order.pass(&DVector::zeros(cases.design.columns()), |_| 0.0);
    let start = inverse(&null.information)?;
    let score_statistic = (null.score.transpose() * &start * &null.score)[(0, 0)];
    let (beta, pass) = maximise(&order, null.log_likelihood)?;
    let variance = inverse(&pass.information)?;
    let meat = order.centre_meat(&beta, cases.centres);
    let robust = &variance * meat.sums * &variance;
    let timed = proportionality(&order, cases.follow_up, &beta)?;
    let coefficient = |j: usize| CoxCoefficient {
        log_hazard_ratio: beta[j],
        model_standard_error: variance[(j, j)].sqrt(),
        centre_standard_error: robust[(j, j)].max(0.0).sqrt(),
        proportionality: timed[j],
    };
    Ok(CoxFit {
        coefficients: (0..beta.len()).map(coefficient).collect(),
        log_likelihood_null: null.log_likelihood,
        log_likelihood: pass.log_likelihood,
        score_statistic,
        wald_statistic: (beta.transpose() * &pass.information * &beta)[(0, 0)],
        centres: meat.centres,
    })
}

fn maximise(order: &RiskOrder, start: f64) -> Result<(DVector<f64>, Pass), NotEstimable> {
    let mut beta = DVector::zeros(order.columns());
    let mut best = start;
    let spread = order.spread();
    for _ in 0..ROUNDS {
        let pass = order.pass(&beta, |_| 0.0);
        let mut step = inverse(&pass.information).map_err(|_| NotEstimable::Separated)? * &pass.score;
        let size = step.iter().zip(&spread).map(|(s, unit)| (s * unit).abs()).fold(0.0, f64::max);
        if size < 1e-10 {
            return Ok((beta, pass));
        }
        // A step too far lowers the likelihood: halve it, at most to nothing.
        for _ in 0..30 {
            let tried = order.pass(&(&beta + &step), |_| 0.0).log_likelihood;
            if tried.is_finite() && tried >= best - 1e-9 * best.abs() {
                best = tried;
                break;
            }
            step /= 2.0;
        }
        beta += step;
    }
    Err(NotEstimable::Separated)
}

/// Score test of each covariate times the share of events so far (the Kaplan–Meier scale).
fn proportionality(
    order: &RiskOrder,
    follow_up: &[FollowUp],
    beta: &DVector<f64>,
) -> Result<Vec<ChiSquareTest>, NotEstimable> {
    let curve = Curve::of(follow_up)?;
    let share_before = |day: u32| {
        let earlier = curve.event_days().partition_point(|step| step.day < day);
        earlier.checked_sub(1).map_or(0.0, |last| 1.0 - curve.event_days()[last].survival)
    };
    let pass = order.pass(beta, share_before);
    let plain = inverse(&pass.information)?;
    let test = |j: usize| {
        let crossed: DVector<f64> = pass.timed_information.column(j).into_owned();
        let explained = (crossed.transpose() * &plain * &crossed)[(0, 0)];
        let variance = pass.timed_squared_information[(j, j)] - explained;
        if variance <= 1e-12 * pass.timed_squared_information[(j, j)] {
            return Err(NotEstimable::NoVariation);
        }
        Ok(ChiSquareTest::new(pass.timed_score[j].powi(2) / variance, 1.0))
    };
    (0..beta.len()).map(test).collect()
}

/// Sum of the outer products of the score residuals of each centre.
pub(super) struct Meat {
    pub(super) sums: DMatrix<f64>,
    pub(super) centres: usize,
}
