//! Likelihood of one centre's counts when its log odds are drawn from a normal distribution.

use super::counts::EventCount;
use super::quadrature::GaussHermite;

/// Where the likelihood is evaluated: log odds of the median centre and their variance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spread {
    pub(super) log_odds: f64,
    pub(super) tau_squared: f64,
}

/// Log-likelihood of one or more centres with its first and second derivatives by the log
/// odds β of the median centre and by the variance t = τ².
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Pass {
    pub(super) log_likelihood: f64,
    pub(super) by_beta: f64,
    pub(super) by_t: f64,
    pub(super) by_beta_beta: f64,
    pub(super) by_beta_t: f64,
    pub(super) by_t_t: f64,
}

impl Pass {
    fn add(&mut self, other: Self) {
        self.log_likelihood += other.log_likelihood;
        self.by_beta += other.by_beta;
        self.by_t += other.by_t;
        self.by_beta_beta += other.by_beta_beta;
        self.by_beta_t += other.by_beta_t;
        self.by_t_t += other.by_t_t;
    }
}

/// All centres at one place.
///
/// The likelihood F of a centre, a binomial one averaged over a normal distribution, obeys the
/// heat equation ∂F/∂t = ½∂²F/∂β². So every derivative follows from the ratios
/// D_j = (∂^j F/∂β^j)/F, and nothing is singular at t = 0.
pub(super) fn pass(centres: &[EventCount], at: Spread, rule: &GaussHermite) -> Pass {
    let mut sum = Pass::default();
    for centre in centres {
        sum.add(Centre::of(*centre, at).pass(rule));
    }
    sum
}

/// One centre, mirrored where needed so that its likeliest proportion is at most one half.
struct Centre {
    events: f64,
    non_events: f64,
    sigma: f64,
    /// Likeliest log odds of this centre, and the standardised distance from the median centre.
    log_odds: f64,
    distance: f64,
    mirrored: bool,
}

impl Centre {
    fn of(counts: EventCount, at: Spread) -> Self {
        let centre = Self {
            events: counts.x(),
            non_events: counts.y(),
            sigma: at.tau_squared.sqrt(),
            log_odds: at.log_odds,
            distance: 0.0,
            mirrored: false,
        };
        let mut found = centre.at_mode();
        if found.log_odds > 0.0 {
            std::mem::swap(&mut found.events, &mut found.non_events);
            found.log_odds = -found.log_odds;
            found.distance = -found.distance;
            found.mirrored = true;
        }
        found
    }

    fn n(&self) -> f64 {
        self.events + self.non_events
    }

    /// Slope of the log-likelihood of the counts, x − np, without cancellation at either end.
    fn slope(&self, log_odds: f64) -> f64 {
        self.events / (1.0 + log_odds.exp()) - self.non_events / (1.0 + (-log_odds).exp())
    }

    /// Newton's method for the standardised distance u where σ(x − np) − u = 0; the left side
    /// falls in u, so that its sign keeps a bracket for the steps that go astray.
    fn at_mode(mut self) -> Self {
        let (start, sigma) = (self.log_odds, self.sigma);
        let edge = sigma * self.slope(start);
        let (mut low, mut high) = (edge.min(0.0), edge.max(0.0));
        let own = ((self.events + 0.5) / (self.non_events + 0.5)).ln();
        let information = sigma * sigma * (self.events + 0.5) * (self.non_events + 0.5) / (self.n() + 1.0);
        let mut u = if sigma > 0.0 { (own - start) / sigma * information / (1.0 + information) } else { 0.0 };
        let mut before = f64::INFINITY;
        for _ in 0..200 {
            let log_odds = start + sigma * u;
            let excess = sigma * self.slope(log_odds) - u;
            if excess > 0.0 {
                low = u
            } else {
                high = u
            }
            let p = 1.0 / (1.0 + (-log_odds).exp());
            let step = excess / (1.0 + sigma * sigma * self.n() * p * (1.0 - p));
            if step.abs() <= 1e-9 * (1.0 + u.abs()) {
                break;
            }
            // Where Newton leaves the bracket or crawls, halving does not.
            let ahead = u + step;
            let newton = ahead > low && ahead < high && step.abs() < 0.5 * before;
            let next = if newton { ahead } else { 0.5 * (low + high) };
            before = (next - u).abs();
            u = next;
        }
        self.distance = u;
        self.log_odds = start + sigma * u;
        self
    }

    fn pass(&self, rule: &GaussHermite) -> Pass {
        let p = 1.0 / (1.0 + (-self.log_odds).exp());
        let information = self.sigma * self.sigma * self.n() * p * (1.0 - p);
        let scale = (1.0 + information).sqrt().recip();
        // Two exact forms of the same ratios: by the derivatives of the binomial likelihood, and
        // by Hermite polynomials of the distance. Each cancels where the other does not.
        let by_distance = information > 1.0;
        let mut mass = 0.0;
        let mut ratios = [0.0; 4];
        for node in &rule.nodes {
            let beyond = scale * node.place;
            let move_by = self.sigma * beyond;
            let growth = move_by.exp_m1();
            let fall = (p * growth).ln_1p();
            let prior = -beyond * (self.distance + beyond / 2.0);
            let weight = node.weight * (self.events * move_by - self.n() * fall + prior).exp();
            let own = if by_distance {
                self.hermite(self.distance + beyond)
            } else {
                self.derivatives(p * (growth + 1.0) / (1.0 + p * growth))
            };
            mass += weight;
            for (ratio, own) in ratios.iter_mut().zip(own) {
                *ratio += weight * own;
            }
        }
        let [mut first, second, mut third, fourth] = ratios.map(|ratio| ratio / mass);
        if self.mirrored {
            (first, third) = (-first, -third);
        }
        let height = self.events * self.log_odds - self.n() * self.log_odds.exp().ln_1p();
        let around = (scale * mass / (2.0 * std::f64::consts::PI).sqrt()).ln();
        Pass {
            log_likelihood: height - self.distance * self.distance / 2.0 + around,
            by_beta: first,
            by_t: second / 2.0,
            by_beta_beta: second - first * first,
            by_beta_t: (third - first * second) / 2.0,
            by_t_t: (fourth - second * second) / 4.0,
        }
    }

    /// f′/f to f⁗/f of the binomial likelihood f by the log odds, at proportion `p`.
    fn derivatives(&self, p: f64) -> [f64; 4] {
        let v = p * (1.0 - p);
        let n = self.n();
        let (a, b) = (self.events - n * p, -n * v);
        let (c, d) = (b * (1.0 - 2.0 * p), b * (1.0 - 6.0 * v));
        let square = a * a;
        [
            a,
            square + b,
            a * (square + 3.0 * b) + c,
            square * (square + 6.0 * b) + 3.0 * b * b + 4.0 * a * c + d,
        ]
    }

    /// Hermite polynomials of the standardised distance over powers of σ: the same ratios after
    /// integration by parts.
    fn hermite(&self, u: f64) -> [f64; 4] {
        let (square, s) = (u * u, self.sigma);
        [
            u / s,
            (square - 1.0) / (s * s),
            u * (square - 3.0) / (s * s * s),
            (square * (square - 6.0) + 3.0) / (s * s * s * s),
        ]
    }
}
