//! Marginal standardisation: what the outcomes would be if every case had been treated in the
//! first arm, against the second.

use std::convert::Infallible;

use nalgebra::{DVector, Vector2};
use serde::{Deserialize, Serialize};

use super::coefficient_variance::{ClusterParts, CoefficientVariance, Correction};
use super::interval::{Confidence, Interval, NotEstimable, RatioInterval};
use super::logistic::LogisticFit;
use super::standardisation_pass::{Averages, Own};
use super::wald::WaldEstimate;

/// Why a column is not the treatment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TreatmentError {
    /// The design has no such column.
    #[error("the design has {columns} columns, none of them number {column}")]
    NoSuchColumn {
        /// Column asked for, from 1.
        column: usize,
        /// Columns of the design.
        columns: usize,
    },
    /// A value that is neither the first (1) nor the second arm (0).
    #[error("column {column}, case {case}: the treatment is 1 for the first arm and 0 for the second")]
    NotAnArm {
        /// Column, from 1.
        column: usize,
        /// Case, from 1.
        case: usize,
    },
}

/// Risks of all cases in each arm and how they follow the coefficients.
#[derive(Clone, Debug, PartialEq)]
pub struct Standardised<'v, 'f> {
    variance: &'v CoefficientVariance<'f>,
    risks: [f64; 2],
    /// Of each risk, by the standardised coefficients.
    gradients: [DVector<f64>; 2],
    own: Own<'v>,
}

/// Marginal effects, first arm against second.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct StandardisedEffects {
    /// Risk in the first arm.
    pub first_risk: WaldEstimate,
    /// Risk in the second arm.
    pub second_risk: WaldEstimate,
    /// Risk in the first − risk in the second.
    pub difference: WaldEstimate,
    /// Natural logarithm of the risk ratio.
    pub log_ratio: WaldEstimate,
    /// Natural logarithm of the marginal odds ratio.
    pub log_odds_ratio: WaldEstimate,
    /// Number of clusters, where the variance has any.
    pub clusters: Option<usize>,
}

impl StandardisedEffects {
    /// The risk difference.
    pub fn difference_interval(&self, level: Confidence) -> Result<Interval, NotEstimable> {
        self.difference.interval(level)
    }

    /// The risk ratio, with limits from its logarithm.
    pub fn ratio_interval(&self, level: Confidence) -> Result<RatioInterval, NotEstimable> {
        self.log_ratio.ratio_interval(level)
    }

    /// The marginal odds ratio, with limits from its logarithm.
    pub fn odds_ratio_interval(&self, level: Confidence) -> Result<RatioInterval, NotEstimable> {
        self.log_odds_ratio.ratio_interval(level)
    }
}

/// Standardises the fit of `variance` to all its cases; `treatment` is the column, from 1, that is
/// 1 in the first arm and 0 in the second. No other column may follow from the treatment.
///
/// # Errors
/// No such column, or values other than 1 and 0.
pub fn standardise<'v, 'f>(
    variance: &'v CoefficientVariance<'f>,
    treatment: usize,
) -> Result<Standardised<'v, 'f>, TreatmentError> {
    let [Ok(standardised)] = standardise_each(variance.fit, [Ok::<_, Infallible>(variance)], treatment)?;
    Ok(standardised)
}

/// The same for several variances of one fit, those that there are, in one pass over its cases.
///
/// # Errors
/// As there.
pub(crate) fn standardise_each<'v, 'f, E: Copy, const MANY: usize>(
    fit: &LogisticFit<'_>,
    variances: [Result<&'v CoefficientVariance<'f>, E>; MANY],
    treatment: usize,
) -> Result<[Result<Standardised<'v, 'f>, E>; MANY], TreatmentError> {
    let design = fit.cases.design;
    let columns = design.columns();
    if treatment == 0 || treatment > columns {
        return Err(TreatmentError::NoSuchColumn { column: treatment, columns });
    }
    let misfit = design.column(treatment - 1).find(|v| v != 0.0 && v != 1.0);
    if let Some(case) = misfit {
        return Err(TreatmentError::NotAnArm { column: treatment, case: case + 1 });
    }
    let clusters = variances.iter().map(|variance| variance.as_ref().ok()?.cluster_parts()).collect();
    let averages = Averages::of(fit, treatment, clusters);
    let standardised = |place: usize| {
        let variance = variances[place]?;
        let own = averages.own(place, variance);
        Ok(Standardised { variance, risks: averages.risks, gradients: averages.gradients.clone(), own })
    };
    Ok(std::array::from_fn(standardised))
}

/// Effects for these very cases: their covariates are taken as given.
///
/// Formula: risk of an arm r = mean of expit(xβ) with the treatment set; variance g'Vg (delta
/// method), g the gradient by the coefficients of the risk, the difference, or the logarithm of the
/// ratio or odds ratio, V the variance of the coefficients; its degrees of freedom are those of the
/// contrast g.
/// Units: risks between 0 and 1; logarithms of ratios.
/// Edges: limits of a difference are not clipped; an effect that does not vary is refused.
/// Source: [lane_nelder1982], [oehlert1992].
/// Checked: tests/numbers/standardised.csv.
pub fn effects_covariates_fixed(
    standardised: &Standardised<'_, '_>,
) -> Result<StandardisedEffects, NotEstimable> {
    standardised
        .effects(|weights, estimate| standardised.variance.along(&standardised.gradient(weights), estimate))
}

/// Effects for the population the cases, or the clusters, are a sample of.
///
/// Formula: the influence of a case on the risk of an arm is (m − r)/n + g'M(y − p)x, m its
/// probability in that arm; the variance is the sum of squares over cases (HC0; times n/(n−k), HC1)
/// or of the sums by cluster (CR0; times the factor of CR1 or CR1S). Model variance: g'Mg plus the
/// sum of squares of (m − r)/n. CR2: the sum over clusters of the squares of g'Mu + √(G/(G−1))·c, u
/// the adjusted score and c the sum of (m − r)/n of the cluster; degrees of freedom tr²(Q)/tr(Q²),
/// Q = P + s²(I − 11'/G), P the covariance of the g'Mu if the model holds and s² = Σc²·G/(G−1)².
/// Units: risks between 0 and 1; logarithms of ratios.
/// Edges: as with covariates given; P and c are uncorrelated if the model holds, and the variance
/// keeps their product, because centres with more risk may also differ in effect.
/// Source: [stefanski_boos2002], [pustejovsky_tipton2018]; the sampling part of CR2 is our own.
/// Checked: tests/numbers/standardised.csv.
pub fn effects_covariates_sampled(
    standardised: &Standardised<'_, '_>,
) -> Result<StandardisedEffects, NotEstimable> {
    standardised.effects(|weights, estimate| standardised.sampled(weights, estimate))
}

/// The risk difference of [`effects_covariates_sampled`] alone.
///
/// # Errors
/// A difference that does not vary.
pub fn difference_covariates_sampled(
    standardised: &Standardised<'_, '_>,
) -> Result<WaldEstimate, NotEstimable> {
    let [first, second] = standardised.risks();
    standardised.sampled([1.0, -1.0], first - second)
}

/// What a ratio of risks is the ratio of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum RatioOf {
    /// The event.
    #[default]
    Event,
    /// Its absence.
    NoEvent,
}

/// Natural logarithm of a risk ratio for the population the cases, or the clusters, are a sample of,
/// with `beside` further cases in the average whose outcome is certain in either arm.
///
/// Formula: ln((n q₁ + b)/(n q₂ + b)), q the risk of an arm or of the absence, n cases of the model,
/// b of those beside it; variance as in [`effects_covariates_sampled`], the share of those beside
/// taken as given.
/// Units: logarithm of a ratio.
/// Edges: a risk of 0 has no logarithm and is refused.
/// Source: [lane_nelder1982], [oehlert1992].
/// Checked: tests/numbers/standardised.csv.
pub fn log_ratio_covariates_sampled(
    standardised: &Standardised<'_, '_>,
    of: RatioOf,
    beside: u32,
) -> Result<WaldEstimate, NotEstimable> {
    let beside = f64::from(beside) / standardised.variance.fit.probabilities.len() as f64;
    let (sign, [first, second]) = match of {
        RatioOf::Event => (1.0, standardised.risks()),
        RatioOf::NoEvent => (-1.0, standardised.risks().map(|risk| 1.0 - risk)),
    };
    let (first, second) = (first + beside, second + beside);
    if first <= 0.0 || second <= 0.0 {
        return Err(NotEstimable::NoFiniteRatio);
    }
    standardised.sampled([sign / first, -sign / second], libm::log(first / second))
}

impl Standardised<'_, '_> {
    /// The risks of all cases in the first and in the second arm.
    pub fn risks(&self) -> [f64; 2] {
        self.risks
    }

    /// An effect with its weights of the two risks, to first order, the cases being a sample.
    fn sampled(&self, weights: [f64; 2], estimate: f64) -> Result<WaldEstimate, NotEstimable> {
        let variance = self.variance;
        let gradient = self.gradient(weights);
        let (square, degrees_of_freedom) = match &self.own {
            Own::Clusters(parts, sums) => {
                between_clusters(parts, &gradient, self.deviations(sums, &parts.sizes, weights))?
            }
            Own::Cases(scatter) => {
                let weights = Vector2::from(weights);
                let own = weights.dot(&(scatter * weights));
                (gradient.dot(&(&variance.standard * &gradient)) + own, None)
            }
        };
        WaldEstimate::new(estimate, square, degrees_of_freedom, variance.method)
    }

    /// Each effect with its weights of the two risks, to first order.
    fn effects(
        &self,
        estimated: impl Fn([f64; 2], f64) -> Result<WaldEstimate, NotEstimable>,
    ) -> Result<StandardisedEffects, NotEstimable> {
        let [first, second] = self.risks;
        let log_odds = |risk: f64| libm::log(risk) - libm::log1p(-risk);
        let odds_weight = |risk: f64| 1.0 / (risk * (1.0 - risk));
        Ok(StandardisedEffects {
            first_risk: estimated([1.0, 0.0], first)?,
            second_risk: estimated([0.0, 1.0], second)?,
            difference: estimated([1.0, -1.0], first - second)?,
            log_ratio: estimated([1.0 / first, -1.0 / second], libm::log(first / second))?,
            log_odds_ratio: estimated(
                [odds_weight(first), -odds_weight(second)],
                log_odds(first) - log_odds(second),
            )?,
            clusters: self.variance.clusters(),
        })
    }

    fn gradient(&self, [first, second]: [f64; 2]) -> DVector<f64> {
        &self.gradients[0] * first + &self.gradients[1] * second
    }

    /// Share of each cluster in the distance of the effect from its mean.
    fn deviations(&self, sums: &[Vec<f64>; 2], sizes: &[f64], weights: [f64; 2]) -> DVector<f64> {
        let cases = self.variance.fit.probabilities.len() as f64;
        DVector::from_fn(sizes.len(), |cluster, _| {
            let apart = |arm: usize| weights[arm] * (sums[arm][cluster] - sizes[cluster] * self.risks[arm]);
            (apart(0) + apart(1)) / cases
        })
    }
}

/// Variance and degrees of freedom, the clusters' own deviations given.
fn between_clusters(
    parts: &ClusterParts,
    gradient: &DVector<f64>,
    mut own: DVector<f64>,
) -> Result<(f64, Option<f64>), NotEstimable> {
    let scores = parts.contributions.tr_mul(gradient);
    let clusters = scores.len() as f64;
    match &parts.correction {
        Correction::Factor { factor, student } => {
            Ok((factor * (scores + own).norm_squared(), student.then_some(clusters - 1.0)))
        }
        Correction::Leverage(leverages) => {
            own *= (clusters / (clusters - 1.0)).sqrt();
            let spread = own.norm_squared();
            let working = leverages.working_variance(gradient);
            let trace = working.trace + spread;
            // tr(P(I − 11'/G)) = tr P − 1'P1/G.
            let shared = working.trace - working.total / clusters;
            let squares = working.squares + spread * (2.0 * shared + spread) / (clusters - 1.0);
            if squares <= 0.0 {
                return Err(NotEstimable::NoVariation);
            }
            Ok(((scores + own).norm_squared(), Some(trace * trace / squares)))
        }
    }
}
