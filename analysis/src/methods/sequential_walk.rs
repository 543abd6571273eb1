//! The test statistic of a trial on its way through the looks, among trials that have not stopped.

use std::f64::consts::{PI, TAU};

use super::distribution::normal_upper_tail;

/// Points of the rule on one panel.
const POINTS: usize = 16;

/// Widest panel, in standard deviations of the narrower of the two bells that meet on it: so wide,
/// sixteen points leave less than rounding does.
const PANEL: f64 = 3.0;

/// Where trials that go on stand: a Brownian motion over the information, as masses at places.
///
/// The integral over the last look's places is taken by Gauss–Legendre rules on panels, look after
/// look, as Armitage, McPherson and Rowe do.
pub(super) struct Walk {
    information: f64,
    masses: Vec<(f64, f64)>,
}

/// The stretch of standardised statistics in which a trial goes on.
#[derive(Clone, Copy)]
pub(super) struct Continuation {
    pub(super) lower: f64,
    pub(super) upper: f64,
}

impl Walk {
    /// All trials at 0, before any information.
    pub(super) fn start() -> Self {
        Self { information: 0.0, masses: vec![(0.0, 1.0)] }
    }

    /// Probability of going on until the look before and of standing at `z` or above at this one.
    pub(super) fn exit_above(&self, information: f64, z: f64) -> f64 {
        let (edge, step) = (z * information.sqrt(), (information - self.information).sqrt());
        self.masses.iter().map(|(place, mass)| mass * normal_upper_tail((edge - place) / step)).sum()
    }

    /// The trials that go on after a look; `next` is the information at the look that follows, and
    /// steps of more than `reach` standard deviations are too rare to matter.
    pub(super) fn beyond(&self, information: f64, stretch: Continuation, next: f64, reach: f64) -> Self {
        let step = (information - self.information).sqrt();
        let panel = PANEL * step.min((next - information).sqrt());
        let scale = information.sqrt();
        let density = |b: f64| {
            let from = self.masses.partition_point(|(place, _)| *place < b - reach * step);
            let near = self.masses[from..].iter().take_while(|(place, _)| *place <= b + reach * step);
            let bells: f64 =
                near.map(|(place, mass)| mass * (-((b - place) / step).powi(2) / 2.0).exp()).sum();
            bells / (step * TAU.sqrt())
        };
        let masses = panels(stretch.lower * scale, stretch.upper * scale, panel)
            .into_iter()
            .map(|(place, weight)| (place, weight * density(place)))
            .collect();
        Self { information, masses }
    }
}

/// Places and weights of a rule on equal panels no wider than `widest`, places rising.
fn panels(from: f64, to: f64, widest: f64) -> Vec<(f64, f64)> {
    let rule = gauss_legendre();
    let count = ((to - from) / widest).ceil().max(1.0);
    let half = (to - from) / count / 2.0;
    // A plan's smallest step keeps this to a few thousand.
    (0..count as u32)
        .flat_map(|panel| {
            let centre = from + half * f64::from(2 * panel + 1);
            rule.map(|(x, weight)| (centre + half * x, half * weight))
        })
        .collect()
}

/// Nodes and weights on (−1, 1), nodes rising, by Newton's method from Chebyshev's places.
fn gauss_legendre() -> [(f64, f64); POINTS] {
    let n = POINTS as f64;
    std::array::from_fn(|place| {
        let mut x = -(PI * (place as f64 + 0.75) / (n + 0.5)).cos();
        // Newton's method doubles its digits every round from a place this near.
        for _ in 0..8 {
            let (value, slope) = legendre(x);
            x -= value / slope;
        }
        let slope = legendre(x).1;
        (x, 2.0 / ((1.0 - x * x) * slope * slope))
    })
}

/// Legendre polynomial of degree `POINTS` and its derivative.
fn legendre(x: f64) -> (f64, f64) {
    let (mut before, mut value) = (1.0, x);
    for degree in 2..=POINTS {
        let k = degree as f64;
        (before, value) = (value, ((2.0 * k - 1.0) * x * value - (k - 1.0) * before) / k);
    }
    (value, POINTS as f64 * (x * value - before) / (x * x - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_is_exact_for_every_polynomial_of_its_degree() {
        for power in 0..2 * POINTS as i32 {
            let sum: f64 = gauss_legendre().iter().map(|(x, weight)| weight * x.powi(power)).sum();
            let exact = if power % 2 == 0 { 2.0 / f64::from(power + 1) } else { 0.0 };
            assert!((sum - exact).abs() < 1e-14, "{power}: {sum} {exact}");
        }
        let beyond: f64 = gauss_legendre().iter().map(|(x, weight)| weight * x.powi(32)).sum();
        assert!((beyond - 2.0 / 33.0).abs() > 1e-11, "the check could not fail");
    }

    #[test]
    fn nobody_is_lost_where_nobody_stops() {
        let everywhere = Continuation { lower: -12.0, upper: 12.0 };
        let mut walk = Walk::start();
        for look in 1..6 {
            let now = f64::from(look) / 6.0;
            walk = walk.beyond(now, everywhere, now + 1.0 / 6.0, 12.0);
            let total: f64 = walk.masses.iter().map(|(_, mass)| mass).sum();
            assert!((total - 1.0).abs() < 1e-13, "{total}");
            let variance: f64 = walk.masses.iter().map(|(place, mass)| mass * place * place).sum();
            assert!((variance - now).abs() < 1e-12, "{variance}");
            let beyond = walk.exit_above(now + 1.0 / 6.0, 1.96);
            assert!((beyond - normal_upper_tail(1.96)).abs() < 1e-14, "{beyond}");
        }
    }
}
