//! Do the centres differ by more than chance, and by how much of what is seen?

use serde::{Deserialize, Serialize};

use super::association::ChiSquareTest;
use super::between_centres::{BetweenMethod, CentreModel, Effects};
use super::centre_effects::CentreEffect;
use super::interval::NotEstimable;

/// Heterogeneity by Cochran's Q: the primary statement, the same for every τ².
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Heterogeneity {
    /// Cochran's Q, its degrees of freedom and its p value.
    pub q: ChiSquareTest,
    /// I² from Q: the share of the variation that is not chance, between 0 and 1.
    pub i_squared_from_q: f64,
    /// H² from Q: Q over its degrees of freedom, from 0.
    pub h_squared_from_q: f64,
}

/// Cochran's test that all centres have one effect, with I² and H² from Q.
///
/// Formula: Q = Σw(y−m)², w = 1/v; I² = max(0, (Q−(k−1))/Q); H² = Q/(k−1).
/// Units: chi-square with k−1 degrees of freedom; I² between 0 and 1, never a percentage.
/// Edges: with few or small centres the test misses much; fewer than two are refused.
/// Source: [cochran1954], [higgins_thompson2002].
/// Checked: tests/numbers/pooling.csv.
pub fn heterogeneity(effects: &[CentreEffect]) -> Result<Heterogeneity, NotEstimable> {
    let sorted = Effects::at_least(2, effects)?;
    let (q, df) = (sorted.pool(0.0).q, sorted.freedom());
    let i_squared_from_q = if q > df { (q - df) / q } else { 0.0 };
    Ok(Heterogeneity { q: ChiSquareTest::new(q, df), i_squared_from_q, h_squared_from_q: q / df })
}

/// Heterogeneity by τ²: differs with the method of τ², and from the statement by Q.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct TauHeterogeneity {
    /// I² from τ²: τ² over τ² plus the typical variance within a centre, between 0 and 1.
    pub i_squared_from_tau: f64,
    /// H² from τ²: the sum of both over the typical variance, from 1.
    pub h_squared_from_tau: f64,
    /// How τ² was obtained.
    pub method: BetweenMethod,
}

/// I² and H² from τ² and the typical variance within a centre.
///
/// Formula: I² = τ²/(τ²+s²), H² = (τ²+s²)/s², s² = (k−1)Σw/((Σw)²−Σw²), w = 1/v.
/// Units: I² between 0 and 1, never a percentage.
/// Edges: a common effect has no τ² to speak of and is refused, as are fewer than two centres.
/// Source: [higgins_thompson2002].
/// Checked: tests/numbers/pooling.csv.
pub fn tau_heterogeneity(model: &CentreModel) -> Result<TauHeterogeneity, NotEstimable> {
    let between = model.between();
    if between.method == BetweenMethod::CommonEffect {
        return Err(NotEstimable::OneCommonEffect);
    }
    let typical = model.effects.freedom() / model.effects.pool(0.0).contrast;
    Ok(TauHeterogeneity {
        i_squared_from_tau: between.tau_squared / (between.tau_squared + typical),
        h_squared_from_tau: (between.tau_squared + typical) / typical,
        method: between.method,
    })
}
