//! What looking more than once costs: the power of boundaries on the way, and the cases it takes
//! to keep it.

use super::distribution::{normal_upper_quantile, rising_root};
use super::group_sequential::one_sided_boundaries;
use super::plan::{CannotPlan, WantedPower};
use super::sequential_walk::{Continuation, Walk};
use super::spending::Spending;

/// Standard deviations beyond which a statistic is too rare to move a power's twelfth digit.
const REACH: f64 = 12.0;

/// How many times the cases of a plan with a single look a plan with several takes for the same
/// power, one-sided.
///
/// Formula: θ²/(z_α + z_β)², where θ is the drift at which P(Zₖ + θ√tₖ ≥ cₖ at any look) = 1 − β; cₖ are the
/// one-sided boundaries, α is what all looks spend together, z are upper normal quantiles.
/// Units: a factor of the information that fraction 1 stands for.
/// Edges: one look at fraction 1 gives 1. Where no look has anything to spend nothing is ever shown.
/// Source: [jennison_turnbull2000].
/// Checked: tests/numbers/group_sequential_inflation.csv.
pub fn group_sequential_inflation(spending: &Spending, power: WantedPower) -> Result<f64, CannotPlan> {
    let looks = one_sided_boundaries(spending);
    let boundaries: Vec<(f64, Option<f64>)> =
        looks.iter().map(|look| (look.fraction, look.critical.map(|critical| critical.z))).collect();
    let alpha = spending.cumulative().last().copied().unwrap_or(0.0);
    if boundaries.iter().all(|(_, z)| z.is_none()) {
        return Err(CannotPlan::NothingToSpend);
    }
    let single = normal_upper_quantile(alpha) + normal_upper_quantile(1.0 - power.power());
    let drift = rising_root(single, 0.1, |drift| exits(&boundaries, drift) - power.power());
    Ok((drift / single).powi(2))
}

/// Probability of reaching a boundary at any look, under a drift.
fn exits(boundaries: &[(f64, Option<f64>)], drift: f64) -> f64 {
    let (mut walk, mut exited) = (Walk::start(), 0.0);
    for (place, (fraction, z)) in boundaries.iter().enumerate() {
        // The statistic less its drift moves as if there were none.
        let upper = z.map_or(REACH, |z| (z - drift * fraction.sqrt()).clamp(-REACH, REACH));
        if z.is_some() {
            exited += walk.exit_above(*fraction, upper);
        }
        if let Some((next, _)) = boundaries.get(place + 1) {
            walk = walk.beyond(*fraction, Continuation { lower: -REACH, upper }, *next, REACH);
        }
    }
    exited
}
