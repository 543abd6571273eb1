//! Laws of ratios and odds ratios.

use proptest::prelude::*;
use quietbeam_analysis::methods::counts::{EventCount, TwoArms};
use quietbeam_analysis::methods::distribution::normal_upper_quantile;
use quietbeam_analysis::methods::exact_odds_ratio::{exact_conditional_interval, fisher_test};
use quietbeam_analysis::methods::interval::{Confidence, Ratio, RatioInterval};
use quietbeam_analysis::methods::null_test::NullRatio;
use quietbeam_analysis::methods::odds_ratio::{
    haldane_interval, miettinen_nurminen_odds_ratio_interval, odds_ratio_score_interval,
};
use quietbeam_analysis::methods::ratio::{
    farrington_manning_ratio_test, koopman_interval, miettinen_nurminen_ratio_interval,
    miettinen_nurminen_ratio_test,
};

use crate::laws::{arms, level};

type Method = fn(TwoArms, Confidence) -> RatioInterval;

const METHODS: [(&str, Method); 6] = [
    ("koopman", koopman_interval),
    ("miettinen_nurminen", miettinen_nurminen_ratio_interval),
    ("haldane", haldane_interval),
    ("score", odds_ratio_score_interval),
    ("odds_miettinen_nurminen", miettinen_nurminen_odds_ratio_interval),
    ("exact", exact_conditional_interval),
];

const SLACK: f64 = 1e-8;

fn upper(interval: &RatioInterval) -> f64 {
    interval.upper.or_infinity()
}

/// Equal up to rounding, infinity included.
fn alike(a: f64, b: f64) -> bool {
    a == b || (a - b).abs() <= SLACK * a.abs().max(b.abs())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn ratios(t in arms(), a in level(), b in level()) {
        let (low, high) = if a.level() < b.level() { (a, b) } else { (b, a) };
        for (name, method) in METHODS {
            let (narrow, wide) = (method(t, low), method(t, high));
            prop_assert!(narrow.lower.is_finite() && narrow.lower >= 0.0, "{name} {narrow:?}");
            prop_assert!(!matches!(narrow.upper, Ratio::Finite(limit) if !limit.is_finite()), "{name}");
            if let Some(estimate) = narrow.estimate {
                let estimate = estimate.or_infinity();
                prop_assert!(narrow.lower <= estimate * (1.0 + SLACK), "{name} {narrow:?}");
                prop_assert!(estimate <= upper(&narrow) * (1.0 + SLACK), "{name} {narrow:?}");
            }
            prop_assert!(wide.lower <= narrow.lower * (1.0 + SLACK), "{name}");
            prop_assert!(upper(&wide) >= upper(&narrow) * (1.0 - SLACK), "{name}");
            let swapped = method(t.swapped(), low);
            prop_assert!(alike(swapped.lower * upper(&narrow), 1.0)
                || swapped.lower == 0.0 && narrow.upper == Ratio::Unbounded, "{name} {swapped:?} {narrow:?}");
            // Adding ½ to every cell costs the Haldane limits their order.
            if t.first.non_events() > 0 && name != "haldane" {
                let first = EventCount::new(t.first.events() + 1, t.first.total()).unwrap();
                let more = method(TwoArms { first, ..t }, low);
                prop_assert!(more.lower >= narrow.lower * (1.0 - SLACK), "{name} {more:?} {narrow:?}");
                prop_assert!(upper(&more) >= upper(&narrow) * (1.0 - SLACK), "{name} {more:?} {narrow:?}");
            }
        }
    }

    #[test]
    fn odds_ratios_do_not_care_which_outcome_is_counted(t in arms(), at in level()) {
        let mirrored = TwoArms { first: t.first.complement(), second: t.second.complement() };
        for (name, method) in &METHODS[2..] {
            let (one, two) = (method(t, at), method(mirrored, at));
            prop_assert!(alike(one.lower * upper(&two), 1.0)
                || one.lower == 0.0 && two.upper == Ratio::Unbounded, "{name} {one:?} {two:?}");
        }
    }

    #[test]
    fn a_ratio_is_inside_exactly_when_its_two_one_sided_tests_say_so(
        t in arms(), at in level(), log_null in -5.0..5.0_f64,
    ) {
        let z = normal_upper_quantile(at.tail());
        let null = NullRatio::new(log_null.exp()).unwrap();
        for (interval, test) in [
            (koopman_interval(t, at), farrington_manning_ratio_test(t, null)),
            (miettinen_nurminen_ratio_interval(t, at), miettinen_nurminen_ratio_test(t, null)),
        ] {
            let phi = null.ratio();
            let inside = phi > interval.lower && phi < upper(&interval);
            let near = alike(phi, interval.lower) || alike(phi, upper(&interval));
            prop_assert!(near || inside == (test.z.abs() < z), "{interval:?} {test:?}");
        }
    }

    #[test]
    fn fisher_and_the_exact_interval_agree(t in arms(), at in level()) {
        let (test, interval) = (fisher_test(t), exact_conditional_interval(t, at));
        for p in [test.p_less, test.p_greater, test.p_two_sided] {
            prop_assert!((0.0..=1.0).contains(&p), "{test:?}");
        }
        prop_assert!(test.p_less + test.p_greater >= 1.0 - 1e-9);
        let tail = at.tail();
        let near = (test.p_less - tail).abs().min((test.p_greater - tail).abs()) < 1e-9;
        prop_assert!(near || (interval.lower > 1.0) == (test.p_greater < tail), "{interval:?} {test:?}");
        prop_assert!(near || (upper(&interval) < 1.0) == (test.p_less < tail), "{interval:?} {test:?}");
    }
}
