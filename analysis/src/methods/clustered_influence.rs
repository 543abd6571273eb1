//! What centres say together about one quantity, and how sure that is with few centres.

use nalgebra::{DMatrix, DVector};
use serde::{Deserialize, Serialize};

use super::interval::NotEstimable;
use super::sample::count;

/// Standard errors that allow for cases of one centre resembling each other.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CentreErrors {
    /// Without correction: too small with few centres, so no interval is made of it.
    pub cr0: f64,
    /// With the factor centres / (centres − 1).
    pub cr1: f64,
    /// With each centre's sum scaled to be unbiased if cases were independent.
    pub cr2: f64,
    /// Satterthwaite's degrees of freedom of CR2.
    pub cr2_degrees_of_freedom: f64,
    /// Number of centres, at least 2.
    pub centres: usize,
}

/// A quantity estimated by stacked equations Σ ψ(θ) = 0, centre by centre. With B the derivative of
/// −Σψ, c the gradient of the quantity and ρ = c'B⁻¹, the influence of a case is ρψ.
pub(super) struct CentreInfluence {
    /// Sum of the influences, by centre.
    pub(super) sums: Vec<f64>,
    /// Sum of the squared influences, by centre.
    pub(super) squares: Vec<f64>,
    /// Sum of influence × ψ: a column a centre.
    pub(super) crossed: DMatrix<f64>,
    /// What estimating θ from all takes out of a centre's sum: B⁻¹'B(centre)'ρ', a column a centre.
    pub(super) taken: DMatrix<f64>,
    /// Σψψ' of all cases.
    pub(super) total: DMatrix<f64>,
}

impl CentreInfluence {
    /// Nothing yet, for `equations` stacked equations.
    pub(super) fn zeros(centres: usize, equations: usize) -> Self {
        Self {
            sums: vec![0.0; centres],
            squares: vec![0.0; centres],
            crossed: DMatrix::zeros(equations, centres),
            taken: DMatrix::zeros(equations, centres),
            total: DMatrix::zeros(equations, equations),
        }
    }

    /// CR0, CR1 and CR2 with Satterthwaite's degrees of freedom.
    ///
    /// For CR2 the cases are taken as independent with the second moments they show. Of a centre's
    /// true sum ρψ(g) the estimation leaves u(g) = ρψ(g) − τ(g)Σψ, whose variance a(g) = v(g) −
    /// 2τ(g)ω(g) + τ(g)Ωτ(g)' falls short of v(g), that of the true sum. CR2 = Σ u²v/a. A centre
    /// with a = 0, whose sum is fixed at 0, contributes nothing. The degrees of freedom are
    /// (tr P)² / tr(P²), P the covariance of the u√(v/a) under the same assumption.
    pub(super) fn errors(&self) -> Result<CentreErrors, NotEstimable> {
        let centres = self.sums.len();
        if centres < 2 {
            return Err(NotEstimable::TooFewClusters { found: centres });
        }
        let carried = &self.total * &self.taken;
        let change = |g: usize| {
            let taken = self.taken.column(g);
            taken.dot(&carried.column(g)) - 2.0 * taken.dot(&self.crossed.column(g))
        };
        let scale: DVector<f64> = DVector::from_fn(centres, |g, _| {
            let (wanted, left) = (self.squares[g], self.squares[g] + change(g));
            // Rounding leaves about 1e-16 of what the estimation fixes at 0.
            if left > 1e-10 * wanted { (wanted / left).sqrt() } else { 0.0 }
        });
        let sum = |term: &dyn Fn(usize) -> f64| (0..centres).map(term).sum::<f64>();
        let cr0 = sum(&|g| self.sums[g].powi(2));
        let cr2 = sum(&|g| (scale[g] * self.sums[g]).powi(2));
        let own = |g: usize| scale[g].powi(2) * self.squares[g];
        let trace = sum(&|g| own(g) + scale[g].powi(2) * change(g));
        // P is a diagonal plus UCU' of low rank: its squares need no matrix of centres × centres.
        let crossing = sum(&|g| own(g) * (own(g) + 2.0 * scale[g].powi(2) * change(g)));
        let squares = crossing + self.low_rank_squares(&scale);
        if !(cr2 > 0.0 && trace > 0.0 && squares > 0.0) {
            return Err(NotEstimable::NoVariation);
        }
        Ok(CentreErrors {
            cr0: cr0.sqrt(),
            cr1: (cr0 * count(centres) / count(centres - 1)).sqrt(),
            cr2: cr2.sqrt(),
            cr2_degrees_of_freedom: trace * trace / squares,
            centres,
        })
    }

    /// tr((UCU')²) with U = [ω τ] scaled by centre and C = [0 −1; −1 Ω].
    fn low_rank_squares(&self, scale: &DVector<f64>) -> f64 {
        let scaled = |matrix: &DMatrix<f64>| {
            DMatrix::from_fn(matrix.nrows(), matrix.ncols(), |row, g| matrix[(row, g)] * scale[g])
        };
        let (crossed, taken) = (scaled(&self.crossed), scaled(&self.taken));
        let both = |a: &DMatrix<f64>, b: &DMatrix<f64>| a * b.transpose();
        let (aa, ab, bb) = (both(&crossed, &crossed), both(&crossed, &taken), both(&taken, &taken));
        // C U'U in blocks; the trace of its square.
        let (c11, c12) = (-ab.transpose(), -&bb);
        let (c21, c22) = (&self.total * ab.transpose() - aa, &self.total * bb - &ab);
        (&c11 * &c11).trace() + 2.0 * (&c12 * &c21).trace() + (&c22 * &c22).trace()
    }
}
