//! Published counts through the whole path: entered as cases, checked, compared.
//! Limits are those of `published.csv`, which `reference.py` beside it computed
//! by a second route.

use crate::arms::{Counts, cohort, verdict};
use crate::records::Kind;
use quietbeam_analysis::study::arm::Arm;
use quietbeam_analysis::study::comparison::{Comparison, EndpointComparison, compare};
use quietbeam_analysis::study::decision::{Decision, Reason};
use quietbeam_analysis::study::estimate::Estimate;
use quietbeam_analysis::study::population_result::Difference;
use quietbeam_analysis::study::request::{ComparisonRequest, RequestForm};
use std::path::Path;

/// Both routes work in more digits than this; limits are roots of a square root.
const TOLERANCE: f64 = 1e-9;

fn default_request() -> ComparisonRequest {
    RequestForm::default().try_into().unwrap()
}

struct Reference {
    study: String,
    endpoint: String,
    counts: [u32; 4],
    quantity: String,
    values: Vec<f64>,
}

fn references(study: &str) -> Vec<Reference> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("study/published.csv");
    let mut lines = csv::Reader::from_path(path).unwrap();
    let read = |row: csv::StringRecord| Reference {
        study: row[0].to_owned(),
        endpoint: row[1].to_owned(),
        counts: [2, 3, 4, 5].map(|column| row[column].parse().unwrap()),
        quantity: row[6].to_owned(),
        values: [7, 8].iter().filter_map(|column| row[*column].parse().ok()).collect(),
    };
    let found: Vec<_> =
        lines.records().map(|row| read(row.unwrap())).filter(|line| line.study == study).collect();
    assert!(!found.is_empty(), "no reference for {study}");
    found
}

fn difference(endpoint: &EndpointComparison) -> &Difference {
    match &endpoint.as_intended.difference {
        Estimate::Estimated(difference) => difference,
        Estimate::CannotBeEstimated(why) => panic!("{why}"),
    }
}

fn computed(endpoint: &EndpointComparison, quantity: &str) -> Vec<f64> {
    let arms = &endpoint.as_intended.arms;
    let difference = difference(endpoint);
    let limits =
        |interval: quietbeam_analysis::methods::interval::Interval| vec![interval.lower, interval.upper];
    match quantity {
        "miettinen_nurminen" => limits(difference.miettinen_nurminen),
        "newcombe" => limits(difference.newcombe),
        "wilson_first" => limits(arms.zero_fluoroscopy.proportion.unwrap()),
        "wilson_second" => limits(arms.conventional.proportion.unwrap()),
        "exact_upper" => {
            vec![arms.zero_fluoroscopy.exact.unwrap().upper, arms.conventional.exact.unwrap().upper]
        }
        "farrington_manning_z" => vec![difference.test_at_margin.unwrap().z],
        other => panic!("{other}"),
    }
}

/// Compares what the path from the record gives with every reference line of a study.
fn check(study: &str, comparison: &Comparison) {
    for reference in references(study) {
        let endpoint = match reference.endpoint.as_str() {
            "acute_success" => &comparison.acute_success,
            _ => &comparison.major_within_30_days,
        };
        let arms = &endpoint.as_intended.arms;
        let (first, second) = (arms.zero_fluoroscopy.tally, arms.conventional.tally);
        assert_eq!(reference.counts, [first.events, first.known, second.events, second.known], "{study}");
        if reference.quantity == "exact_upper" && arms.zero_fluoroscopy.exact.is_none() {
            continue; // Exact limits are given only where no case or every case had the event.
        }
        if reference.quantity == "exact_upper" && arms.conventional.exact.is_none() {
            continue;
        }
        let found = computed(endpoint, &reference.quantity);
        for (value, expected) in found.iter().zip(&reference.values) {
            let what = format!("{study} {} {}", reference.endpoint, reference.quantity);
            assert!((value - expected).abs() <= TOLERANCE, "{what}: {value}, reference {expected}");
        }
    }
}

fn near(value: f64, published: f64, half_unit: f64) {
    assert!((value - published).abs() <= half_unit, "{value}, published {published}");
}

/// Casella M et al., randomised comparison in supraventricular tachycardia,
/// Europace 2016;18:1565, counts of its abstract: 134 against 128 patients, all
/// successful, no complication, no X-ray at all in 96 of 134 (72 %). Its
/// protocol aimed at minimal fluoroscopy; the 38 others stand here as cross-over.
#[test]
fn a_trial_without_any_complication_proves_little_about_safety() {
    let zero = Counts { cases: 134, successes: 134, major: 0, crossed_over: 38 };
    let comparison = compare(
        &cohort(Kind::Svt, zero, Counts { cases: 128, successes: 128, major: 0, crossed_over: 0 }),
        &default_request(),
    );
    check("no_party_2016", &comparison);
    near(comparison.dose.no_x_ray.zero_fluoroscopy.proportion.unwrap().estimate, 0.72, 0.005);
    assert_eq!((comparison.cross_over.to_x_ray.count, comparison.cross_over.to_x_ray.of), (38, 134));
    let success = verdict(&comparison.acute_success);
    assert_eq!(success.as_intended, Decision::Shown);
    // Without its cross-overs the arm is too small: 96 of 96 excludes no 3 points.
    let too_few = Decision::CannotConclude { reason: Reason::EventInEveryCase };
    assert_eq!((success.per_protocol, success.claim), (too_few, too_few));
    let none = Decision::CannotConclude { reason: Reason::NoEventInEitherArm };
    let harm = verdict(&comparison.major_within_30_days);
    assert_eq!((harm.as_intended, harm.claim), (none, none));
    assert!(harm.in_words.contains("no case of either arm had the event"), "{}", harm.in_words);
    // Exact upper limits 2.7 % and 2.8 %: none seen is not none possible.
    let exact = comparison.major_within_30_days.as_intended.arms.map(|arm| arm.exact.unwrap().upper);
    near(exact.zero_fluoroscopy, 0.027, 0.0005);
    near(exact.conventional, 0.028, 0.0005);
}

/// Lehar F et al., randomised, Europace 2022;24:1636–1644,
/// doi 10.1093/europace/euac049: n = 123, acute success 98.4 % in both arms,
/// no complication. Counts inferred from the percentages: 61/62 and 60/61.
#[test]
fn the_best_trial_alone_cannot_meet_three_points() {
    let zero = Counts { cases: 62, successes: 61, major: 0, crossed_over: 0 };
    let conventional = Counts { cases: 61, successes: 60, major: 0, crossed_over: 0 };
    let comparison = compare(&cohort(Kind::Svt, zero, conventional), &default_request());
    check("zerofluoro_2022", &comparison);
    let arms = &comparison.acute_success.as_intended.arms;
    for (_, arm) in arms.each() {
        near(arm.proportion.unwrap().estimate, 0.984, 0.000_5);
    }
    assert_eq!(verdict(&comparison.acute_success).claim, Decision::NotShown);
    let success = verdict(&comparison.acute_success);
    assert_eq!(success.as_intended, success.per_protocol);
    assert_eq!(
        verdict(&comparison.major_within_30_days).claim,
        Decision::CannotConclude { reason: Reason::NoEventInEitherArm }
    );
    let fully_dark = comparison.dose.no_x_ray.zero_fluoroscopy;
    assert_eq!((fully_dark.count, fully_dark.of), (62, 62));
}

/// Multicentre comparison of ablation of idiopathic ventricular arrhythmia with
/// and without fluoroscopy, Medicine (Baltimore) 2017;96, from its abstract:
/// 163 against 326 patients, success 84.1 and 85.4 %, severe complications 0.6
/// and 0.9 %, nine switched to X-ray. Counts inferred from the percentages; the
/// nearest whole counts of success, 137 and 278, give 84.0 and 85.3 %, so the
/// publication had another denominator there by a case or two.
#[test]
fn a_cohort_of_ventricular_arrhythmia_shows_neither() {
    let zero = Counts { cases: 163, successes: 137, major: 1, crossed_over: 9 };
    let conventional = Counts { cases: 326, successes: 278, major: 3, crossed_over: 0 };
    let comparison = compare(&cohort(Kind::Ventricular, zero, conventional), &default_request());
    check("idiopathic_va_2017", &comparison);
    let success = comparison.acute_success.as_intended.arms;
    near(success.zero_fluoroscopy.proportion.unwrap().estimate, 0.841, 0.001);
    near(success.conventional.proportion.unwrap().estimate, 0.854, 0.001_5);
    let severe = comparison.major_within_30_days.as_intended.arms;
    near(severe.zero_fluoroscopy.proportion.unwrap().estimate, 0.006, 0.000_5);
    near(severe.conventional.proportion.unwrap().estimate, 0.009, 0.000_5);
    assert_eq!(comparison.cross_over.to_x_ray.count, 9);
    assert_eq!(comparison.cases.per_protocol.zero_fluoroscopy, 154);
    assert_eq!(verdict(&comparison.acute_success).claim, Decision::NotShown);
    assert_eq!(verdict(&comparison.major_within_30_days).claim, Decision::NotShown);
}

/// Ahn J et al., randomised, cryoballoon ablation of atrial fibrillation with
/// intracardiac echo in both arms, Europace 2023;25:euad086,
/// doi 10.1093/europace/euad086: n = 100, every vein isolated, one case without
/// fluoroscopy intended switched to it. Arms of 50 inferred.
#[test]
fn fifty_successes_in_fifty_exclude_no_three_points() {
    let counts = |crossed_over| Counts { cases: 50, successes: 50, major: 0, crossed_over };
    let comparison = compare(&cohort(Kind::Af, counts(1), counts(0)), &default_request());
    check("cryoballoon_2023", &comparison);
    assert_eq!((comparison.cross_over.to_x_ray.count, comparison.cross_over.to_x_ray.of), (1, 50));
    let everyone = Decision::CannotConclude { reason: Reason::EventInEveryCase };
    assert_eq!(verdict(&comparison.acute_success).claim, everyone);
}

/// Inputs of Newcombe RG, Stat Med 1998;17:873–890 (inputs from memory).
#[test]
fn textbook_pairs_come_through_the_record_unchanged() {
    let pairs = [
        ("newcombe_1998_a", (56, 70), (48, 80)),
        ("newcombe_1998_d", (5, 56), (0, 29)),
        ("newcombe_1998_f", (0, 10), (0, 10)),
    ];
    for (study, (x1, n1), (x2, n2)) in pairs {
        let counts = |successes, cases| Counts { cases, successes, major: 0, crossed_over: 0 };
        let comparison = compare(&cohort(Kind::Af, counts(x1, n1), counts(x2, n2)), &default_request());
        check(study, &comparison);
    }
}

/// The printed limits of the same paper, to its four digits (from memory).
#[test]
fn the_paper_printed_the_same() {
    let counts = |successes, cases| Counts { cases, successes, major: 0, crossed_over: 0 };
    let comparison = compare(&cohort(Kind::Af, counts(56, 70), counts(48, 80)), &default_request());
    let success = difference(&comparison.acute_success);
    for (value, printed) in [
        (success.newcombe.lower, 0.0524),
        (success.newcombe.upper, 0.3339),
        (success.miettinen_nurminen.lower, 0.0528),
        (success.miettinen_nurminen.upper, 0.3382),
    ] {
        near(value, printed, 0.000_05);
    }
    assert_eq!(verdict(&comparison.acute_success).claim, Decision::Shown);
    assert_eq!(comparison.warnings.len(), 2, "one centre gave both arms");
    assert_eq!(Arm::ZeroFluoroscopy.name(), "zero-fluoroscopy");
}
