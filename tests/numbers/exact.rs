//! Exact unconditional tests against enumeration and SciPy.

use proptest::prelude::*;
use quietbeam_analysis::methods::counts::{EventCount, TwoArms};
use quietbeam_analysis::methods::exact_odds_ratio::{ExactTest, fisher_test};
use quietbeam_analysis::methods::exact_unconditional::{
    barnard_pooled_test, barnard_unpooled_test, boschloo_test, chan_non_inferiority_p,
};
use quietbeam_analysis::methods::interval::NotEstimable;
use quietbeam_analysis::methods::non_inferiority::{Margin, MarginSize};
use quietbeam_analysis::methods::score::farrington_manning_test;

use crate::published::{arms, digits_agree};
use crate::reference::{Comparison, Row, Tolerance, rows};

/// Both sides take the top of a curve from a grid and climb; the tops agree to this.
const TOP: Tolerance = Tolerance::Absolute(1e-6);

fn check(test: &'static str, compute: fn(TwoArms) -> Result<ExactTest, NotEstimable>) {
    let source = "NumPy enumeration with a grid of 2,001 and refinement; SciPy barnard_exact, boschloo_exact";
    let mut comparison = Comparison::new(test, source);
    for row in rows("exact_tests.csv").iter().filter(|row| row.text("test") == test) {
        let result = compute(row.arms()).unwrap();
        let p = match row.text("alternative") {
            "less" => result.p_less,
            "greater" => result.p_greater,
            _ => result.p_two_sided,
        };
        comparison.value(&row.name(), p, row.number("p"), TOP);
    }
    comparison.finish(80);
}

#[test]
fn barnard_pooled() {
    check("barnard_pooled", barnard_pooled_test);
}

#[test]
fn barnard_unpooled() {
    check("barnard_unpooled", barnard_unpooled_test);
}

#[test]
fn boschloo() {
    check("boschloo", boschloo_test);
}

fn margin(row: &Row) -> Margin {
    let null: f64 = row.number("null");
    let size = MarginSize::new(null.abs()).unwrap();
    if null < 0.0 { Margin::Benefit(size) } else { Margin::Harm(size) }
}

#[test]
fn chan() {
    let mut comparison = Comparison::new("chan", "NumPy enumeration");
    for row in &rows("exact_non_inferiority.csv") {
        let margin = margin(row);
        let test = farrington_manning_test(row.arms(), margin.null_difference());
        let asymptotic = margin.one_sided_p(&test).unwrap();
        comparison.value(&row.name(), test.z, row.number("z"), Tolerance::Absolute(1e-9));
        comparison.value(&row.name(), asymptotic, row.number("p_asymptotic"), Tolerance::Absolute(1e-9));
        let p = chan_non_inferiority_p(row.arms(), margin).unwrap();
        comparison.value(&row.name(), p, row.number("p"), TOP);
    }
    comparison.finish(110);
}

#[test]
fn chan_1998() {
    let margin = Margin::Benefit(MarginSize::new(0.1).unwrap());
    let p = chan_non_inferiority_p(arms(83, 88, 69, 76), margin).unwrap();
    let source = "Chan, Stat Med 1998;17:1403-1413, 83/88 against 69/76";
    digits_agree(source, "exact p at a margin of 10 points", &format!("{p:.4}"), "0.0017");
}

#[test]
fn too_many_tables_are_refused_not_begun() {
    let big = arms(1, 1_000_000, 1, 1_000_000);
    assert!(matches!(boschloo_test(big), Err(NotEstimable::TooManyTables { .. })));
    assert!(matches!(barnard_pooled_test(big), Err(NotEstimable::TooManyTables { .. })));
}

fn small_arms() -> impl Strategy<Value = TwoArms> {
    let count = || (1_u32..=12).prop_flat_map(|n| (0..=n).prop_map(move |x| EventCount::new(x, n).unwrap()));
    (count(), count()).prop_map(|(first, second)| TwoArms { first, second })
}

/// Binomial probability by its definition, for small n.
fn binomial(n: u32, x: u32, p: f64) -> f64 {
    let ways: f64 = (0..x).map(|i| f64::from(n - i) / f64::from(i + 1)).product();
    ways * p.powi(i32::try_from(x).unwrap()) * (1.0 - p).powi(i32::try_from(n - x).unwrap())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn boschloo_is_never_above_fisher_and_swaps_sides(t in small_arms()) {
        let (boschloo, fisher) = (boschloo_test(t).unwrap(), fisher_test(t));
        prop_assert!(boschloo.p_less <= fisher.p_less + 1e-9);
        prop_assert!(boschloo.p_greater <= fisher.p_greater + 1e-9);
        let swapped = boschloo_test(t.swapped()).unwrap();
        prop_assert!((swapped.p_less - boschloo.p_greater).abs() < 1e-9);
        let (barnard, back) = (barnard_pooled_test(t).unwrap(), barnard_pooled_test(t.swapped()).unwrap());
        prop_assert!((barnard.p_less - back.p_greater).abs() < 1e-9);
    }

    #[test]
    fn no_nuisance_value_beats_the_exact_p(t in small_arms(), size in 0.05..0.3_f64, share in 0.0..1.0_f64) {
        let margin = Margin::Harm(MarginSize::new(size).unwrap());
        let null = margin.null_difference();
        let p = chan_non_inferiority_p(t, margin).unwrap();
        let observed = farrington_manning_test(t, null).z;
        let (p2, mut sum) = (share * (1.0 - size), 0.0);
        for x1 in 0..=t.first.total() {
            for x2 in 0..=t.second.total() {
                let table = arms(x1, t.first.total(), x2, t.second.total());
                if farrington_manning_test(table, null).z <= observed {
                    sum += binomial(t.first.total(), x1, p2 + size) * binomial(t.second.total(), x2, p2);
                }
            }
        }
        prop_assert!(sum <= p + 1e-9, "{sum} {p}");
    }
}
