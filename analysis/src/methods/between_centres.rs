//! How much the true effects of the centres differ: τ², the variance between centres.

use serde::{Deserialize, Serialize};

use super::centre_effects::CentreEffect;
use super::distribution::{Point, root_between};
use super::interval::NotEstimable;

/// How τ² was obtained.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BetweenMethod {
    /// Not estimated: one effect common to all centres is assumed.
    CommonEffect,
    /// DerSimonian–Laird.
    DerSimonianLaird,
    /// Paule–Mandel.
    PauleMandel,
    /// Restricted maximum likelihood.
    RestrictedLikelihood,
}

impl BetweenMethod {
    /// The name as printed in a table.
    pub fn label(self) -> &'static str {
        match self {
            Self::CommonEffect => "common effect",
            Self::DerSimonianLaird => "DerSimonian–Laird",
            Self::PauleMandel => "Paule–Mandel",
            Self::RestrictedLikelihood => "restricted maximum likelihood",
        }
    }
}

/// Variance of the true effects between centres.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct BetweenCentres {
    /// τ², from 0, in the squared unit of the effects.
    pub tau_squared: f64,
    /// How it was obtained.
    pub method: BetweenMethod,
}

/// Effects of at least one centre together with the τ² they are weighted by.
#[derive(Clone, Debug, PartialEq)]
pub struct CentreModel {
    given: Vec<CentreEffect>,
    pub(super) effects: Effects,
    between: BetweenCentres,
}

impl CentreModel {
    fn new(given: &[CentreEffect], effects: Effects, tau_squared: f64, method: BetweenMethod) -> Self {
        Self { given: given.to_vec(), effects, between: BetweenCentres { tau_squared, method } }
    }

    /// The variance between centres.
    pub fn between(&self) -> BetweenCentres {
        self.between
    }

    /// Number of centres, at least 1.
    pub fn centres(&self) -> usize {
        self.given.len()
    }

    /// Share of each centre in the pooled effect, in the order given; the shares sum to 1.
    pub fn shares(&self) -> Vec<f64> {
        let tau_squared = self.between.tau_squared;
        let total = self.effects.pool(tau_squared).weight;
        self.given.iter().map(|effect| 1.0 / (effect.variance() + tau_squared) / total).collect()
    }

    pub(super) fn pool(&self) -> Pool {
        self.effects.pool(self.between.tau_squared)
    }
}

/// One effect common to all centres (τ² taken as 0).
///
/// Formula: weights 1/v, v the variance within each centre.
/// Units: those of the effects.
/// Edges: one centre is enough; it then stands for itself.
/// Source: [cochran1954].
/// Checked: tests/numbers/pooling.csv.
pub fn common_effect(effects: &[CentreEffect]) -> Result<CentreModel, NotEstimable> {
    let sorted = Effects::at_least(1, effects)?;
    Ok(CentreModel::new(effects, sorted, 0.0, BetweenMethod::CommonEffect))
}

/// τ² by the method of DerSimonian and Laird.
///
/// Formula: max(0, (Q − (k−1)) / (Σw − Σw²/Σw)), w = 1/v, Q Cochran's statistic.
/// Units: the squared unit of the effects.
/// Edges: 0 when Q is at most k−1; fewer than two centres cannot show a difference.
/// Source: [dersimonian_laird1986].
/// Checked: tests/numbers/pooling.csv.
pub fn der_simonian_laird(effects: &[CentreEffect]) -> Result<CentreModel, NotEstimable> {
    let sorted = Effects::at_least(2, effects)?;
    let pool = sorted.pool(0.0);
    let tau_squared = ((pool.q - sorted.freedom()) / pool.contrast).max(0.0);
    Ok(CentreModel::new(effects, sorted, tau_squared, BetweenMethod::DerSimonianLaird))
}

/// τ² by the method of Paule and Mandel.
///
/// Formula: the τ² at which Σ w(y−m)² = k−1, w = 1/(v+τ²), m the weighted mean; 0 when the sum
/// is at most k−1 there already.
/// Units: the squared unit of the effects.
/// Edges: the sum falls in τ², so there is one solution; fewer than two centres are refused.
/// Source: [paule_mandel1982].
/// Checked: tests/numbers/pooling.csv.
pub fn paule_mandel(effects: &[CentreEffect]) -> Result<CentreModel, NotEstimable> {
    let sorted = Effects::at_least(2, effects)?;
    let excess = |tau_squared: f64| sorted.pool(tau_squared).q - sorted.freedom();
    let at_zero = Point { x: 0.0, f: excess(0.0) };
    // Without the variances within centres the sum would be (spread)/τ²: an upper end.
    let top = sorted.spread() / sorted.freedom();
    let tau_squared = if at_zero.f <= 0.0 {
        0.0
    } else {
        root_between(excess, at_zero, Point { x: top, f: excess(top).min(0.0) })
    };
    Ok(CentreModel::new(effects, sorted, tau_squared, BetweenMethod::PauleMandel))
}

/// τ² by restricted maximum likelihood.
///
/// Formula: maximises −½[Σ ln(v+τ²) + ln Σw + Σ w(y−m)²] over τ² ≥ 0, w = 1/(v+τ²), m the
/// weighted mean.
/// Units: the squared unit of the effects.
/// Edges: the likelihood can have more than one peak when variances differ much: its slope is
/// followed from 0 to where it must fall, and the highest peak is taken, 0 included. Fewer
/// than two centres are refused.
/// Source: [viechtbauer2005].
/// Checked: tests/numbers/pooling.csv.
pub fn restricted_maximum_likelihood(effects: &[CentreEffect]) -> Result<CentreModel, NotEstimable> {
    let sorted = Effects::at_least(2, effects)?;
    let slope = |x: f64| Point { x, f: sorted.restricted_slope(x) };
    let mut before = slope(0.0);
    let mut peaks = if before.f <= 0.0 { vec![0.0] } else { Vec::new() };
    for place in sorted.places() {
        let here = slope(place);
        if before.f > 0.0 && here.f <= 0.0 {
            peaks.push(root_between(|x| slope(x).f, before, here));
        }
        before = here;
    }
    let height = |tau_squared: &f64| sorted.restricted_likelihood(*tau_squared);
    let highest = peaks.into_iter().max_by(|a, b| height(a).total_cmp(&height(b)));
    let method = BetweenMethod::RestrictedLikelihood;
    Ok(CentreModel::new(effects, sorted, highest.unwrap_or(0.0), method))
}

/// Effects in an order of their own, so that the order in which centres are listed does not
/// change a digit.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Effects(Vec<CentreEffect>);

/// Weighted sums at one τ².
pub(super) struct Pool {
    /// Σw.
    pub(super) weight: f64,
    /// Weighted mean.
    pub(super) mean: f64,
    /// Σw(y−mean)².
    pub(super) q: f64,
    /// Σw − Σw²/Σw.
    pub(super) contrast: f64,
}

impl Effects {
    pub(super) fn at_least(needed: usize, effects: &[CentreEffect]) -> Result<Self, NotEstimable> {
        let found = effects.len();
        if found < needed {
            return Err(NotEstimable::TooFewCentres { found, needed });
        }
        let mut sorted = effects.to_vec();
        let key = |effect: &CentreEffect| (effect.estimate(), effect.variance());
        sorted.sort_by(|a, b| {
            let ((a, v), (b, w)) = (key(a), key(b));
            a.total_cmp(&b).then(v.total_cmp(&w))
        });
        Ok(Self(sorted))
    }

    /// k − 1.
    pub(super) fn freedom(&self) -> f64 {
        (self.0.len() - 1) as f64
    }

    /// Centre by centre, so that every term is positive and nothing cancels when one centre
    /// outweighs all others.
    pub(super) fn pool(&self, tau_squared: f64) -> Pool {
        let mut pool = Pool { weight: 0.0, mean: 0.0, q: 0.0, contrast: 0.0 };
        let mut products = 0.0;
        for effect in &self.0 {
            let weight = 1.0 / (effect.variance() + tau_squared);
            let total = pool.weight + weight;
            let distance = effect.estimate() - pool.mean;
            pool.q += pool.weight * (weight / total) * distance * distance;
            pool.mean += weight / total * distance;
            products += 2.0 * weight * pool.weight;
            pool.weight = total;
        }
        pool.contrast = products / pool.weight;
        pool
    }

    /// Σ(y − mean)² without weights.
    fn spread(&self) -> f64 {
        let mean = self.0.iter().map(|effect| effect.estimate()).sum::<f64>() / self.0.len() as f64;
        self.0.iter().map(|effect| (effect.estimate() - mean).powi(2)).sum()
    }

    /// Twice the derivative of the restricted log-likelihood.
    fn restricted_slope(&self, tau_squared: f64) -> f64 {
        let pool = self.pool(tau_squared);
        let pull = |effect: &CentreEffect| {
            ((effect.estimate() - pool.mean) / (effect.variance() + tau_squared)).powi(2)
        };
        self.0.iter().map(pull).sum::<f64>() - pool.contrast
    }

    fn restricted_likelihood(&self, tau_squared: f64) -> f64 {
        let pool = self.pool(tau_squared);
        let logs: f64 = self.0.iter().map(|effect| (effect.variance() + tau_squared).ln()).sum();
        -0.5 * (logs + pool.weight.ln() + pool.q)
    }

    /// Rising places between which the restricted likelihood has at most one peak: three to each
    /// factor e, from far below the smallest variance to where the slope is surely negative.
    fn places(&self) -> impl Iterator<Item = f64> + use<> {
        let variances = || self.0.iter().map(|effect| effect.variance());
        let smallest = variances().fold(f64::INFINITY, f64::min);
        let largest = variances().fold(0.0, f64::max);
        let low = 1e-3 * smallest;
        // With every weight within a factor 2 of 1/τ² the slope is below 0 from 4 spread/(k−1).
        let top = 1.01 * largest.max(4.0 * self.spread() / self.freedom());
        let steps = (3.0 * (top / low).ln()).ceil();
        (0..=steps as u32).map(move |step| low * (top / low).powf(f64::from(step) / steps))
    }
}
