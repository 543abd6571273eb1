//! Gauss–Hermite quadrature for integrands that are nearly normal.

use super::distribution::{Point, root_between};

/// Places and weights with ∫g(z)dz ≈ Σ weight·g(place) for g near a polynomial times the
/// standard normal density.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct GaussHermite {
    pub(super) nodes: Vec<Node>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Node {
    pub(super) place: f64,
    pub(super) weight: f64,
}

impl GaussHermite {
    /// The rule with `points` places; at least one.
    ///
    /// The places are the zeros of the Hermite function u of that degree n. As
    /// u″ = −(n + ½ − z²/4)u, they lie within ±2√(n+½) and at least π/√(n+½) apart (Sturm), so that
    /// half that stride meets each one alone. A weight is 1/Σh² over the normalised functions of
    /// lower degree: a sum of squares, so that the far weights, which an adaptive rule multiplies
    /// up again, keep their digits.
    pub(super) fn new(points: usize) -> Self {
        let frequency = (points as f64 + 0.5).sqrt();
        let stride = std::f64::consts::FRAC_PI_2 / frequency;
        let at = |x: f64| Point { x, f: hermite_functions(x, points, |_| ()) };
        // An odd rule has a place at 0 itself, and the next one lies a full distance beyond.
        let mut nodes = if points % 2 == 1 { vec![Node::at(0.0, points)] } else { Vec::new() };
        let mut before = at(if points % 2 == 1 { stride } else { 0.0 });
        while before.x < 2.0 * frequency {
            let here = at(before.x + stride);
            if here.f.signum() != before.f.signum() {
                let right = Node::at(root_between(|x| at(x).f, before, here), points);
                nodes.extend([right, Node { place: -right.place, ..right }]);
            }
            before = here;
        }
        nodes.sort_by(|a, b| a.place.total_cmp(&b.place));
        Self { nodes }
    }
}

impl Node {
    fn at(place: f64, points: usize) -> Self {
        let mut squares = 0.0;
        hermite_functions(place, points, |h| squares += h * h);
        Self { place, weight: 1.0 / squares }
    }
}

/// Calls `each` with the normalised Hermite functions of degree 0 to `degree` − 1 and returns
/// the one of degree `degree`.
fn hermite_functions(place: f64, degree: usize, mut each: impl FnMut(f64)) -> f64 {
    let mut before = 0.0;
    let mut here = (-place * place / 4.0).exp() / (2.0 * std::f64::consts::PI).powf(0.25);
    for k in 0..degree {
        each(here);
        let k = k as f64;
        let next = (place * here - k.sqrt() * before) / (k + 1.0).sqrt();
        before = here;
        here = next;
    }
    here
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ∫z^power φ(z)dz by the rule.
    fn moment(points: usize, power: i32) -> f64 {
        let density = |z: f64| (-z * z / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt();
        let rule = GaussHermite::new(points);
        rule.nodes.iter().map(|n| n.weight * n.place.powi(power) * density(n.place)).sum()
    }

    #[test]
    fn moments_of_the_normal_distribution_are_exact() {
        for points in [7, 8, 21, 41, 321] {
            assert_eq!(GaussHermite::new(points).nodes.len(), points);
            // (2m−1)!! for even powers, 0 for odd ones: exact to the degree 2·points − 1.
            let mut expected = 1.0;
            for power in (0..13).step_by(2) {
                let got = moment(points, power);
                assert!((got / expected - 1.0).abs() < 1e-12, "{points} {power}: {got} {expected}");
                assert!(moment(points, power + 1).abs() < 1e-10 * expected * f64::from(power + 2));
                expected *= f64::from(power + 1);
            }
        }
    }

    #[test]
    fn five_points_as_tabulated() {
        // Abramowitz and Stegun, Handbook of Mathematical Functions, table 25.10, from memory:
        // n = 5, place 2.020182870456086, weight times e^(x²) 1.181488625536; here places are
        // larger by √2 and so are the weights.
        let last = GaussHermite::new(5).nodes[4];
        assert!((last.place / std::f64::consts::SQRT_2 - 2.020_182_870_456_086).abs() < 1e-14);
        assert!((last.weight / std::f64::consts::SQRT_2 - 1.181_488_625_536).abs() < 1e-11);
    }
}
