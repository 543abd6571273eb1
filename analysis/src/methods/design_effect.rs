//! What likeness within centres costs: cases of one centre tell less than independent cases.
//!
//! For a proportion over all centres, and for arms that lie in different centres. Two arms
//! inside the same centres share what their centre does to both, so their difference loses less.

use std::num::NonZeroU32;

use serde::{Deserialize, Serialize};

use super::plan::{CannotPlan, MOST_CASES};

/// Why some numbers do not describe centres.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum CentresError {
    /// A correlation outside the range.
    #[error("an intraclass correlation of {correlation} does not lie between 0 and 1")]
    Correlation {
        /// The number given.
        correlation: f64,
    },
    /// No centre.
    #[error("a design effect needs at least one centre")]
    NoCentres,
}

/// Correlation between two cases of one centre, from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct IntraclassCorrelation(f64);

impl IntraclassCorrelation {
    /// A correlation such as 0.02.
    ///
    /// # Errors
    /// Below 0, above 1, or not a number.
    pub fn new(correlation: f64) -> Result<Self, CentresError> {
        if (0.0..=1.0).contains(&correlation) {
            Ok(Self(correlation))
        } else {
            Err(CentresError::Correlation { correlation })
        }
    }
}

impl TryFrom<f64> for IntraclassCorrelation {
    type Error = CentresError;

    fn try_from(correlation: f64) -> Result<Self, CentresError> {
        Self::new(correlation)
    }
}

impl From<IntraclassCorrelation> for f64 {
    fn from(correlation: IntraclassCorrelation) -> f64 {
        correlation.0
    }
}

/// Cases of each centre, at least one centre.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CentreSizes(Vec<NonZeroU32>);

impl CentreSizes {
    /// Cases of the centres, in any order.
    ///
    /// # Errors
    /// No centre.
    pub fn new(sizes: Vec<NonZeroU32>) -> Result<Self, CentresError> {
        if sizes.is_empty() { Err(CentresError::NoCentres) } else { Ok(Self(sizes)) }
    }

    fn sum(&self, of: impl Fn(f64) -> f64) -> f64 {
        self.0.iter().map(|size| of(f64::from(size.get()))).sum()
    }
}

/// Variance of the mean of all cases relative to independent cases; at least 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DesignEffect(f64);

/// Design effect of centres of one size.
///
/// Formula: 1 + (m − 1)ρ for m cases a centre and intraclass correlation ρ.
/// Units: a factor on the variance, and on the number of cases.
/// Edges: 1 for one case a centre or no correlation; m for a correlation of 1.
/// Source: [donner_klar2000].
/// Checked: tests/numbers/design_effect.csv.
pub fn equal_centres_design_effect(cases: NonZeroU32, correlation: IntraclassCorrelation) -> DesignEffect {
    DesignEffect(1.0 + (f64::from(cases.get()) - 1.0) * correlation.0)
}

/// Design effect of centres of unequal size, every case counting the same.
///
/// Formula: 1 + (Σm²/Σm − 1)ρ over the sizes m, which is 1 + ((1 + cv²)m̄ − 1)ρ with their
/// coefficient of variation cv.
/// Units: a factor on the variance, and on the number of cases.
/// Edges: equal sizes give the effect of equal centres; one large centre dominates.
/// Source: [eldridge2006].
/// Checked: tests/numbers/design_effect.csv.
pub fn unequal_centres_design_effect(
    sizes: &CentreSizes,
    correlation: IntraclassCorrelation,
) -> DesignEffect {
    let typical = sizes.sum(|m| m * m) / sizes.sum(|m| m);
    DesignEffect(1.0 + (typical - 1.0) * correlation.0)
}

/// Independent cases worth as much as the cases of these centres.
///
/// Formula: Σm / design effect.
/// Units: cases, not rounded.
/// Edges: never more than the cases; no more than one a centre for a correlation of 1.
/// Source: [donner_klar2000].
/// Checked: tests/numbers/design_effect.csv.
pub fn effective_sample_size(sizes: &CentreSizes, correlation: IntraclassCorrelation) -> f64 {
    sizes.sum(|m| m) / unequal_centres_design_effect(sizes, correlation).factor()
}

impl DesignEffect {
    /// The factor, at least 1.
    pub fn factor(self) -> f64 {
        self.0
    }

    /// Cases needed in place of `independent` ones while the centres keep their size, so that
    /// more cases mean more centres.
    ///
    /// # Errors
    /// More cases than anyone plans.
    pub fn inflated(self, independent: NonZeroU32) -> Result<u32, CannotPlan> {
        whole_cases(f64::from(independent.get()) * self.0)
    }
}

/// Cases needed in place of `independent` ones when the number of centres is fixed, so that
/// more cases mean larger centres.
///
/// Formula: N = n(1 − ρ)/(1 − nρ/k) over k centres of equal size, rounded up.
/// Units: cases in all centres together.
/// Edges: k centres are never worth more than k/ρ independent cases, so k ≤ nρ has no
/// answer; at least one case a centre.
/// Source: [hemming2011].
/// Checked: tests/numbers/design_effect.csv.
pub fn cases_over_centres(
    independent: NonZeroU32,
    centres: NonZeroU32,
    correlation: IntraclassCorrelation,
) -> Result<u32, CannotPlan> {
    let (n, k) = (f64::from(independent.get()), f64::from(centres.get()));
    if n <= k {
        // One case a centre is independent of every other.
        return whole_cases(n);
    }
    let bound = n * correlation.0;
    if k <= bound {
        return Err(CannotPlan::TooFewCentres { centres: centres.get(), bound });
    }
    whole_cases(n * (1.0 - correlation.0) * k / (k - bound))
}

/// Rounded up, but not over a hair of rounding error: 150 × 1.1 is 165 cases.
fn whole_cases(cases: f64) -> Result<u32, CannotPlan> {
    let whole = (cases * (1.0 - 4.0 * f64::EPSILON)).ceil();
    if whole <= f64::from(MOST_CASES) { Ok(whole as u32) } else { Err(CannotPlan::TooManyCases) }
}
