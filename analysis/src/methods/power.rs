//! Approximate power of a non-inferiority comparison of given size.

use super::non_inferiority::Margin;
use super::plan::{ArmSizes, Planned};
use super::plan_terms::{Terms, blackwelder, farrington_manning, farrington_manning_ratio, wald_log_ratio};
use super::ratio_margin::RatioMargin;

/// Approximate power for a difference after Blackwelder.
///
/// Formula: Φ((|p1 − p2 − δ| − z_α√V)/√V), V = p1(1−p1)/n1 + p2(1−p2)/n2; the distance counts
/// as negative where the assumption lies beyond the margin.
/// Units: a probability.
/// Edges: beyond the margin the answer is the (small) probability of a wrong claim; with rare
/// events the exact power says what the approximation hides.
/// Source: [blackwelder1982].
/// Checked: tests/numbers/exact_power.csv.
pub fn blackwelder_power(planned: &Planned<Margin>, sizes: ArmSizes) -> f64 {
    at_sizes(sizes, |theta| blackwelder(planned, theta)).power(planned.alpha, sizes.as_numbers().0)
}

/// Approximate power for a difference after Farrington and Manning.
///
/// Formula: Φ((|p1 − p2 − δ| − z_α√V0)/√V1), V = p1(1−p1)/n1 + p2(1−p2)/n2, V1 at the assumed
/// proportions, V0 at those with difference δ that are most likely in a large sample of them.
/// Units: a probability.
/// Edges: beyond the margin the answer is the (small) probability of a wrong claim.
/// Source: [farrington_manning1990].
/// Checked: tests/numbers/exact_power.csv.
pub fn farrington_manning_power(planned: &Planned<Margin>, sizes: ArmSizes) -> f64 {
    at_sizes(sizes, |theta| farrington_manning(planned, theta)).power(planned.alpha, sizes.as_numbers().0)
}

/// Approximate power for a ratio after Farrington and Manning.
///
/// Formula: Φ((|p1 − φp2| − z_α√V0)/√V1), V = p1(1−p1)/n1 + φ²p2(1−p2)/n2, V1 at the assumed
/// proportions, V0 at those with ratio φ that are most likely in a large sample of them.
/// Units: a probability.
/// Edges: beyond the margin the answer is the (small) probability of a wrong claim.
/// Source: [farrington_manning1990].
/// Checked: tests/numbers/planning.csv.
pub fn farrington_manning_ratio_power(planned: &Planned<RatioMargin>, sizes: ArmSizes) -> f64 {
    let terms = at_sizes(sizes, |theta| farrington_manning_ratio(planned, theta));
    terms.power(planned.alpha, sizes.as_numbers().0)
}

/// Approximate power for a ratio on the log scale.
///
/// Formula: Φ(|ln(p1/p2) − ln φ|/√V − z_α), V = (1−p1)/(n1p1) + (1−p2)/(n2p2).
/// Units: a probability.
/// Edges: beyond the margin the answer is the (small) probability of a wrong claim.
/// Source: [katz1978].
/// Checked: tests/numbers/planning.csv.
pub fn wald_log_ratio_power(planned: &Planned<RatioMargin>, sizes: ArmSizes) -> f64 {
    at_sizes(sizes, |theta| wald_log_ratio(planned, theta)).power(planned.alpha, sizes.as_numbers().0)
}

fn at_sizes(sizes: ArmSizes, terms: impl Fn(f64) -> Terms) -> Terms {
    let (n1, n2) = sizes.as_numbers();
    terms(n2 / n1)
}
