//! Exact power and error rate against an enumeration of every table in NumPy.

use proptest::prelude::*;
use quietbeam_analysis::methods::counts::{EventCount, TwoArms};
use quietbeam_analysis::methods::exact_power::{
    farrington_manning_showing, miettinen_nurminen_showing, wald_showing,
};
use quietbeam_analysis::methods::interval::NotEstimable;
use quietbeam_analysis::methods::null_test::NullDifference;
use quietbeam_analysis::methods::score::farrington_manning_test;

use crate::planning::{alpha, benefit, harm, planned_difference, proportions, sizes};
use crate::reference::{Comparison, Tolerance, rows};

#[test]
fn power_and_error_rate() {
    let mut comparison = Comparison::new("exact power", "NumPy, every table; by formula only");
    for row in &rows("exact_power.csv") {
        assert_eq!(row.text("tables_at_critical"), "0", "{}: a table on the border", row.name());
        let planned = planned_difference(row);
        let showing = match row.text("test") {
            "fm" => farrington_manning_showing,
            "mn" => miettinen_nurminen_showing,
            _ => wald_showing,
        };
        let sizes = sizes(row.number("n1"), row.number("n2"));
        let showing = showing(planned.margin, planned.alpha, sizes).unwrap();
        let power = showing.power(planned.proportions);
        comparison.value(&row.name(), power, row.number("exact_power"), Tolerance::Absolute(1e-9));
        let error = showing.type_one_error(planned.proportions).unwrap();
        comparison.value(&row.name(), error, row.number("exact_type_one_error"), Tolerance::Absolute(1e-9));
        if row.text("test") == "fm" && sizes.first.get() < 70 {
            assert!(showing.worst_type_one_error() >= error - 1e-12, "{}", row.name());
        }
    }
    comparison.finish(144);
}

/// What the walk along the border rests on, asked of every table of many small sizes.
#[test]
fn an_event_more_in_the_second_arm_never_raises_the_statistic() {
    let mut pairs = 0_u32;
    for (n1, n2) in (1..=14).flat_map(|n1| [1, 2, 3, 5, 9, 16, 40].map(|n2| (n1, n2))) {
        for edge in [0.0001, 0.01, 0.03, 0.1, 0.3, 0.8, 0.99] {
            for null in [edge, -edge].map(|edge| NullDifference::new(edge).unwrap()) {
                let count = |x, n| EventCount::new(x, n).unwrap();
                let z = |x1, x2| {
                    farrington_manning_test(TwoArms { first: count(x1, n1), second: count(x2, n2) }, null).z
                };
                for (x1, x2) in (0..=n1).flat_map(|x1| (0..=n2).map(move |x2| (x1, x2))) {
                    let here = z(x1, x2);
                    let more = (x2 < n2).then(|| z(x1, x2 + 1) <= here + 1e-9);
                    let fewer = (x1 > 0).then(|| z(x1 - 1, x2) <= here + 1e-9);
                    assert!(more != Some(false) && fewer != Some(false), "{x1}/{n1} {x2}/{n2} {null:?}");
                    pairs += 1;
                }
            }
        }
    }
    assert!(pairs > 100_000, "only {pairs}");
}

#[test]
fn the_staircase_holds_every_table_it_should() {
    for margin in [harm(0.1), benefit(0.1), harm(0.013), benefit(0.4)] {
        for (n1, n2) in [(1, 1), (7, 30), (30, 7), (25, 25)] {
            let showing = farrington_manning_showing(margin, alpha(0.1), sizes(n1, n2)).unwrap();
            let truth = proportions(0.3, 0.27);
            let one = |x: u32, n: u32, p: f64| {
                let ways = (0..x).map(|i| f64::from(n - i) / f64::from(i + 1)).product::<f64>();
                ways * p.powi(x as i32) * (1.0 - p).powi((n - x) as i32)
            };
            let mut sum = 0.0;
            for (x1, x2) in (0..=n1).flat_map(|x1| (0..=n2).map(move |x2| (x1, x2))) {
                let arms = TwoArms {
                    first: EventCount::new(x1, n1).unwrap(),
                    second: EventCount::new(x2, n2).unwrap(),
                };
                let test = farrington_manning_test(arms, margin.null_difference());
                // Both p values together are 1, so this is z at or beyond its critical value.
                if margin.one_sided_p(&test).unwrap() <= 0.1 {
                    sum += one(x1, n1, 0.3) * one(x2, n2, 0.27);
                }
            }
            let power = showing.power(truth);
            assert!((power - sum).abs() < 1e-12, "{margin:?} {n1} {n2}: {power} {sum}");
        }
    }
}

/// The Wald test claims a harm acceptable from nothing at all; the score tests do not.
#[test]
fn no_events_in_few_cases_show_nothing_but_to_wald() {
    let (few, rare) = (sizes(5, 5), proportions(1e-12, 1e-12));
    let wald = wald_showing(harm(0.01), alpha(0.025), few).unwrap();
    assert!(wald.power(rare) > 0.999_999);
    for showing in [farrington_manning_showing, miettinen_nurminen_showing] {
        assert!(showing(harm(0.01), alpha(0.025), few).unwrap().power(rare) < 1e-9);
    }
}

#[test]
fn large_arms_are_walked_and_larger_ones_refused() {
    let shown = farrington_manning_showing(harm(0.001), alpha(0.025), sizes(100_000, 200_000)).unwrap();
    let error = shown.type_one_error(proportions(0.001, 0.001)).unwrap();
    assert!((error - 0.025).abs() < 0.002, "{error}");
    // 0.1 % of harm against a margin of one point.
    let power = miettinen_nurminen_showing(harm(0.01), alpha(0.025), sizes(2_000, 2_000)).unwrap();
    assert!(power.power(proportions(0.001, 0.001)) > 0.999);
    let refused = farrington_manning_showing(harm(0.1), alpha(0.025), sizes(2_000_000, 10)).err();
    assert_eq!(refused, Some(NotEstimable::TooManyTables { tables: 2_000_001 * 11 }));
    assert!(matches!(
        wald_showing(harm(0.1), alpha(0.025), sizes(5_000, 5_000)).err(),
        Some(NotEstimable::TooManyTables { .. })
    ));
    assert_eq!(shown.type_one_error(proportions(0.5, 0.9995)), None);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn benefit_and_harm_are_each_others_mirror(
        n1 in 1..60_u32, n2 in 1..60_u32, margin in 0.01..0.9_f64, a in 0.001..0.3_f64,
        p1 in 0.01..0.99_f64, p2 in 0.01..0.99_f64,
    ) {
        let of = |margin, truth| {
            farrington_manning_showing(margin, alpha(a), sizes(n1, n2)).unwrap().power(truth)
        };
        let (as_harm, as_benefit) =
            (of(harm(margin), proportions(p1, p2)), of(benefit(margin), proportions(1.0 - p1, 1.0 - p2)));
        prop_assert!((as_harm - as_benefit).abs() < 1e-10, "{as_harm} {as_benefit}");
    }

    #[test]
    fn a_stricter_margin_or_error_rate_shows_less(
        n1 in 1..80_u32, n2 in 1..80_u32, margin in 0.01..0.4_f64, a in 0.001..0.2_f64,
        p1 in 0.01..0.99_f64, p2 in 0.01..0.99_f64,
    ) {
        let of = |margin, a| {
            miettinen_nurminen_showing(margin, alpha(a), sizes(n1, n2)).unwrap().power(proportions(p1, p2))
        };
        prop_assert!(of(harm(margin), a) <= of(harm(margin * 1.5), a) + 1e-12);
        prop_assert!(of(benefit(margin), a) <= of(benefit(margin * 1.5), a) + 1e-12);
        prop_assert!(of(harm(margin), a) <= of(harm(margin), a * 1.5) + 1e-12);
    }
}
