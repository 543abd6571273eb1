//! Boundaries for stopping at interim looks without spending more than the error rate.

use serde::{Deserialize, Serialize};

use super::distribution::{normal_upper_quantile, normal_upper_tail, rising_root};
use super::sequential_walk::{Continuation, Walk};
use super::spending::{AlphaPerSide, Looks, Spending};

/// What stops a trial at a look.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Critical {
    /// Standardised statistic at or beyond which the trial stops; on either side if two-sided.
    pub z: f64,
    /// The same as a one-sided p value.
    pub nominal_p: f64,
}

/// One look of a group-sequential plan.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LookBoundary {
    /// Fraction of the planned information.
    pub fraction: f64,
    /// Error rate spent by this look and those before, of both sides together if two-sided.
    pub spent: f64,
    /// What stops the trial here; `None` where the look has nothing to spend.
    pub critical: Option<Critical>,
}

/// One side is watched, or both alike.
#[derive(Clone, Copy)]
enum Sides {
    One,
    Two,
}

impl Sides {
    fn number(self) -> f64 {
        match self {
            Self::One => 1.0,
            Self::Two => 2.0,
        }
    }

    /// Where the trial goes on, no farther out than `reach`.
    fn continuation(self, critical: Option<f64>, reach: f64) -> Continuation {
        let upper = critical.map_or(reach, |z| z.min(reach));
        match self {
            Self::One => Continuation { lower: -reach, upper },
            Self::Two => Continuation { lower: -upper, upper },
        }
    }
}

/// Boundaries of a one-sided design, upward.
///
/// Formula: with Z₁, Z₂, … of correlation √(tᵢ/tⱼ) for i < j, cₖ solves P(Z₁ < c₁, …, Zₖ₋₁ < cₖ₋₁, Zₖ ≥ cₖ) =
/// what look k spends, by numerical integration from look to look.
/// Units: standardised statistics.
/// Edges: one look gives the plain quantile; a look that spends less than 1e-290 cannot stop the trial.
/// There is no boundary for futility.
/// Source: [armitage1969], [lan_demets1983].
/// Checked: tests/numbers/group_sequential.csv.
pub fn one_sided_boundaries(spending: &Spending) -> Vec<LookBoundary> {
    boundaries(spending, Sides::One)
}

/// Boundaries of a two-sided design, the same on both sides.
///
/// Formula: with Z₁, Z₂, … of correlation √(tᵢ/tⱼ) for i < j, cₖ solves P(|Z₁| < c₁, …, |Zₖ₋₁| < cₖ₋₁, Zₖ ≥ cₖ) =
/// what look k spends on one side, by numerical integration from look to look.
/// Units: standardised statistics.
/// Edges: one look gives the plain quantile; a look that spends less than 1e-290 cannot stop the trial.
/// There is no boundary for futility.
/// Source: [armitage1969], [lan_demets1983].
/// Checked: tests/numbers/group_sequential.csv.
pub fn two_sided_boundaries(spending: &Spending) -> Vec<LookBoundary> {
    boundaries(spending, Sides::Two)
}

/// Less than this is nothing: its quantile is beyond what numbers hold.
const NOTHING: f64 = 1e-290;

fn boundaries(spending: &Spending, sides: Sides) -> Vec<LookBoundary> {
    let fractions = spending.looks().fractions();
    let mut before = 0.0;
    let increments: Vec<f64> =
        spending.cumulative().iter().map(|rate| rate - std::mem::replace(&mut before, *rate)).collect();
    let mut walk = Walk::start();
    let mut looks = Vec::with_capacity(fractions.len());
    for (place, fraction) in fractions.iter().copied().enumerate() {
        let spent = increments[place];
        let z = (spent > NOTHING).then(|| {
            // Fewer trials arrive than started, so the boundary lies at the plain quantile or below.
            let plain = normal_upper_quantile(spent);
            rising_root(plain, 0.1, |z| (spent / walk.exit_above(fraction, z)).ln())
        });
        looks.push(LookBoundary {
            fraction,
            spent: sides.number() * spending.cumulative()[place],
            critical: z.map(critical),
        });
        if let Some(next) = fractions.get(place + 1) {
            let reach = reach(&increments[place + 1..]);
            walk = walk.beyond(fraction, sides.continuation(z, reach), *next, reach);
        }
    }
    looks
}

/// Standard deviations beyond which nothing matters at the seventeenth digit of what is yet to be spent.
fn reach(yet_to_spend: &[f64]) -> f64 {
    let least = yet_to_spend.iter().copied().filter(|spent| *spent > NOTHING).fold(1.0, f64::min);
    normal_upper_quantile((1e-17 * least).max(1e-300))
}

fn critical(z: f64) -> Critical {
    Critical { z, nominal_p: normal_upper_tail(z) }
}

/// Pocock's boundaries of a one-sided design: the same at every look.
///
/// Formula: c at every look, with P(Zₖ ≥ c at any look) = α.
/// Units: standardised statistics.
/// Edges: one look gives the plain quantile. The looks must be kept to: they are part of the constant.
/// Source: [pocock1977].
/// Checked: tests/numbers/group_sequential.csv.
pub fn pocock_one_sided_boundaries(alpha: AlphaPerSide, looks: &Looks) -> Vec<LookBoundary> {
    shaped(alpha, looks, Sides::One, |_| 1.0)
}

/// Pocock's boundaries of a two-sided design: the same at every look.
///
/// Formula: c at every look, with P(|Zₖ| ≥ c at any look) = 2α, α the rate on one side.
/// Units: standardised statistics.
/// Edges: one look gives the plain quantile. The looks must be kept to: they are part of the constant.
/// Source: [pocock1977].
/// Checked: tests/numbers/group_sequential.csv.
pub fn pocock_two_sided_boundaries(alpha: AlphaPerSide, looks: &Looks) -> Vec<LookBoundary> {
    shaped(alpha, looks, Sides::Two, |_| 1.0)
}

/// O'Brien and Fleming's boundaries of a one-sided design.
///
/// Formula: c√(t_K/tₖ) at look k of K, with P(Zₖ at or above at any look) = α.
/// Units: standardised statistics.
/// Edges: one look gives the plain quantile. The looks must be kept to: they are part of the constant.
/// Source: [obrien_fleming1979].
/// Checked: tests/numbers/group_sequential.csv.
pub fn obrien_fleming_one_sided_boundaries(alpha: AlphaPerSide, looks: &Looks) -> Vec<LookBoundary> {
    shaped(alpha, looks, Sides::One, |share| share.sqrt().recip())
}

/// O'Brien and Fleming's boundaries of a two-sided design.
///
/// Formula: c√(t_K/tₖ) at look k of K, with P(|Zₖ| at or above at any look) = 2α, α the rate on one side.
/// Units: standardised statistics.
/// Edges: one look gives the plain quantile. The looks must be kept to: they are part of the constant.
/// Source: [obrien_fleming1979].
/// Checked: tests/numbers/group_sequential.csv.
pub fn obrien_fleming_two_sided_boundaries(alpha: AlphaPerSide, looks: &Looks) -> Vec<LookBoundary> {
    shaped(alpha, looks, Sides::Two, |share| share.sqrt().recip())
}

/// Boundaries of a given shape over the share of the last look's information.
fn shaped(alpha: AlphaPerSide, looks: &Looks, sides: Sides, shape: impl Fn(f64) -> f64) -> Vec<LookBoundary> {
    let fractions = looks.fractions();
    let last = fractions[fractions.len() - 1];
    let shapes: Vec<f64> = fractions.iter().map(|fraction| shape(fraction / last)).collect();
    let total = |constant: f64| exits(fractions, &shapes, constant, sides).last().copied().unwrap_or(0.0);
    // Looking more than once moves the constant up from the plain quantile.
    let plain = normal_upper_quantile(alpha.rate());
    let constant = rising_root(plain, 0.1, |constant| (alpha.rate() / total(constant)).ln());
    exits(fractions, &shapes, constant, sides)
        .into_iter()
        .zip(fractions.iter().zip(&shapes))
        .map(|(spent, (fraction, shape))| LookBoundary {
            fraction: *fraction,
            spent: sides.number() * spent,
            critical: Some(critical(constant * shape)),
        })
        .collect()
}

/// Error rate spent on one side by every look.
fn exits(fractions: &[f64], shapes: &[f64], constant: f64, sides: Sides) -> Vec<f64> {
    let reach = reach(&[1e-9]);
    let mut walk = Walk::start();
    let mut spent = 0.0;
    let mut cumulative = Vec::with_capacity(fractions.len());
    for (place, fraction) in fractions.iter().copied().enumerate() {
        let z = constant * shapes[place];
        spent += walk.exit_above(fraction, z);
        cumulative.push(spent);
        if let Some(next) = fractions.get(place + 1) {
            walk = walk.beyond(fraction, sides.continuation(Some(z), reach), *next, reach);
        }
    }
    cumulative
}
