//! Proportions over centres by a logistic model in which every centre has its own log odds.

use serde::{Deserialize, Serialize};

use super::centre_likelihood::{Pass, Spread};
use super::counts::EventCount;
use super::interval::{Confidence, Interval, IntervalMethod, NotEstimable};
use super::random_intercept_peak::{LARGEST_VARIANCE, likeliest};

/// A fitted random-intercept logistic model without covariates.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RandomIntercept {
    /// Log odds of the event at the median centre.
    pub log_odds: f64,
    /// Standard error of these log odds.
    pub standard_error: f64,
    /// Variance of the centres' log odds, from 0.
    pub tau_squared: f64,
    /// Proportion at the median centre: half of all centres lie below it.
    pub median_centre: Interval,
    /// Marginal proportion: the mean of all centres' proportions. It lies nearer to one half
    /// than the median centre's, the more the centres differ.
    pub marginal: Interval,
}

/// Random-intercept logistic model by adaptive Gauss–Hermite quadrature.
///
/// Formula: maximises Π ∫ C(n,x) p^x (1−p)^(n−x) φ(u) du over β and τ² ≥ 0, logit p = β + τu,
/// with 21 points or more around each centre's own peak; limits logit⁻¹(β ± z·se) for the median
/// centre p = logit⁻¹(β), and on the logit scale by the delta method for the marginal ∫ p φ(u) du.
/// Units: proportions between 0 and 1; log odds and τ² in natural logarithms.
/// Edges: a centre without events is ordinary. τ² = 0 is an ordinary answer: both proportions
/// are then the plain one, and the standard error takes it as known. No variation, fewer than
/// two centres, only events or none in every centre, or τ of 5 and more are refused.
/// Source: [pinheiro_bates1995], [hamza2008]; median against marginal [zeger1988].
/// Checked: tests/numbers/random_intercept.csv, tests/numbers/random_intercept_edges.csv,
/// tests/numbers/random_intercept_exact.csv.
pub fn random_intercept_logistic(
    centres: &[EventCount],
    level: Confidence,
) -> Result<RandomIntercept, NotEstimable> {
    let mut sorted = centres.to_vec();
    // An order of their own: the order in which centres are listed must not change a digit.
    sorted.sort_by_key(|centre| (centre.total(), centre.events()));
    let without_spread = without_spread(&sorted)?;
    let best = likeliest(&sorted, without_spread);
    if best.0.tau_squared >= LARGEST_VARIANCE {
        return Err(NotEstimable::CentresTooFarApart);
    }
    Ok(described(best, level))
}

/// The fit at τ² = 0: all cases together.
fn without_spread(centres: &[EventCount]) -> Result<Spread, NotEstimable> {
    let found = centres.len();
    if found < 2 {
        return Err(NotEstimable::TooFewCentres { found, needed: 2 });
    }
    let events: u64 = centres.iter().map(|centre| u64::from(centre.events())).sum();
    let others: u64 = centres.iter().map(|centre| u64::from(centre.non_events())).sum();
    if events == 0 || others == 0 {
        return Err(NotEstimable::NoVariation);
    }
    if centres.iter().all(|centre| centre.events() == 0 || centre.non_events() == 0) {
        return Err(NotEstimable::CentresAllOrNone);
    }
    Ok(Spread { log_odds: (events as f64 / others as f64).ln(), tau_squared: 0.0 })
}

fn described((at, here): (Spread, Pass), level: Confidence) -> RandomIntercept {
    let covariance = Covariance::of(at, &here);
    let standard_error = covariance.beta.sqrt();
    let limits = |centre: f64, spread: f64, method| {
        let at = |z: f64| proportion(centre + z * spread);
        let z = level.z();
        Interval { estimate: at(0.0), lower: at(-z), upper: at(z), level, method }
    };
    let marginal = Marginal::of(at);
    RandomIntercept {
        log_odds: at.log_odds,
        standard_error,
        tau_squared: at.tau_squared,
        median_centre: limits(at.log_odds, standard_error, IntervalMethod::RandomInterceptMedianCentre),
        marginal: limits(
            marginal.logit,
            marginal.spread(&covariance),
            IntervalMethod::RandomInterceptMarginal,
        ),
    }
}

fn proportion(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

/// Inverse of the observed information; a variance held at 0 has none.
struct Covariance {
    beta: f64,
    cross: f64,
    t: f64,
}

impl Covariance {
    fn of(at: Spread, here: &Pass) -> Self {
        let determinant = here.by_beta_beta * here.by_t_t - here.by_beta_t * here.by_beta_t;
        if at.tau_squared > 0.0 && here.by_t_t < 0.0 && determinant > 0.0 {
            Self {
                beta: -here.by_t_t / determinant,
                cross: here.by_beta_t / determinant,
                t: -here.by_beta_beta / determinant,
            }
        } else {
            Self { beta: -1.0 / here.by_beta_beta, cross: 0.0, t: 0.0 }
        }
    }
}

/// Mean proportion over the distribution of centres, on the logit scale.
struct Marginal {
    logit: f64,
    by_beta: f64,
    by_t: f64,
}

impl Marginal {
    /// By the trapezoid rule, whose error falls exponentially for a function without nearby
    /// poles; those of the logistic curve lie π/τ away.
    fn of(at: Spread) -> Self {
        const REACH: i32 = 9 * 32;
        let sigma = at.tau_squared.sqrt();
        let (mut mass, mut events, mut others, mut slope, mut bend) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for step in -REACH..=REACH {
            let u = f64::from(step) / 32.0;
            let weight = (-u * u / 2.0).exp();
            let log_odds = at.log_odds + sigma * u;
            let (p, q) = (proportion(log_odds), proportion(-log_odds));
            mass += weight;
            events += weight * p;
            others += weight * q;
            slope += weight * p * q;
            bend += weight * p * q * (q - p);
        }
        // d logit m = dm / m(1−m); by τ² the mean moves as half its second derivative by β.
        let unit = mass / (events * others);
        Self { logit: (events / others).ln(), by_beta: slope * unit, by_t: bend * unit / 2.0 }
    }

    fn spread(&self, covariance: &Covariance) -> f64 {
        let Self { by_beta: b, by_t: t, .. } = *self;
        let variance = b * b * covariance.beta + 2.0 * b * t * covariance.cross + t * t * covariance.t;
        variance.max(0.0).sqrt()
    }
}
