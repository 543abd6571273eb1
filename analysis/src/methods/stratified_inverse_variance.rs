//! Score interval over strata with weights that follow the variance under test.

use super::counts::{Stratum, TwoArms};
use super::distribution::{Point, root_between};
use super::interval::{Confidence, Interval, IntervalMethod, NotEstimable};
use super::mantel_haenszel::comparable;
use super::score::{finite_sample_factor, restricted_variance};

/// Miettinen–Nurminen interval over strata with inverse-variance weights.
///
/// Formula: the δ where Σ(p1 − p2 − δ)/V(δ) / √Σ1/V(δ) reaches the normal quantile, V the
/// restricted variance times N/(N−1) at that same δ; the estimate is where it is 0.
/// Units: proportions between 0 and 1; the difference between −1 and 1.
/// Edges: strata with an empty arm contribute nothing; a stratum without events, or with only
/// events, would have infinite weight at δ = 0, so nothing is estimated.
/// Source: [miettinen_nurminen1985].
/// Checked: tests/numbers/stratified.csv.
pub fn inverse_variance_miettinen_nurminen_interval(
    strata: &[Stratum],
    level: Confidence,
) -> Result<Interval, NotEstimable> {
    let both = comparable(strata)?;
    let constant = |t: &TwoArms| {
        t.first.events() + t.second.events() == 0 || t.first.non_events() + t.second.non_events() == 0
    };
    if both.iter().any(constant) {
        return Err(NotEstimable::NoVariationInStratum);
    }
    let swapped: Vec<TwoArms> = both.iter().map(|t| t.swapped()).collect();
    let estimate = limit(&both, 0.0);
    Ok(Interval {
        estimate,
        lower: -limit(&swapped, level.z()),
        upper: limit(&both, level.z()),
        level,
        method: IntervalMethod::InverseVarianceMiettinenNurminen,
    })
}

/// The δ at which the statistic falls to −z.
fn limit(both: &[TwoArms], z: f64) -> f64 {
    let differences = both.iter().map(|t| t.difference());
    let (low, high) = differences.fold((1.0_f64, -1.0_f64), |(l, h), d| (l.min(d), h.max(d)));
    if low >= 1.0 {
        return 1.0;
    }
    let excess = |delta: f64| {
        let (mut precision, mut weighted) = (0.0, 0.0);
        for t in both {
            let weight = 1.0 / (finite_sample_factor(*t) * restricted_variance(*t, delta));
            precision += weight;
            weighted += weight * (delta - t.difference());
        }
        weighted / precision - z / precision.sqrt()
    };
    if z == 0.0 && low == high {
        return low;
    }
    // Just inside ±1, where every restricted variance vanishes.
    let bottom = low.max(-1.0 + 1e-12);
    let top = if z == 0.0 { high.min(1.0 - 1e-12) } else { 1.0 - 1e-12 };
    let (from, to) = (Point { x: bottom, f: excess(bottom) }, Point { x: top, f: excess(top) });
    if to.f <= 0.0 { to.x } else { root_between(excess, from, to) }
}
