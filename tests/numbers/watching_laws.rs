//! Laws of the methods that watch.

use std::num::NonZeroU32;

use proptest::prelude::*;
use quietbeam_analysis::methods::counts::EventCount;
use quietbeam_analysis::methods::cusum::{
    ExpectedProbability, Threshold, WatchedCase, WatchedChange, cumulative_observed_minus_expected,
    log_likelihood_ratio_score, running_cusum, signalling_cusum,
};
use quietbeam_analysis::methods::funnel::{Target, exact_funnel_limits, normal_funnel_limits};
use quietbeam_analysis::methods::interval::{Confidence, NotEstimable};
use quietbeam_analysis::methods::observed_expected::{
    ExpectedEvents, ObservedExpected, byar_interval, exact_poisson_interval, exact_poisson_test,
    mid_p_poisson_interval,
};
use quietbeam_analysis::methods::over_dispersion::{
    WinsorisedShare, additive_scores, multiplicative_scores, unadjusted_scores, winsorised_scores,
};

use crate::laws::{count, level};

fn watched_case() -> impl Strategy<Value = WatchedCase> {
    let expected = prop_oneof![1e-12..1e-3_f64, 0.001..0.2_f64, 0.2..0.999_999_f64];
    (any::<bool>(), expected)
        .prop_map(|(event, p)| WatchedCase { event, expected: ExpectedProbability::new(p).unwrap() })
}

fn change() -> impl Strategy<Value = WatchedChange> {
    prop_oneof![0.01..0.99_f64, 1.01..100.0_f64].prop_map(|ratio| WatchedChange::new(ratio).unwrap())
}

fn observed_expected() -> impl Strategy<Value = ObservedExpected> {
    let observed = prop_oneof![0_u32..4, 0_u32..200, 0_u32..100_000];
    let expected = prop_oneof![1e-6..1.0_f64, 1.0..300.0_f64, 1e2..1e12_f64];
    (observed, expected).prop_map(|(observed, expected)| ObservedExpected {
        observed,
        expected: ExpectedEvents::new(expected).unwrap(),
    })
}

/// P(X = k) of a binomial count, by products alone.
fn binomial(target: f64, cases: u32) -> Vec<f64> {
    let mut row = vec![1.0];
    for _ in 0..cases {
        let mut next = vec![0.0; row.len() + 1];
        for (k, p) in row.iter().enumerate() {
            next[k] += p * (1.0 - target);
            next[k + 1] += p * target;
        }
        row = next;
    }
    row
}

proptest! {
    #[test]
    fn a_cumulative_sum_is_never_negative_and_starts_afresh_after_a_signal(
        cases in prop::collection::vec(watched_case(), 0..80), change in change(), height in 0.05..8.0_f64,
    ) {
        let threshold = Threshold::new(height).unwrap();
        let running = running_cusum(&cases, change);
        let points = signalling_cusum(&cases, change, threshold);
        prop_assert_eq!(points.len(), cases.len());
        prop_assert!(running.iter().all(|s| s.is_finite() && *s >= 0.0));
        let first = points.iter().position(|point| point.signal);
        for (place, point) in points.iter().enumerate() {
            prop_assert!(point.height >= 0.0);
            prop_assert_eq!(point.signal, point.height >= height);
            if first.is_none_or(|first| place <= first) {
                prop_assert_eq!(point.height, running[place]);
            }
        }
        if let Some(first) = first {
            let afresh = signalling_cusum(&cases[first + 1..], change, threshold);
            prop_assert_eq!(&points[first + 1..], &afresh[..]);
        }
    }

    #[test]
    fn a_score_is_the_logarithm_of_a_likelihood_ratio(case in watched_case(), change in change()) {
        let p = case.expected.probability();
        let odds = change.odds_ratio() * p / (1.0 - p);
        let changed = odds / (1.0 + odds);
        let ratio = if case.event { changed / p } else { (1.0 - changed) / (1.0 - p) };
        let score = log_likelihood_ratio_score(case, change);
        prop_assert!((score - ratio.ln()).abs() < 1e-9, "{score} {}", ratio.ln());
        // Under the expected probability the likelihood ratio is 1 on average.
        let other = log_likelihood_ratio_score(WatchedCase { event: !case.event, ..case }, change);
        let (event, none) = if case.event { (score, other) } else { (other, score) };
        prop_assert!((p * event.exp() + (1.0 - p) * none.exp() - 1.0).abs() < 1e-12);
        prop_assert_eq!(event > 0.0, change.odds_ratio() > 1.0);
    }

    #[test]
    fn observed_minus_expected_ends_at_the_difference(cases in prop::collection::vec(watched_case(), 1..60)) {
        let events = cases.iter().filter(|case| case.event).count() as f64;
        let expected: f64 = cases.iter().map(|case| case.expected.probability()).sum();
        let sums = cumulative_observed_minus_expected(&cases);
        prop_assert!((sums[cases.len() - 1] - (events - expected)).abs() < 1e-10);
    }

    #[test]
    fn exact_funnel_limits_say_what_the_binomial_law_says(
        target in 0.001..0.999_f64, cases in 1_u32..150, at in level(),
    ) {
        let limits = exact_funnel_limits(Target::new(target).unwrap(), NonZeroU32::new(cases).unwrap(), at);
        prop_assert!(limits.lower < limits.upper, "{limits:?}");
        let law = binomial(target, cases);
        for x in 0..=cases {
            let share = f64::from(x) / f64::from(cases);
            let above: f64 = law[x as usize + 1..].iter().sum();
            let below: f64 = law[..x as usize].iter().sum();
            let here = law[x as usize];
            let slack = 1e-12;
            if share > limits.upper {
                prop_assert!(above <= at.tail() + slack, "{x} {limits:?}");
            } else {
                prop_assert!(above + here >= at.tail() - slack, "{x} {limits:?}");
            }
            if share < limits.lower {
                prop_assert!(below + here <= at.tail() + slack, "{x} {limits:?}");
            } else {
                prop_assert!(1.0 - above >= at.tail() - slack, "{x} {limits:?}");
            }
        }
        let ends = limits.within_unit();
        prop_assert!(ends.lower >= 0.0 && ends.upper <= 1.0);
    }

    #[test]
    fn a_funnel_encloses_its_target_and_narrows(
        target in 0.001..0.999_f64, cases in 1_u32..1_000_000, a in level(), b in level(),
    ) {
        let goal = Target::new(target).unwrap();
        let (low, high) = if a.level() < b.level() { (a, b) } else { (b, a) };
        let size = |n: u32| NonZeroU32::new(n).unwrap();
        let normal = normal_funnel_limits(goal, size(cases), low);
        let larger = normal_funnel_limits(goal, size(cases + 1), low);
        prop_assert!(normal.lower < larger.lower && larger.lower < target);
        prop_assert!(target < larger.upper && larger.upper < normal.upper);
        // With fewer events expected on either side, steps between counts outweigh the width.
        if f64::from(cases) * target.min(1.0 - target) > 5.0 {
            let exact = exact_funnel_limits(goal, size(cases), low);
            prop_assert!(exact.lower < target && target < exact.upper, "{exact:?}");
            let wide = exact_funnel_limits(goal, size(cases), high);
            prop_assert!(wide.lower <= exact.lower && exact.upper <= wide.upper);
            let fourfold = exact_funnel_limits(goal, size(cases * 4), low);
            prop_assert!(exact.lower < fourfold.lower && fourfold.upper < exact.upper, "{exact:?}");
        }
    }

    #[test]
    fn a_funnel_for_failures_is_the_funnel_for_successes_upside_down(
        target in 0.001..0.999_f64, cases in 1_u32..5_000, at in level(),
    ) {
        let size = NonZeroU32::new(cases).unwrap();
        let (events, others) = (Target::new(target).unwrap(), Target::new(1.0 - target).unwrap());
        let limits = normal_funnel_limits(events, size, at);
        let mirrored = normal_funnel_limits(others, size, at);
        prop_assert!((limits.lower + mirrored.upper - 1.0).abs() < 1e-12);
        // The exact limits interpolate downward from a count, so they turn over one case lower.
        let limits = exact_funnel_limits(events, size, at);
        let mirrored = exact_funnel_limits(others, size, at);
        prop_assert!((limits.lower + mirrored.upper - 1.0 + 1.0 / f64::from(cases)).abs() < 1e-9);
    }

    #[test]
    fn over_dispersion_never_sharpens_a_score(
        centres in prop::collection::vec(count(), 0..30), share in 0.0..0.5_f64,
    ) {
        let share = WinsorisedShare::new(share).unwrap();
        let Ok(target) = Target::pooled(&centres) else {
            let events: u64 = centres.iter().map(|centre| u64::from(centre.events())).sum();
            let cases: u64 = centres.iter().map(|centre| u64::from(centre.total())).sum();
            prop_assert!(centres.is_empty() || events * 1_000_000 <= cases
                || (cases - events) * 1_000_000 <= cases);
            return Ok(());
        };
        let plain = unadjusted_scores(&centres, target);
        let pulled = winsorised_scores(&plain, share);
        prop_assert!(plain.iter().zip(&pulled).all(|(a, b)| a.is_finite() && b.is_finite()));
        let (stretched, widened) =
            (multiplicative_scores(&centres, target, share), additive_scores(&centres, target, share));
        if centres.len() < 2 {
            prop_assert_eq!(stretched, Err(NotEstimable::TooFewStrata { found: centres.len(), needed: 2 }));
            return Ok(());
        }
        let (stretched, widened) = (stretched.unwrap(), widened.unwrap());
        prop_assert!(stretched.phi >= 0.0 && widened.tau_squared >= 0.0);
        for (place, score) in plain.iter().enumerate() {
            for adjusted in [stretched.scores[place], widened.scores[place]] {
                prop_assert!(adjusted.abs() <= score.abs() && adjusted * score >= 0.0);
            }
        }
    }

    #[test]
    fn observed_over_expected(counts in observed_expected(), a in level(), b in level()) {
        let (low, high) = if a.level() < b.level() { (a, b) } else { (b, a) };
        let methods = [exact_poisson_interval, mid_p_poisson_interval, byar_interval];
        let [exact, mid_p, _] = methods.map(|method| method(counts, low));
        for method in methods {
            let (narrow, wide) = (method(counts, low), method(counts, high));
            prop_assert!(narrow.lower.is_finite() && narrow.upper.is_finite(), "{narrow:?}");
            prop_assert!(narrow.lower >= 0.0 && narrow.lower <= narrow.estimate, "{narrow:?}");
            prop_assert!(narrow.upper > narrow.estimate, "{narrow:?}");
            prop_assert!(wide.lower <= narrow.lower && narrow.upper <= wide.upper, "{narrow:?} {wide:?}");
            // Twice as many expected, half the ratio.
            let twice = ObservedExpected {
                expected: ExpectedEvents::new((counts.expected.events() * 2.0).min(1e12)).unwrap(),
                ..counts
            };
            let scale = twice.expected.events() / counts.expected.events();
            let halved = method(twice, low);
            prop_assert!((halved.lower * scale - narrow.lower).abs() <= 1e-12 * narrow.lower);
            prop_assert!((halved.upper * scale - narrow.upper).abs() <= 1e-12 * narrow.upper);
            let more = method(ObservedExpected { observed: counts.observed + 1, ..counts }, low);
            prop_assert!(more.lower >= narrow.lower && more.upper > narrow.upper);
        }
        prop_assert!(exact.lower <= mid_p.lower && mid_p.upper <= exact.upper);
    }

    #[test]
    fn the_exact_interval_and_the_exact_test_agree(counts in observed_expected(), at in level()) {
        let interval = exact_poisson_interval(counts, at);
        let test = exact_poisson_test(counts);
        prop_assert!((0.0..=1.0).contains(&test.p_more) && (0.0..=1.0).contains(&test.p_fewer));
        prop_assert!(test.p_more + test.p_fewer >= 1.0 - 1e-12);
        let near = |limit: f64| (limit - 1.0).abs() < 1e-10;
        if !near(interval.lower) && !near(interval.upper) {
            prop_assert_eq!(interval.lower > 1.0, test.p_more < at.tail());
            prop_assert_eq!(interval.upper < 1.0, test.p_fewer < at.tail());
        }
    }
}

#[test]
fn a_huge_count_has_finite_limits() {
    let nine = Confidence::new(0.999_999_999).unwrap();
    for observed in [0, 1, 1_000_000, u32::MAX] {
        for expected in [1e-6, 1.0, 4e9, 1e12] {
            let counts = ObservedExpected { observed, expected: ExpectedEvents::new(expected).unwrap() };
            for interval in [exact_poisson_interval(counts, nine), mid_p_poisson_interval(counts, nine)] {
                assert!(interval.lower <= interval.estimate && interval.estimate <= interval.upper);
                assert!(interval.upper.is_finite(), "{counts:?}");
            }
            let test = exact_poisson_test(counts);
            assert!(test.p_more.is_finite() && test.p_fewer.is_finite(), "{counts:?} {test:?}");
        }
    }
    let most = NonZeroU32::new(u32::MAX).unwrap();
    for target in [1e-6, 0.5, 1.0 - 1e-6] {
        let limits = exact_funnel_limits(Target::new(target).unwrap(), most, nine);
        assert!(limits.lower < target && target < limits.upper, "{limits:?}");
    }
    let all = [EventCount::new(5, 5).unwrap(), EventCount::new(7, 7).unwrap()];
    assert_eq!(Target::pooled(&all), Err(NotEstimable::NoVariation));
}
