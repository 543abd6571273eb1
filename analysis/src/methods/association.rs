//! Tests over strata: is there an association, and is it the same everywhere?

use serde::{Deserialize, Serialize};

use super::counts::{Stratum, TwoArms};
use super::distribution::chi_square_upper_tail;
use super::interval::NotEstimable;
use super::mantel_haenszel::{comparable, odds_parts, sum};
use super::odds_ratio::Restricted;

/// A chi-square statistic and its p value.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChiSquareTest {
    /// The statistic, from 0.
    pub statistic: f64,
    /// Degrees of freedom, at least 1.
    pub degrees_of_freedom: f64,
    /// P(χ² ≥ statistic).
    pub p: f64,
}

impl ChiSquareTest {
    pub(crate) fn new(statistic: f64, degrees_of_freedom: f64) -> Self {
        let p = chi_square_upper_tail(statistic, degrees_of_freedom);
        Self { statistic, degrees_of_freedom, p }
    }
}

/// Cochran–Mantel–Haenszel test of no association in any stratum.
///
/// Formula: (Σ x1 − n1X/N)² / Σ n1n2XY/(N²(N−1)), X events and Y non-events of both arms.
/// Units: chi-square with 1 degree of freedom.
/// Edges: a stratum with an empty arm contributes nothing; without any stratum that has both
/// events and non-events nothing can be tested.
/// Source: [mantel_haenszel1959].
/// Checked: tests/numbers/stratified.csv.
pub fn cochran_mantel_haenszel_test(strata: &[Stratum]) -> Result<ChiSquareTest, NotEstimable> {
    let (distance, variance) = association(strata)?;
    Ok(ChiSquareTest::new(distance * distance / variance, 1.0))
}

/// Cochran–Mantel–Haenszel test with continuity correction.
///
/// Formula: as without, with ½ taken from the distance where it is at least ½.
/// Units: chi-square with 1 degree of freedom.
/// Edges: as without.
/// Source: [mantel_haenszel1959].
/// Checked: tests/numbers/stratified.csv.
pub fn cochran_mantel_haenszel_corrected_test(strata: &[Stratum]) -> Result<ChiSquareTest, NotEstimable> {
    let (distance, variance) = association(strata)?;
    let kept = if distance >= 0.5 { distance - 0.5 } else { distance };
    Ok(ChiSquareTest::new(kept * kept / variance, 1.0))
}

fn association(strata: &[Stratum]) -> Result<(f64, f64), NotEstimable> {
    let both = comparable(strata)?;
    let distance = sum(&both, |t| (t.first.x() * t.second.n() - t.second.x() * t.first.n()) / t.n());
    let variance = sum(&both, |t| {
        let (s1, s2) = (t.first.n() / t.n(), t.second.n() / t.n());
        s1 * s2 * (t.first.x() + t.second.x()) * (t.first.y() + t.second.y()) / (t.n() - 1.0)
    });
    if variance <= 0.0 { Err(NotEstimable::NoVariation) } else { Ok((distance.abs(), variance)) }
}

/// Breslow–Day test that the odds ratio is the same in every stratum.
///
/// Formula: Σ (x1 − a)² / V, a and V the events expected in the first arm and their variance
/// under the Mantel–Haenszel odds ratio.
/// Units: chi-square with one degree of freedom less than informative strata.
/// Edges: strata with an empty arm, without events or without non-events are not informative;
/// fewer than two informative strata, or an odds ratio of 0 or without bound, cannot be tested.
/// Source: [breslow_day1980].
/// Checked: tests/numbers/stratified.csv.
pub fn breslow_day_test(strata: &[Stratum]) -> Result<ChiSquareTest, NotEstimable> {
    let Fits { squares, degrees_of_freedom, .. } = Fits::of(strata)?;
    Ok(ChiSquareTest::new(squares, degrees_of_freedom))
}

/// Breslow–Day test with the correction of Tarone.
///
/// Formula: the Breslow–Day statistic minus (Σ x1 − a)² / ΣV.
/// Units: chi-square with one degree of freedom less than informative strata.
/// Edges: as Breslow–Day.
/// Source: [tarone1985].
/// Checked: tests/numbers/stratified.csv.
pub fn breslow_day_tarone_test(strata: &[Stratum]) -> Result<ChiSquareTest, NotEstimable> {
    let fits = Fits::of(strata)?;
    let corrected = fits.squares - fits.excess * fits.excess / fits.variance;
    Ok(ChiSquareTest::new(corrected.max(0.0), fits.degrees_of_freedom))
}

struct Fits {
    squares: f64,
    excess: f64,
    variance: f64,
    degrees_of_freedom: f64,
}

impl Fits {
    fn of(strata: &[Stratum]) -> Result<Self, NotEstimable> {
        let both = comparable(strata)?;
        let (r, s) = odds_parts(&both);
        if r <= 0.0 || s <= 0.0 {
            return Err(NotEstimable::NoFiniteRatio);
        }
        let log_odds_ratio = (r / s).ln();
        let informative = |t: &&TwoArms| {
            t.first.events().max(t.second.events()) > 0 && t.first.non_events().max(t.second.non_events()) > 0
        };
        let fits: Vec<Restricted> =
            both.iter().filter(informative).map(|t| Restricted::at(*t, log_odds_ratio)).collect();
        if fits.len() < 2 {
            return Err(NotEstimable::TooFewStrata { found: fits.len(), needed: 2 });
        }
        Ok(Self {
            squares: fits.iter().map(|fit| fit.excess * fit.excess / fit.variance).sum(),
            excess: fits.iter().map(|fit| fit.excess).sum(),
            variance: fits.iter().map(|fit| fit.variance).sum(),
            degrees_of_freedom: (fits.len() - 1) as f64,
        })
    }
}
