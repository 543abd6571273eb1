//! Laws of the methods over strata, and a published example.

use proptest::prelude::*;
use quietbeam_analysis::methods::association::{
    breslow_day_tarone_test, breslow_day_test, cochran_mantel_haenszel_test,
};
use quietbeam_analysis::methods::counts::Stratum;
use quietbeam_analysis::methods::difference::newcombe_interval;
use quietbeam_analysis::methods::distribution::normal_upper_quantile;
use quietbeam_analysis::methods::interval::{Confidence, Interval, NotEstimable};
use quietbeam_analysis::methods::mantel_haenszel::{
    mantel_haenszel_difference_greenland_robins, mantel_haenszel_difference_sato, mantel_haenszel_odds_ratio,
    mantel_haenszel_risk_ratio,
};
use quietbeam_analysis::methods::null_test::NullDifference;
use quietbeam_analysis::methods::ratio::katz_interval;
use quietbeam_analysis::methods::stratified_newcombe::{
    stratified_newcombe_recovered_interval, stratified_newcombe_yan_su_interval,
};
use quietbeam_analysis::methods::stratified_score::{
    stratified_mee_interval, stratified_miettinen_nurminen_interval, stratified_miettinen_nurminen_test,
};

use crate::laws::{arms, level, strata};
use crate::published::{arms as table, digits_agree};

const SLACK: f64 = 1e-9;

type Difference = fn(&[Stratum], Confidence) -> Result<Interval, NotEstimable>;

const DIFFERENCES: [(&str, Difference); 6] = [
    ("score", |s, level| stratified_miettinen_nurminen_interval(s, level).map(|r| r.interval)),
    ("mee", |s, level| stratified_mee_interval(s, level).map(|r| r.interval)),
    ("yan_su", stratified_newcombe_yan_su_interval),
    ("recovered", stratified_newcombe_recovered_interval),
    ("sato", mantel_haenszel_difference_sato),
    ("greenland_robins", mantel_haenszel_difference_greenland_robins),
];

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn differences(s in strata(), a in level(), b in level()) {
        let (low, high) = if a.level() < b.level() { (a, b) } else { (b, a) };
        let swapped: Vec<Stratum> = s.iter().map(|stratum| stratum.swapped()).collect();
        let reversed: Vec<Stratum> = s.iter().rev().copied().collect();
        let with_empty: Vec<Stratum> =
            s.iter().copied().chain([Stratum { first: None, second: None }]).collect();
        for (name, method) in DIFFERENCES {
            let Ok(narrow) = method(&s, low) else {
                prop_assert!(method(&swapped, low).is_err(), "{name}");
                continue;
            };
            prop_assert!(narrow.lower <= narrow.estimate + SLACK, "{name} {narrow:?}");
            prop_assert!(narrow.estimate <= narrow.upper + SLACK, "{name} {narrow:?}");
            let wide = method(&s, high).unwrap();
            prop_assert!(wide.lower <= narrow.lower + SLACK && narrow.upper <= wide.upper + SLACK, "{name}");
            let other = method(&swapped, low).unwrap();
            prop_assert!((other.lower + narrow.upper).abs() < SLACK, "{name} {other:?} {narrow:?}");
            prop_assert!((other.upper + narrow.lower).abs() < SLACK, "{name} {other:?} {narrow:?}");
            prop_assert_eq!(method(&reversed, low), Ok(narrow), "{}", name);
            prop_assert_eq!(method(&with_empty, low), Ok(narrow), "{}", name);
        }
    }

    #[test]
    fn one_stratum_equals_no_strata(t in arms(), at in level()) {
        let one = [Stratum::from(t)];
        let newcombe = newcombe_interval(t, at);
        for method in [stratified_newcombe_yan_su_interval, stratified_newcombe_recovered_interval] {
            let stratified = method(&one, at).unwrap();
            prop_assert!((stratified.lower - newcombe.lower).abs() < SLACK, "{stratified:?} {newcombe:?}");
            prop_assert!((stratified.upper - newcombe.upper).abs() < SLACK, "{stratified:?} {newcombe:?}");
        }
        if let (Ok(stratified), Ok(katz)) = (mantel_haenszel_risk_ratio(&one, at), katz_interval(t, at)) {
            prop_assert!((stratified.lower / katz.lower - 1.0).abs() < 1e-6, "{stratified:?} {katz:?}");
        }
    }

    #[test]
    fn the_stratified_interval_and_test_agree(s in strata(), at in level(), null in -0.99..0.99) {
        let Ok(result) = stratified_miettinen_nurminen_interval(&s, at) else { return Ok(()) };
        let z = normal_upper_quantile(at.tail());
        let test = stratified_miettinen_nurminen_test(&s, NullDifference::new(null).unwrap()).unwrap();
        let interval = result.interval;
        let near = (null - interval.lower).abs().min((null - interval.upper).abs()) < SLACK;
        let inside = null > interval.lower && null < interval.upper;
        prop_assert!(near || inside == (test.z.abs() < z), "{interval:?} {test:?}");
    }

    #[test]
    fn ratios_and_tests_are_sound(s in strata(), at in level()) {
        let swapped: Vec<Stratum> = s.iter().map(|stratum| stratum.swapped()).collect();
        for method in [mantel_haenszel_odds_ratio, mantel_haenszel_risk_ratio] {
            if let (Ok(ratio), Ok(other)) = (method(&s, at), method(&swapped, at)) {
                let upper = other.upper.or_infinity();
                prop_assert!(
                    (ratio.lower * upper - 1.0).abs() < 1e-9 || ratio.lower == 0.0 && upper > 1e300,
                    "{ratio:?} {other:?}"
                );
            }
        }
        for test in [cochran_mantel_haenszel_test, breslow_day_test, breslow_day_tarone_test] {
            if let Ok(test) = test(&s) {
                prop_assert!(test.statistic >= 0.0 && test.statistic.is_finite(), "{test:?}");
                prop_assert!((0.0..=1.0).contains(&test.p), "{test:?}");
            }
        }
    }
}

#[test]
fn eight_centres() {
    let centres = [
        (11, 36, 10, 37),
        (16, 20, 22, 32),
        (14, 19, 7, 19),
        (2, 16, 1, 17),
        (6, 17, 0, 12),
        (1, 11, 0, 10),
        (1, 5, 1, 9),
        (4, 6, 6, 7),
    ];
    let strata: Vec<Stratum> = centres.map(|(x1, n1, x2, n2)| table(x1, n1, x2, n2).into()).to_vec();
    let odds = mantel_haenszel_odds_ratio(&strata, Confidence::NINETY_FIVE).unwrap();
    let source = "Agresti, Categorical Data Analysis, cream trial in eight centres (Beitler and Landis 1985)";
    let agree = |what: &str, value: f64, digits: usize, printed: &str| {
        digits_agree(source, what, &format!("{value:.digits$}"), printed);
    };
    agree("Mantel–Haenszel odds ratio", odds.estimate.unwrap().or_infinity(), 2, "2.13");
    agree("Mantel–Haenszel odds ratio, lower limit", odds.lower, 2, "1.18");
    agree("Mantel–Haenszel odds ratio, upper limit", odds.upper.or_infinity(), 2, "3.87");
    let association = cochran_mantel_haenszel_test(&strata).unwrap();
    agree("Cochran–Mantel–Haenszel chi-square", association.statistic, 2, "6.38");
    agree("Breslow–Day chi-square", breslow_day_test(&strata).unwrap().statistic, 1, "8.0");
}
