//! Bracketed root finding that always ends.

/// A place and the value of the function there.
#[derive(Clone, Copy)]
pub(crate) struct Point {
    pub(crate) x: f64,
    pub(crate) f: f64,
}

/// Rounds after which a bracket of any two doubles has shrunk to neighbours
/// even if interpolation never helped.
const ROUNDS: usize = 4_000;

/// Root of a continuous function between two points of opposite sign, by
/// Chandrupatla's mixture of inverse quadratic interpolation and bisection
/// (Advances in Engineering Software 1997;28:145–149, from memory).
///
/// Stops when the bracket is a few units in the last place wide (or narrower than
/// 1e-300), or when the function is exactly 0.
pub(crate) fn root_between(f: impl Fn(f64) -> f64, from: Point, to: Point) -> f64 {
    if from.f == 0.0 {
        return from.x;
    }
    if to.f == 0.0 {
        return to.x;
    }
    let (mut b, mut a) = (from, to);
    let mut step = 0.5;
    for _ in 0..ROUNDS {
        let x = a.x + step * (b.x - a.x);
        let tried = Point { x, f: f(x) };
        let c = if tried.f.signum() == a.f.signum() {
            a
        } else {
            let kept = b;
            b = a;
            kept
        };
        a = tried;
        let best = if a.f.abs() < b.f.abs() { a } else { b };
        let tolerance = 2.0 * f64::EPSILON * best.x.abs() + 1e-300;
        let shortest = tolerance / (b.x - a.x).abs();
        if best.f == 0.0 || shortest > 0.5 || shortest.is_nan() {
            return best.x;
        }
        step = interpolated_step(a, b, c).clamp(shortest, 1.0 - shortest);
    }
    if a.f.abs() < b.f.abs() { a.x } else { b.x }
}

/// Inverse quadratic step where it is safe, one half where it is not.
fn interpolated_step(a: Point, b: Point, c: Point) -> f64 {
    let xi = (a.x - b.x) / (c.x - b.x);
    let phi = (a.f - b.f) / (c.f - b.f);
    if phi * phi >= xi || (1.0 - phi).powi(2) >= 1.0 - xi {
        return 0.5;
    }
    let step = a.f / (b.f - a.f) * c.f / (b.f - c.f)
        + (c.x - a.x) / (b.x - a.x) * a.f / (c.f - a.f) * b.f / (c.f - b.f);
    if step.is_finite() { step } else { 0.5 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn solve(f: impl Fn(f64) -> f64 + Copy, from: f64, to: f64) -> f64 {
        root_between(f, Point { x: from, f: f(from) }, Point { x: to, f: f(to) })
    }

    #[test]
    fn finds_smooth_flat_and_broken_roots() {
        assert!((solve(|x| x * x - 2.0, 0.0, 2.0) - std::f64::consts::SQRT_2).abs() < 1e-15);
        assert!((solve(|x| (x - 0.25).powi(9), 0.0, 1.0) - 0.25).abs() < 1e-15);
        assert!((solve(|x| if x < 0.7 { -1.0 } else { 1.0 }, 0.0, 1.0) - 0.7).abs() < 1e-15);
        assert!((solve(|x| x - 1e-12, 0.0, 1.0) - 1e-12).abs() < 1e-26);
        assert!((solve(|x| x.exp() - 1e-30, -745.0, 1.0) - 1e-30_f64.ln()).abs() < 1e-13);
    }

    #[test]
    fn an_infinite_end_does_not_stall() {
        let root =
            root_between(|x| 1.0 / x - 4.0, Point { x: 0.0, f: f64::INFINITY }, Point { x: 1.0, f: -3.0 });
        assert!((root - 0.25).abs() < 1e-15);
    }
}
