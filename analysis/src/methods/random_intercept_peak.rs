//! Where the likelihood of the random-intercept model is highest.

use super::centre_likelihood::{Pass, Spread, pass};
use super::counts::EventCount;
use super::quadrature::GaussHermite;

/// Quadrature points tried in turn, until the next rule no longer moves the fit. Ordinary centres
/// agree at once; those without events beside a large variance have lopsided peaks and need more.
const POINTS: [usize; 5] = [21, 41, 81, 161, 321];

/// Largest move between two rules, in logits and as a share of the variance.
const AGREEMENT: f64 = 1e-8;

/// Newton rounds; a maximum is reached in far fewer.
const ROUNDS: usize = 200;

/// Halvings of one step; a step that none of them mends is not taken.
const HALVINGS: usize = 30;

/// At a standard deviation of five logits, odds of 1 to 20,000 and of 20,000 to 1 are both
/// ordinary: no proportion speaks for such centres.
pub(super) const LARGEST_VARIANCE: f64 = 25.0;

/// The highest peak, sought from no spread and from a large one, then again with more points.
pub(super) fn likeliest(centres: &[EventCount], without_spread: Spread) -> (Spread, Pass) {
    let [few, more @ ..] = POINTS;
    let first = GaussHermite::new(few);
    let plain = (without_spread, pass(centres, without_spread, &first));
    let far = climb(centres, by_moments(centres), &first);
    // Where the likelihood falls from τ² = 0 onwards, another peak must be clearly higher.
    let clearly = if plain.1.by_t > 0.0 { 0.0 } else { noise(&plain.1) };
    let higher = far.1.log_likelihood > plain.1.log_likelihood + clearly;
    let mut best = if higher { far } else { climb(centres, without_spread, &first) };
    for points in more {
        let finer = climb(centres, best.0, &GaussHermite::new(points));
        let moved = best.0.distance(finer.0);
        best = finer;
        // At the largest variance a rule with few points may be wrong: it is asked again.
        if moved < AGREEMENT && best.0.tau_squared < LARGEST_VARIANCE {
            break;
        }
    }
    best
}

/// Mean and variance of the log odds of the centres, ½ added to each count: a place to start.
fn by_moments(centres: &[EventCount]) -> Spread {
    let own = || centres.iter().map(|centre| ((centre.x() + 0.5) / (centre.y() + 0.5)).ln());
    let count = centres.len() as f64;
    let mean = own().sum::<f64>() / count;
    let variance = own().map(|log_odds| (log_odds - mean).powi(2)).sum::<f64>() / (count - 1.0);
    Spread { log_odds: mean, tau_squared: variance.clamp(0.01, 9.0) }
}

/// Below this a fall of the likelihood is rounding, or the error of a rule with few points.
fn noise(pass: &Pass) -> f64 {
    1e-9 + 1e-13 * pass.log_likelihood.abs()
}

/// Newton's method in β and τ², held to τ² ≥ 0 and to steps that do not lower the likelihood.
fn climb(centres: &[EventCount], start: Spread, rule: &GaussHermite) -> (Spread, Pass) {
    let mut at = start;
    let mut here = pass(centres, at, rule);
    for _ in 0..ROUNDS {
        let mut tried = next(at, &here);
        let mut there = pass(centres, tried, rule);
        let mut halvings = 0;
        while halvings < HALVINGS && !better(&there, &here) {
            tried = at.halfway(tried);
            there = pass(centres, tried, rule);
            halvings += 1;
        }
        let moved = at.distance(tried);
        if halvings == HALVINGS {
            break;
        }
        (at, here) = (tried, there);
        if moved < 1e-10 || at.tau_squared >= LARGEST_VARIANCE {
            break;
        }
    }
    (at, here)
}

/// Higher, or nearer to level ground: with few points the likelihood and its slopes do not
/// agree to the last digits, and the slopes decide.
fn better(there: &Pass, here: &Pass) -> bool {
    there.log_likelihood >= here.log_likelihood - noise(here)
        || Profile::of(there).to_gain() < 0.5 * Profile::of(here).to_gain()
}

impl Spread {
    fn halfway(self, other: Self) -> Self {
        Self {
            log_odds: 0.5 * (self.log_odds + other.log_odds),
            tau_squared: 0.5 * (self.tau_squared + other.tau_squared),
        }
    }

    /// How far apart, in logits and as a share of the variance.
    fn distance(self, other: Self) -> f64 {
        let variances = self.tau_squared.max(other.tau_squared).max(1e-6);
        let apart = (self.tau_squared - other.tau_squared).abs() / variances;
        apart.max((self.log_odds - other.log_odds).abs())
    }
}

/// The likelihood along the variance, the log odds following it.
struct Profile {
    slope: f64,
    curvature: f64,
    /// What moving the log odds alone would gain.
    by_log_odds: f64,
}

impl Profile {
    fn of(pass: &Pass) -> Self {
        let follow = pass.by_beta_t / pass.by_beta_beta;
        Self {
            slope: pass.by_t - follow * pass.by_beta,
            curvature: pass.by_t_t - follow * pass.by_beta_t,
            by_log_odds: -pass.by_beta * pass.by_beta / pass.by_beta_beta,
        }
    }

    /// Twice the rise to the peak of a parabola; infinite where the profile has none.
    fn to_gain(&self) -> f64 {
        if self.curvature < 0.0 {
            self.by_log_odds - self.slope * self.slope / self.curvature
        } else {
            f64::INFINITY
        }
    }

    /// Newton's step in the variance; a bounded stride uphill where the profile bends upwards.
    fn step(&self, tau_squared: f64) -> f64 {
        let up = 3.0 * tau_squared + 0.1;
        if self.curvature < 0.0 {
            (-self.slope / self.curvature).min(up)
        } else if self.slope < 0.0 {
            -tau_squared / 1.5
        } else {
            up
        }
    }
}

/// Where Newton's method goes from here.
fn next(at: Spread, here: &Pass) -> Spread {
    let step = Profile::of(here).step(at.tau_squared);
    let tau_squared = (at.tau_squared + step).clamp(0.0, LARGEST_VARIANCE);
    let change = tau_squared - at.tau_squared;
    let follow = -(here.by_beta + here.by_beta_t * change) / here.by_beta_beta;
    Spread { log_odds: at.log_odds + follow.clamp(-5.0, 5.0), tau_squared }
}
