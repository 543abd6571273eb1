//! Laws that hold for every valid input.

use proptest::prelude::*;
use quietbeam_analysis::methods::counts::{EventCount, Stratum, TwoArms};
use quietbeam_analysis::methods::difference::{
    newcombe_corrected_interval, newcombe_interval, wald_difference_interval,
};
use quietbeam_analysis::methods::distribution::normal_upper_quantile;
use quietbeam_analysis::methods::dose::geometric_mean_ratio_welch;
use quietbeam_analysis::methods::interval::{Confidence, Interval};
use quietbeam_analysis::methods::mantel_haenszel::mantel_haenszel_difference_sato;
use quietbeam_analysis::methods::non_inferiority::{Conclusion, Margin, MarginSize, decide};
use quietbeam_analysis::methods::null_test::NullDifference;
use quietbeam_analysis::methods::proportion::{
    clopper_pearson_interval, jeffreys_interval, mid_p_interval, wilson_corrected_interval, wilson_interval,
};
use quietbeam_analysis::methods::sample::{PositiveSample, Probability, Sample, quantile_type_7};
use quietbeam_analysis::methods::score::{
    farrington_manning_test, mee_interval, miettinen_nurminen_interval, miettinen_nurminen_test,
    proportions_under_difference,
};
use quietbeam_analysis::methods::stratified_score::{StratumShare, stratified_miettinen_nurminen_interval};

/// Slack of a root that is good to a few units in the last place.
const SLACK: f64 = 1e-11;

/// Groups from one case to a million, with the empty and the full cell over-represented.
pub(crate) fn count() -> impl Strategy<Value = EventCount> {
    let total = prop_oneof![1_u32..=5, 1_u32..=200, 1_u32..=10_000, Just(1_000_000)];
    total.prop_flat_map(|n| {
        let events = prop_oneof![1 => Just(0), 1 => Just(n), 1 => 0..=n.min(3), 4 => 0..=n];
        events.prop_map(move |x| EventCount::new(x, n).unwrap())
    })
}

pub(crate) fn arms() -> impl Strategy<Value = TwoArms> {
    (count(), count()).prop_map(|(first, second)| TwoArms { first, second })
}

pub(crate) fn level() -> impl Strategy<Value = Confidence> {
    (0.8..0.999).prop_map(|level| Confidence::new(level).unwrap())
}

pub(crate) fn strata() -> impl Strategy<Value = Vec<Stratum>> {
    let stratum = (prop::option::weighted(0.9, count()), prop::option::weighted(0.9, count()))
        .prop_map(|(first, second)| Stratum { first, second });
    prop::collection::vec(stratum, 1..8)
}

type OneProportion = fn(EventCount, Confidence) -> Interval;
type Difference = fn(TwoArms, Confidence) -> Interval;

const PROPORTIONS: [(&str, OneProportion); 5] = [
    ("wilson", wilson_interval),
    ("wilson_corrected", wilson_corrected_interval),
    ("clopper_pearson", clopper_pearson_interval),
    ("mid_p", mid_p_interval),
    ("jeffreys", jeffreys_interval),
];

const DIFFERENCES: [(&str, Difference); 5] = [
    ("newcombe", newcombe_interval),
    ("newcombe_corrected", newcombe_corrected_interval),
    ("miettinen_nurminen", miettinen_nurminen_interval),
    ("mee", mee_interval),
    ("wald", wald_difference_interval),
];

fn is_sound(interval: &Interval) -> bool {
    interval.lower.is_finite()
        && interval.upper.is_finite()
        && interval.lower <= interval.estimate + SLACK
        && interval.estimate <= interval.upper + SLACK
}

fn wider_than(outer: &Interval, inner: &Interval) -> bool {
    outer.lower <= inner.lower + SLACK && inner.upper <= outer.upper + SLACK
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn one_proportion(x in count(), a in level(), b in level()) {
        let (low, high) = if a.level() < b.level() { (a, b) } else { (b, a) };
        for (name, method) in PROPORTIONS {
            let (narrow, wide) = (method(x, low), method(x, high));
            prop_assert!(is_sound(&narrow), "{name} {narrow:?}");
            prop_assert!(narrow.lower >= 0.0 && narrow.upper <= 1.0, "{name} {narrow:?}");
            prop_assert!(wider_than(&wide, &narrow), "{name} {wide:?} {narrow:?}");
            let mirrored = method(x.complement(), low);
            prop_assert!((mirrored.lower - (1.0 - narrow.upper)).abs() < SLACK, "{name}");
            if x.non_events() > 0 {
                let more = method(EventCount::new(x.events() + 1, x.total()).unwrap(), low);
                prop_assert!(more.lower > narrow.lower || narrow.lower == 0.0 && more.lower > 0.0);
                prop_assert!(more.upper > narrow.upper || more.upper == 1.0, "{name}");
            }
        }
    }

    #[test]
    fn difference(t in arms(), a in level(), b in level()) {
        let (low, high) = if a.level() < b.level() { (a, b) } else { (b, a) };
        for (name, method) in DIFFERENCES {
            let (narrow, wide) = (method(t, low), method(t, high));
            prop_assert!(is_sound(&narrow), "{name} {narrow:?}");
            prop_assert!(wider_than(&wide, &narrow), "{name} {wide:?} {narrow:?}");
            let swapped = method(t.swapped(), low);
            prop_assert_eq!(swapped.lower, -narrow.upper, "{}", name);
            prop_assert_eq!(swapped.upper, -narrow.lower, "{}", name);
            if name != "wald" {
                prop_assert!(narrow.lower >= -1.0 - SLACK && narrow.upper <= 1.0 + SLACK);
                if t.first.non_events() > 0 {
                    let first = EventCount::new(t.first.events() + 1, t.first.total()).unwrap();
                    let more = method(TwoArms { first, ..t }, low);
                    prop_assert!(more.lower >= narrow.lower - SLACK, "{name}");
                    prop_assert!(more.upper >= narrow.upper - SLACK, "{name}");
                }
            }
        }
    }

    #[test]
    fn a_difference_is_inside_exactly_when_its_two_one_sided_tests_say_so(
        t in arms(), at in level(), null in -0.999..0.999,
    ) {
        let z = normal_upper_quantile(at.tail());
        let null = NullDifference::new(null).unwrap();
        for (interval, test) in [
            (mee_interval(t, at), farrington_manning_test(t, null)),
            (miettinen_nurminen_interval(t, at), miettinen_nurminen_test(t, null)),
        ] {
            let delta = null.difference();
            let inside = delta > interval.lower && delta < interval.upper;
            let near = (delta - interval.lower).abs().min((delta - interval.upper).abs()) < 1e-9;
            prop_assert!(near || inside == (test.z.abs() < z), "{interval:?} {test:?}");
            prop_assert!((test.p_greater + test.p_less - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn restricted_proportions_are_proportions_and_the_likelihood_peaks_there(
        t in arms(), null in -0.999..0.999,
    ) {
        let (r1, r2) = proportions_under_difference(t, NullDifference::new(null).unwrap());
        prop_assert!((-1e-15..=1.0 + 1e-15).contains(&r1) && (-1e-15..=1.0 + 1e-15).contains(&r2));
        prop_assert!((r1 - r2 - null).abs() < 1e-15);
        let term = |cases: u32, p: f64| if cases == 0 { 0.0 } else { f64::from(cases) * p.ln() };
        let likelihood = |step: f64| {
            let (a, b) = (r1 + step, r2 + step);
            term(t.first.events(), a) + term(t.first.non_events(), 1.0 - a)
                + term(t.second.events(), b) + term(t.second.non_events(), 1.0 - b)
        };
        let here = likelihood(0.0);
        for step in [-1e-3, -1e-6, 1e-6, 1e-3] {
            let (a, b) = (r1 + step, r2 + step);
            if a.min(b) > 0.0 && a.max(b) < 1.0 {
                let there = likelihood(step);
                prop_assert!(there <= here + 1e-12 * here.abs(), "{r1} {r2} {step} {here} {there}");
            }
        }
    }

    #[test]
    fn strata_in_any_order_give_the_same_digits(s in strata(), at in level(), seed in any::<u64>()) {
        let mut shuffled = s.clone();
        let places = shuffled.len();
        for place in 0..places {
            let other = usize::try_from((seed >> (place * 3)) % 8).unwrap() % places;
            shuffled.swap(place, other);
        }
        let (one, two) = (
            stratified_miettinen_nurminen_interval(&s, at),
            stratified_miettinen_nurminen_interval(&shuffled, at),
        );
        prop_assert_eq!(one.map(|r| r.interval), two.map(|r| r.interval));
        prop_assert_eq!(
            mantel_haenszel_difference_sato(&s, at),
            mantel_haenszel_difference_sato(&shuffled, at)
        );
    }

    #[test]
    fn stratified(s in strata(), a in level(), b in level()) {
        let (low, high) = if a.level() < b.level() { (a, b) } else { (b, a) };
        let comparable = s.iter().filter(|stratum| stratum.arms().is_some()).count();
        let Ok(narrow) = stratified_miettinen_nurminen_interval(&s, low) else {
            prop_assert_eq!(comparable, 0);
            return Ok(());
        };
        prop_assert_eq!(narrow.left_out(), s.len() - comparable);
        let total: f64 = narrow.shares.iter().map(|share| match share {
            StratumShare::Weighted { weight } => *weight,
            _ => 0.0,
        }).sum();
        prop_assert!((total - 1.0).abs() < 1e-12);
        prop_assert!(is_sound(&narrow.interval), "{narrow:?}");
        prop_assert!(narrow.interval.lower >= -1.0 && narrow.interval.upper <= 1.0);
        let wide = stratified_miettinen_nurminen_interval(&s, high).unwrap();
        prop_assert!(wider_than(&wide.interval, &narrow.interval));
        let swapped: Vec<Stratum> = s.iter().map(|stratum| stratum.swapped()).collect();
        let other = stratified_miettinen_nurminen_interval(&swapped, low).unwrap().interval;
        prop_assert!((other.lower + narrow.interval.upper).abs() < SLACK);
        prop_assert!((other.upper + narrow.interval.lower).abs() < SLACK);
    }

    #[test]
    fn one_stratum_equals_no_strata(t in arms(), at in level()) {
        let alone = stratified_miettinen_nurminen_interval(&[t.into()], at).unwrap().interval;
        let plain = miettinen_nurminen_interval(t, at);
        prop_assert!((alone.lower - plain.lower).abs() < SLACK, "{alone:?} {plain:?}");
        prop_assert!((alone.upper - plain.upper).abs() < SLACK, "{alone:?} {plain:?}");
        if let Ok(sato) = mantel_haenszel_difference_sato(&[t.into()], at) {
            prop_assert!((sato.estimate - t.difference()).abs() < 1e-12);
        }
    }

    #[test]
    fn the_interval_and_the_test_at_the_margin_decide_alike(t in arms(), size in 0.001..0.5) {
        let level = Confidence::NINETY_FIVE;
        let size = MarginSize::new(size).unwrap();
        for margin in [Margin::Benefit(size), Margin::Harm(size)] {
            let interval = mee_interval(t, level);
            let edge = margin.null_difference().difference();
            if (interval.lower - edge).abs().min((interval.upper - edge).abs()) < 1e-9 {
                continue;
            }
            let test = farrington_manning_test(t, margin.null_difference());
            let shown = decide(&Ok(interval), margin) == Conclusion::Shown;
            prop_assert_eq!(shown, margin.one_sided_p(&test).unwrap() < level.tail());
            // The same counts seen as failures instead of successes give the same answer.
            let mirrored = TwoArms { first: t.first.complement(), second: t.second.complement() };
            let opposite = match margin {
                Margin::Benefit(size) => Margin::Harm(size),
                Margin::Harm(size) => Margin::Benefit(size),
            };
            prop_assert_eq!(
                decide(&Ok(interval), margin),
                decide(&Ok(mee_interval(mirrored, level)), opposite)
            );
        }
    }

    #[test]
    fn a_ratio_of_doses(
        a in prop::collection::vec(1e-3..1e4_f64, 1..40),
        b in prop::collection::vec(1e-3..1e4_f64, 1..40),
        at in level(),
    ) {
        let (first, second) = (PositiveSample::new(a.clone()).unwrap(), PositiveSample::new(b).unwrap());
        let Ok(ratio) = geometric_mean_ratio_welch(&first, &second, at) else { return Ok(()) };
        let swapped = geometric_mean_ratio_welch(&second, &first, at).unwrap();
        let interval = ratio.interval;
        prop_assert!(interval.lower < interval.estimate && interval.estimate < interval.upper);
        prop_assert!((swapped.interval.estimate * interval.estimate - 1.0).abs() < 1e-10);
        prop_assert!((swapped.interval.lower * interval.upper - 1.0).abs() < 1e-10);
        // The unit must not matter.
        let scaled = PositiveSample::new(a.iter().map(|v| v * 1000.0).collect()).unwrap();
        let thousand = geometric_mean_ratio_welch(&scaled, &second, at).unwrap();
        prop_assert!((thousand.interval.estimate / interval.estimate / 1000.0 - 1.0).abs() < 1e-10);
        prop_assert!((0.0..=1.0).contains(&ratio.p_two_sided));
    }

    #[test]
    fn quantiles_rise_and_stay_within_the_values(
        values in prop::collection::vec(-1e6..1e6_f64, 1..50), p in 0.0..=1.0_f64, q in 0.0..=1.0_f64,
    ) {
        let sample = Sample::new(values).unwrap();
        let (low, high) = (p.min(q), p.max(q));
        let at = |q| quantile_type_7(&sample, Probability::new(q).unwrap());
        prop_assert!(at(low) <= at(high));
        prop_assert!(at(0.0) <= at(low) && at(high) <= at(1.0));
        prop_assert_eq!(at(0.0), sample.sorted()[0]);
    }
}

#[test]
fn extreme_cells_are_finite() {
    let count = |x, n| EventCount::new(x, n).unwrap();
    let cells = [
        count(0, 1),
        count(1, 1),
        count(0, 10_000),
        count(1, 10_000),
        count(10_000, 10_000),
        count(0, 1_000_000),
        count(500_000, 1_000_000),
        count(1_000_000, 1_000_000),
        count(u32::MAX, u32::MAX),
        count(1, u32::MAX),
    ];
    for level in [0.5, 0.8, 0.95, 0.999, 0.999_999_999] {
        let level = Confidence::new(level).unwrap();
        for first in cells {
            for (name, method) in PROPORTIONS {
                assert!(is_sound(&method(first, level)), "{name} {first:?}");
            }
            for second in cells {
                let arms = TwoArms { first, second };
                for (name, method) in DIFFERENCES {
                    assert!(is_sound(&method(arms, level)), "{name} {arms:?}");
                }
                let strata = [arms.into(), Stratum { first: Some(first), second: None }];
                let stratified = stratified_miettinen_nurminen_interval(&strata, level).unwrap();
                assert!(is_sound(&stratified.interval), "{arms:?}");
                for null in [-0.999_999, -0.5, -1e-9, 0.0, 1e-9, 0.5, 0.999_999] {
                    let test = farrington_manning_test(arms, NullDifference::new(null).unwrap());
                    assert!(test.z.is_finite(), "{arms:?} {null} {test:?}");
                }
            }
        }
    }
}
