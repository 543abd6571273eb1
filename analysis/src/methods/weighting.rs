//! Risks of two arms weighted to one population, their difference and ratio.

use serde::{Deserialize, Serialize};

use super::clustered_influence::{CentreErrors, CentreInfluence};
use super::interval::{Arm, IntervalMethod, NotEstimable};
use super::propensity::{Propensity, TargetPopulation};
use super::sample::count;
use super::wald::WaldEstimate;
use super::weighting_pass::WeightedSums;

/// Why some vectors are not outcomes and centres of the cases.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{found} outcomes or centres for {cases} cases")]
pub struct WeightedCasesError {
    /// Length given.
    pub found: usize,
    /// Cases of the propensity.
    pub cases: usize,
}

/// Cases with their propensity, outcome and centre.
#[derive(Clone, Copy, Debug)]
pub struct WeightedCases<'a> {
    pub(super) propensity: &'a Propensity<'a>,
    pub(super) events: &'a [bool],
    pub(super) centres: &'a [u32],
}

impl<'a> WeightedCases<'a> {
    /// One outcome and one centre a case; centres are the clusters of the clustered errors.
    ///
    /// # Errors
    /// A vector of another length than the propensity.
    pub fn new(
        propensity: &'a Propensity<'a>,
        events: &'a [bool],
        centres: &'a [u32],
    ) -> Result<Self, WeightedCasesError> {
        let cases = propensity.scores().len();
        for found in [events.len(), centres.len()] {
            if found != cases {
                return Err(WeightedCasesError { found, cases });
            }
        }
        Ok(Self { propensity, events, centres })
    }
}

/// A contrast of two weighted risks with its standard errors, on the scale named beside it. All
/// of them account for the propensity having been estimated.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WeightedContrast {
    /// The contrast.
    pub estimate: f64,
    /// Standard error if cases are independent: it speaks of these centres only.
    pub standard_error: f64,
    /// Standard errors that allow for cases of one centre resembling each other.
    pub by_centre: Result<CentreErrors, NotEstimable>,
}

/// Risks of both arms in the target population.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WeightedRisks {
    /// The population the arms were weighted to.
    pub target: TargetPopulation,
    /// Weighted share of events in the first arm.
    pub first: f64,
    /// Weighted share of events in the second arm.
    pub second: f64,
    /// Difference first − second.
    pub difference: Result<WeightedContrast, NotEstimable>,
    /// Natural logarithm of the ratio first / second.
    pub log_ratio: Result<WeightedContrast, NotEstimable>,
    /// Natural logarithm of the ratio of the risks of having no event.
    pub log_ratio_of_absence: Result<WeightedContrast, NotEstimable>,
}

/// Weighted risks by Hájek's estimator, with variances by stacked estimating equations.
///
/// Formula: risk = Σwy / Σw in each arm. θ stacks the propensity's coefficients and both risks;
/// a case's influence on a quantity with gradient c is c'B⁻¹ψ, ψ = (x(t − e), tw(y − risk1),
/// (1−t)w(y − risk2)), B the derivative of −Σψ. Independent cases: Σ influence²; by centre (CR0):
/// the squares of the sums of centres; CR1, that times G/(G−1). CR2 scales the sum of each centre
/// so that it would be unbiased if cases were independent with the second moments they show.
/// Units: risks between 0 and 1; the ratio on the scale of natural logarithms.
/// Edges: an arm in which nobody or everybody has the event has no variance, so no contrast.
/// Source: [hajek1971], [lunceford_davidian2004], [li_morgan_zaslavsky2018], [bell_mccaffrey2002].
/// Checked: tests/numbers/weighting.csv, tests/numbers/weighting_centres.csv.
pub fn hajek_risks(
    cases: WeightedCases<'_>,
    target: TargetPopulation,
) -> Result<WeightedRisks, NotEstimable> {
    let sums = WeightedSums::of(cases, target)?;
    let [first, second] = sums.risks;
    let gradients = [[1.0, -1.0], [1.0 / first, -1.0 / second], [-1.0 / (1.0 - first), 1.0 / (1.0 - second)]];
    let [difference, log_ratio, log_ratio_of_absence] = match varies(cases) {
        Ok(()) => sums.influences(gradients).map(Ok),
        Err(why) => [Err(why), Err(why), Err(why)],
    };
    let contrast = |estimate, influence: Result<CentreInfluence, NotEstimable>| {
        let influence = influence?;
        let standard_error = influence.squares.iter().sum::<f64>().sqrt();
        if !standard_error.is_finite() {
            return Err(NotEstimable::LimitsTooWide);
        }
        Ok(WeightedContrast { estimate, standard_error, by_centre: influence.errors() })
    };
    Ok(WeightedRisks {
        target,
        first,
        second,
        difference: contrast(first - second, difference),
        log_ratio: contrast((first / second).ln(), log_ratio),
        log_ratio_of_absence: contrast(((1.0 - first) / (1.0 - second)).ln(), log_ratio_of_absence),
    })
}

/// Both arms have cases with and cases without the event.
fn varies(cases: WeightedCases<'_>) -> Result<(), NotEstimable> {
    let arms = cases.propensity.in_first_arm();
    for (arm, wanted) in [(Arm::First, true), (Arm::Second, false)] {
        let mut own = arms.iter().zip(cases.events).filter(|(first, _)| **first == wanted);
        let has = |event: bool| own.clone().any(|(_, found)| *found == event);
        let (with, without) = (has(true), has(false));
        if own.next().is_some() && !with {
            return Err(NotEstimable::NoEvents { arm });
        }
        if !without {
            return Err(NotEstimable::OnlyEvents { arm });
        }
    }
    Ok(())
}

/// A weighted contrast with the standard error of independent cases, for these centres only.
///
/// Formula: estimate ± z × √Σ influence².
/// Units: the contrast's; a difference is first − second, its limits are not clipped.
/// Edges: says nothing about other centres.
/// Source: [lunceford_davidian2004].
/// Checked: tests/numbers/weighting.csv.
pub fn weighted_for_these_centres(contrast: WeightedContrast) -> Result<WaldEstimate, NotEstimable> {
    let variance = contrast.standard_error.powi(2);
    WaldEstimate::new(contrast.estimate, variance, None, IntervalMethod::WeightedTheseCentres)
}

/// A weighted contrast with the centre-robust standard error CR1 and Student's t.
///
/// Formula: estimate ± t(G−1) × √(CR0 × G/(G−1)), G centres.
/// Units: the contrast's; a difference is first − second, its limits are not clipped.
/// Edges: needs two centres; with few or unequal ones it covers less than its level.
/// Source: [cameron_miller2015].
/// Checked: tests/numbers/weighting_centres.csv.
pub fn weighted_cr1(contrast: WeightedContrast) -> Result<WaldEstimate, NotEstimable> {
    let errors = contrast.by_centre?;
    let df = Some(count(errors.centres - 1));
    WaldEstimate::new(contrast.estimate, errors.cr1.powi(2), df, IntervalMethod::WeightedCr1)
}

/// A weighted contrast with the centre-robust standard error CR2 and Satterthwaite's t.
///
/// Formula: estimate ± t(df) × √CR2, df = (tr P)² / tr(P²), P the covariance of the scaled sums of
/// centres if cases are independent.
/// Units: the contrast's; a difference is first − second, its limits are not clipped.
/// Edges: needs two centres; one centre with most of the weight leaves few degrees of freedom.
/// Source: [bell_mccaffrey2002], [pustejovsky_tipton2018].
/// Checked: tests/numbers/weighting_centres.csv.
pub fn weighted_cr2(contrast: WeightedContrast) -> Result<WaldEstimate, NotEstimable> {
    let errors = contrast.by_centre?;
    let df = Some(errors.cr2_degrees_of_freedom);
    WaldEstimate::new(contrast.estimate, errors.cr2.powi(2), df, IntervalMethod::WeightedCr2)
}
