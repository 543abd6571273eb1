//! Exact tests that fix the arm sizes only: Barnard, Boschloo, and Chan's test at a margin.

use super::counts::TwoArms;
use super::distribution::FixedMargins;
use super::exact_odds_ratio::ExactTest;
use super::interval::NotEstimable;
use super::non_inferiority::Margin;
use super::score::farrington_manning_test;
use super::unconditional::{Region, TIE, table};

/// Barnard's exact test with the pooled statistic.
///
/// Formula: sup over the common proportion of P(z at least as extreme as observed), z =
/// (p1 − p2) / √(p(1−p)(1/n1 + 1/n2)), p the pooled proportion; ties within 1e-9.
/// Units: p values.
/// Edges: a table without events, or with only events, has z = 0; more than about four
/// million tables are not enumerated.
/// Source: [barnard1947].
/// Checked: tests/numbers/exact_tests.csv.
pub fn barnard_pooled_test(arms: TwoArms) -> Result<ExactTest, NotEstimable> {
    by_statistic(arms, |t| {
        let pooled = (t.first.x() + t.second.x()) / t.n();
        quotient(t, pooled * (1.0 - pooled) * (1.0 / t.first.n() + 1.0 / t.second.n()))
    })
}

/// Barnard's exact test with the unpooled statistic.
///
/// Formula: as the pooled test with z = (p1 − p2) / √(p1(1−p1)/n1 + p2(1−p2)/n2).
/// Units: p values.
/// Edges: 0/n against n/n is the most extreme table; equal proportions of 0 or 1 have z = 0.
/// Source: [barnard1947].
/// Checked: tests/numbers/exact_tests.csv.
pub fn barnard_unpooled_test(arms: TwoArms) -> Result<ExactTest, NotEstimable> {
    by_statistic(arms, |t| {
        let (p1, p2) = (t.first.proportion(), t.second.proportion());
        quotient(t, p1 * (1.0 - p1) / t.first.n() + p2 * (1.0 - p2) / t.second.n())
    })
}

/// Difference over its standard error, where a standard error of 0 makes any difference infinite.
fn quotient(arms: TwoArms, variance: f64) -> f64 {
    let difference = arms.difference();
    if difference == 0.0 { 0.0 } else { difference / variance.sqrt() }
}

fn by_statistic(arms: TwoArms, z: impl Fn(TwoArms) -> f64) -> Result<ExactTest, NotEstimable> {
    let observed = z(arms);
    let slack = if observed.is_finite() { TIE * observed.abs() } else { 0.0 };
    let belongs: [&dyn Fn(f64) -> bool; 3] =
        [&|z| z <= observed + slack, &|z| z >= observed - slack, &|z| z.abs() >= observed.abs() - slack];
    let [less, greater, far] = Region::by_statistic(arms, z, belongs)?;
    let [p_less, p_greater, p_two_sided] = Region::worst_of([&less, &greater, &far], 0.0, (0.0, 1.0));
    Ok(ExactTest { p_less, p_greater, p_two_sided })
}

/// Boschloo's exact test.
///
/// Formula: sup over the common proportion of P(Fisher's one-sided p at most the observed);
/// two-sided twice the smaller one-sided p, at most 1; ties within 1e-9.
/// Units: p values.
/// Edges: never above Fisher's one-sided p; more than about four million tables are not enumerated.
/// Source: [boschloo1970].
/// Checked: tests/numbers/exact_tests.csv.
pub fn boschloo_test(arms: TwoArms) -> Result<ExactTest, NotEstimable> {
    let p_less = boschloo_less(arms)?;
    let p_greater = boschloo_less(arms.swapped())?;
    Ok(ExactTest { p_less, p_greater, p_two_sided: (2.0 * p_less.min(p_greater)).min(1.0) })
}

fn boschloo_less(arms: TwoArms) -> Result<f64, NotEstimable> {
    let (n1, n2) = (arms.first.total(), arms.second.total());
    // Refuse before the table of p values is built.
    Region::of(arms, |_, _| false)?;
    let mut p_values = vec![vec![0.0; n2 as usize + 1]; n1 as usize + 1];
    for events in 0..=n1 + n2 {
        let x1 = events.min(n1);
        let margins = FixedMargins::of(table(arms, x1, events - x1));
        let mut cumulative = 0.0;
        for (place, p) in margins.central_probabilities().into_iter().enumerate() {
            cumulative += p;
            let x1 = margins.least() as usize + place;
            p_values[x1][events as usize - x1] = cumulative;
        }
    }
    let limit = p_values[arms.first.events() as usize][arms.second.events() as usize] * (1.0 + TIE);
    let region = Region::of(arms, |x1, x2| p_values[x1 as usize][x2 as usize] <= limit)?;
    Ok(region.worst(0.0, (0.0, 1.0)))
}

/// Chan's exact unconditional test of non-inferiority.
///
/// Formula: sup over p2 of P(z at least as extreme as observed | p1 = p2 + δ), z that of
/// Farrington and Manning at the null difference δ of the margin; ties within 1e-9.
/// Units: a one-sided p value.
/// Edges: more than about four million tables are not enumerated.
/// Source: [chan1998].
/// Checked: tests/numbers/exact_non_inferiority.csv.
pub fn chan_non_inferiority_p(arms: TwoArms, margin: Margin) -> Result<f64, NotEstimable> {
    let null = margin.null_difference();
    // Towards small z for harm, towards large z for benefit.
    let sign = match margin {
        Margin::Benefit(_) => 1.0,
        Margin::Harm(_) => -1.0,
    };
    let z = |t: TwoArms| sign * farrington_manning_test(t, null).z;
    let observed = z(arms);
    let limit = observed - TIE * observed.abs();
    let region = Region::of(arms, |x1, x2| z(table(arms, x1, x2)) >= limit)?;
    let delta = null.difference();
    Ok(region.worst(delta, ((-delta).max(0.0), (1.0 - delta).min(1.0))))
}
