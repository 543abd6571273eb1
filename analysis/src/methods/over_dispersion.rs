//! Over-dispersion between centres: widening control limits that chance alone makes too narrow.

use serde::{Deserialize, Serialize};

use super::counts::EventCount;
use super::funnel::Target;
use super::interval::NotEstimable;

/// Standardised distances of centres from the target, by chance alone.
///
/// Formula: zᵢ = (xᵢ/nᵢ − θ)/sᵢ with sᵢ = √(θ(1−θ)/nᵢ) and θ the target.
/// Units: standard errors.
/// Edges: normal approximation: for few expected events read the exact funnel limits beside it.
/// Source: [spiegelhalter2005b].
/// Checked: tests/numbers/over_dispersion.csv.
pub fn unadjusted_scores(centres: &[EventCount], target: Target) -> Vec<f64> {
    centres.iter().map(|centre| score(*centre, target, 0.0)).collect()
}

fn score(centre: EventCount, target: Target, variance_between: f64) -> f64 {
    let chance = target.standard_error(centre.n());
    (centre.proportion() - target.proportion()) / (chance * chance + variance_between).sqrt()
}

/// Why a number is not a share to winsorise.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("a winsorised share of {share} is not at least 0 and below 0.5; write 10 % as 0.1")]
pub struct WinsorisedShareError {
    /// The number given.
    pub share: f64,
}

/// Share of scores to pull in at each end, at least 0 and below one half.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct WinsorisedShare(f64);

impl WinsorisedShare {
    /// A share such as 0.1.
    ///
    /// # Errors
    /// Below 0, one half or more, or not a number.
    pub fn new(share: f64) -> Result<Self, WinsorisedShareError> {
        if (0.0..0.5).contains(&share) { Ok(Self(share)) } else { Err(WinsorisedShareError { share }) }
    }

    /// Scores pulled in at each end.
    fn count(self, scores: usize) -> usize {
        // Both are far below 2^53, and the share below one half leaves a score in the middle.
        (self.0 * scores as f64).floor() as usize
    }
}

impl TryFrom<f64> for WinsorisedShare {
    type Error = WinsorisedShareError;

    fn try_from(share: f64) -> Result<Self, WinsorisedShareError> {
        Self::new(share)
    }
}

impl From<WinsorisedShare> for f64 {
    fn from(share: WinsorisedShare) -> f64 {
        share.0
    }
}

/// Scores with the most extreme pulled in to the most extreme that remain.
///
/// Formula: with I scores and k = ⌊share · I⌋, the k smallest become the (k+1)-th smallest and the k largest
/// the (k+1)-th largest; by rank, not by an interpolated quantile.
/// Units: standard errors.
/// Edges: fewer than 1/share scores are left as they are.
/// Source: [spiegelhalter2005b].
/// Checked: tests/numbers/over_dispersion.csv.
pub fn winsorised_scores(scores: &[f64], share: WinsorisedShare) -> Vec<f64> {
    let mut sorted = scores.to_vec();
    sorted.sort_by(f64::total_cmp);
    let count = share.count(scores.len());
    let remaining = &sorted[count..sorted.len() - count];
    let (Some(lowest), Some(highest)) = (remaining.first(), remaining.last()) else {
        return Vec::new();
    };
    scores.iter().map(|score| score.max(*lowest).min(*highest)).collect()
}

/// Scores whose standard errors are all stretched alike.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StretchedScores {
    /// Mean square of the winsorised scores: about 1 when chance alone is at work.
    pub phi: f64,
    /// Adjusted scores, in the order of the centres.
    pub scores: Vec<f64>,
}

/// Scores adjusted for over-dispersion in the multiplicative form.
///
/// Formula: zᵢ/√max(φ, 1), with φ the mean square of the winsorised scores.
/// Units: standard errors.
/// Edges: limits are never narrowed, so φ below 1 changes nothing. Large and small centres are stretched
/// alike; needs two centres.
/// Source: [spiegelhalter2005b].
/// Checked: tests/numbers/over_dispersion.csv.
pub fn multiplicative_scores(
    centres: &[EventCount],
    target: Target,
    share: WinsorisedShare,
) -> Result<StretchedScores, NotEstimable> {
    let phi = dispersion(centres, target, share)?;
    let stretch = phi.max(1.0).sqrt();
    let scores = unadjusted_scores(centres, target).into_iter().map(|score| score / stretch).collect();
    Ok(StretchedScores { phi, scores })
}

/// Scores whose variances all gain the same variance between centres.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WidenedScores {
    /// Mean square of the winsorised scores: about 1 when chance alone is at work.
    pub phi: f64,
    /// Variance of the centres' true proportions about the target.
    pub tau_squared: f64,
    /// Adjusted scores, in the order of the centres.
    pub scores: Vec<f64>,
}

/// Scores adjusted for over-dispersion in the additive (random effects) form.
///
/// Formula: (xᵢ/nᵢ − θ)/√(sᵢ² + τ²), τ² = max(0, (Iφ − (I−1)) / (Σwᵢ − Σwᵢ²/Σwᵢ)), wᵢ = 1/sᵢ², φ the mean
/// square of the winsorised scores of I centres.
/// Units: standard errors; τ² in squared proportions.
/// Edges: τ² is 0 where the scores vary no more than chance; needs two centres.
/// Source: [spiegelhalter2005b].
/// Checked: tests/numbers/over_dispersion.csv.
pub fn additive_scores(
    centres: &[EventCount],
    target: Target,
    share: WinsorisedShare,
) -> Result<WidenedScores, NotEstimable> {
    let phi = dispersion(centres, target, share)?;
    let weight = |centre: &EventCount| target.standard_error(centre.n()).powi(-2);
    let total: f64 = centres.iter().map(weight).sum();
    // Σw − Σw²/Σw as Σ w(1 − w/Σw): one huge centre beside small ones would lose every digit.
    let others = |centre: &EventCount| total - weight(centre);
    let spread: f64 = centres.iter().map(|centre| weight(centre) * (others(centre) / total)).sum();
    let count = centres.len() as f64;
    let tau_squared = ((count * phi - (count - 1.0)) / spread).max(0.0);
    let scores = centres.iter().map(|centre| score(*centre, target, tau_squared)).collect();
    Ok(WidenedScores { phi, tau_squared, scores })
}

fn dispersion(centres: &[EventCount], target: Target, share: WinsorisedShare) -> Result<f64, NotEstimable> {
    if centres.len() < 2 {
        return Err(NotEstimable::TooFewStrata { found: centres.len(), needed: 2 });
    }
    let scores = winsorised_scores(&unadjusted_scores(centres, target), share);
    Ok(scores.iter().map(|score| score * score).sum::<f64>() / scores.len() as f64)
}
