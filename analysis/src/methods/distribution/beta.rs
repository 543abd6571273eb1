//! Incomplete beta function and quantile of the beta distribution.

use statrs::function::gamma::ln_gamma;

use super::share::{Share, rising_root_on_logits};

/// Both tails of a continuous distribution at one place; each keeps its own accuracy.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tails {
    /// Probability at or below the place.
    pub lower: f64,
    /// Probability above the place.
    pub upper: f64,
}

/// Tails of the beta distribution with shapes `a`, `b` > 0 at `x` in [0, 1].
///
/// The density in front is Loader's saddle-point form, which has no cancellation at
/// large shapes; behind it stands the continued fraction of the incomplete beta function.
pub fn beta_tails(a: f64, b: f64, x: f64) -> Tails {
    tails(a, b, Share { x, complement: 1.0 - x })
}

impl Tails {
    /// Logarithm of how far `reached` has risen beyond these tails, by the smaller of the two,
    /// which is the one that still has its digits.
    pub(crate) fn shortfall(self, reached: Tails) -> f64 {
        if self.lower <= self.upper {
            (reached.lower / self.lower).ln()
        } else {
            (self.upper / reached.upper).ln()
        }
    }
}

pub(crate) fn tails(a: f64, b: f64, at: Share) -> Tails {
    if at.x <= 0.0 {
        return Tails { lower: 0.0, upper: 1.0 };
    }
    if at.complement <= 0.0 {
        return Tails { lower: 1.0, upper: 0.0 };
    }
    // The fraction converges fast only on the near side of the mean.
    if at.x > (a + 1.0) / (a + b + 2.0) {
        let flipped = near_tail(b, a, at.flipped());
        return Tails { lower: 1.0 - flipped, upper: flipped };
    }
    let lower = near_tail(a, b, at);
    Tails { lower, upper: 1.0 - lower }
}

fn near_tail(a: f64, b: f64, at: Share) -> f64 {
    (front(a, b, at) / continued_fraction(a, b, at)).min(1.0)
}

/// x^a (1−x)^b / B(a, b): the density of the logit of x.
pub(crate) fn front(a: f64, b: f64, at: Share) -> f64 {
    let n = a + b;
    let exponent = stirling_error(n)
        - stirling_error(a)
        - stirling_error(b)
        - deviance(a, n * at.x)
        - deviance(b, n * at.complement);
    (a / n * b / (2.0 * std::f64::consts::PI)).sqrt() * exponent.exp()
}

/// ln Γ(x + 1) − [(x + ½) ln x − x + ½ ln 2π].
pub(super) fn stirling_error(x: f64) -> f64 {
    if x < 16.0 {
        const HALF_LN_TWO_PI: f64 = 0.918_938_533_204_672_8;
        return ln_gamma(x + 1.0) - (x + 0.5) * x.ln() + x - HALF_LN_TWO_PI;
    }
    let r = 1.0 / (x * x);
    let series = r * (1.0 / 1260.0 - r * (1.0 / 1680.0 - r * (1.0 / 1188.0 - r * 691.0 / 360_360.0)));
    (1.0 / 12.0 - r * (1.0 / 360.0) + r * series) / x
}

/// x ln(x/m) + m − x, without cancellation where x is near m.
pub(super) fn deviance(x: f64, m: f64) -> f64 {
    if (x - m).abs() >= 0.1 * (x + m) {
        return x * (x / m).ln() + m - x;
    }
    let v = (x - m) / (x + m);
    let mut sum = (x - m) * v;
    let mut term = 2.0 * x * v;
    // |v| < 0.1, so each round adds two digits and twenty are more than enough.
    for k in 1..20 {
        term *= v * v;
        let next = sum + term / f64::from(2 * k + 1);
        if next == sum {
            break;
        }
        sum = next;
    }
    sum
}

/// Continued fraction of the incomplete beta function in the contracted form of DiDonato and
/// Morris (ACM Trans Math Softw 1992;18:360–373, from memory), by the modified Lentz rule.
///
/// It needs 1 − x by itself: the usual form subtracts nearly equal terms when `a` is large and
/// `b` small. The number of terms grows with the square root of the larger shape.
fn continued_fraction(a: f64, b: f64, at: Share) -> f64 {
    const TINY: f64 = 1e-300;
    const TERMS: u32 = 1_000_000;
    let away_from_zero = |v: f64| if v.abs() < TINY { TINY } else { v };
    let Share { x, complement } = at;
    let lead = a * complement - b * x + 1.0;
    let mut value = away_from_zero(a * lead / (a + 1.0));
    let mut c = value;
    let mut d = 0.0;
    for m in 1..TERMS {
        let m = f64::from(m);
        let odd = a + 2.0 * m - 1.0;
        let numerator = (a + m - 1.0) / odd * (a + b + m - 1.0) / odd * m * (b - m) * x * x;
        let denominator = m + m * (b - m) * x / odd + (a + m) * (lead + m * (1.0 + complement)) / (odd + 2.0);
        d = 1.0 / away_from_zero(denominator + numerator * d);
        c = away_from_zero(denominator + numerator / c);
        let change = c * d;
        value *= change;
        if (change - 1.0).abs() <= f64::EPSILON {
            break;
        }
    }
    value
}

/// The x with lower tail `p` of the beta distribution with shapes `a`, `b` > 0;
/// `p` strictly between 0 and 1.
///
/// Solved on the logit scale for the logarithm of the smaller tail, so that a limit
/// near 0 or 1 keeps its relative accuracy.
pub fn beta_quantile(a: f64, b: f64, p: f64) -> f64 {
    quantile(a, b, Tails { lower: p, upper: 1.0 - p }).x
}

/// The x with upper tail `p`; no digit of a small `p` is lost.
pub fn beta_upper_quantile(a: f64, b: f64, p: f64) -> f64 {
    quantile(a, b, Tails { lower: 1.0 - p, upper: p }).x
}

/// x / (1 − x) at the x with upper tail `p`.
pub(super) fn beta_upper_quantile_odds(a: f64, b: f64, p: f64) -> f64 {
    quantile(a, b, Tails { lower: 1.0 - p, upper: p }).odds()
}

fn quantile(a: f64, b: f64, wanted: Tails) -> Share {
    let stride = (1.0 / a + 1.0 / b).sqrt();
    rising_root_on_logits((a / b).ln(), stride, |at| wanted.shortfall(tails(a, b, at)))
}
