//! What adjustment recovers where the truth is known, and that a report quotes the kept table.

use crate::cases::{network, of};
use quietbeam_analysis::study::recovery::{
    Estimator, Outcome, Recovery, SimulatedCase, SimulatedOutcome, TABLE, Visibility, trial,
};
use quietbeam_schema::vocabulary::ProcedureGroup;

/// Four centres with 500 cases in each arm, the outcomes as frequent as their risks: 90 against
/// 92 % success, so that the truth and the crude difference are both 2 points less.
fn even() -> Vec<SimulatedCase> {
    let case = |number: u32| {
        let (centre, zero, place) = (number % 4, (number / 4).is_multiple_of(2), number / 8);
        let outcome = |zero_fluoroscopy: f64, conventional: f64| {
            let risk = if zero { zero_fluoroscopy } else { conventional };
            // Spread over the cases, so that complexity below tells nothing of it.
            let event = f64::from(place * 37 % 500) < 500.0 * risk;
            SimulatedOutcome { event, zero_fluoroscopy, conventional }
        };
        SimulatedCase {
            centre,
            group: if place.is_multiple_of(3) { ProcedureGroup::Svt } else { ProcedureGroup::AfFirst },
            zero,
            zero_chance: 0.5,
            complexity: f64::from(place % 11) - 5.0,
            noise: f64::from(place % 7) - 3.0,
            lot: f64::from(place) / 500.0,
            outcomes: [outcome(0.90, 0.92), outcome(0.02, 0.02), outcome(0.01, 0.01), outcome(0.2, 0.1)],
        }
    };
    (0..4_000).map(case).collect()
}

#[test]
fn every_estimator_finds_the_difference_where_nothing_stands_in_the_way() {
    let answers = trial(&even());
    let built: Vec<_> = answers
        .iter()
        .filter(|answer| !answer.at_the_margin && answer.line.outcome == Outcome::Success)
        .collect();
    // Two without covariates, and seven for each of three settings.
    assert_eq!(built.len(), 23);
    for answer in built {
        assert!((answer.truth + 0.02).abs() < 1e-12, "{answer:?}");
        let said = answer.said.unwrap();
        assert!((said.estimate + 0.02).abs() < 5e-4, "{answer:?}");
    }
    let edge = answers.iter().find(|answer| answer.at_the_margin).unwrap();
    assert!((edge.truth + 0.03).abs() < 1e-9, "{edge:?}");
    assert!(answers.iter().all(|answer| !answer.at_the_margin || answer.line.outcome.margin().is_some()));
}

#[test]
fn the_table_counts_what_was_said() {
    let mut recovery = Recovery::default();
    let answers = trial(&even());
    recovery.add(&answers);
    recovery.add(&answers);
    assert_eq!(recovery.networks(), 2);
    let rows = recovery.rows();
    let crude = rows.lines().find(|line| line.contains("| acute success | not used | crude")).unwrap();
    assert!(
        crude.contains("| +0.00 ± 0.00 | 100.0 ± 0.0 |") || crude.contains("| -0.00 ± 0.00 | 100.0 ± 0.0 |"),
        "{crude}"
    );
    assert_eq!(rows.lines().count(), 2 + 4 * 23);
}

#[test]
fn a_report_quotes_the_kept_table_to_the_digit() {
    for (driving, outcome) in of(network()).driving.iter().zip([Outcome::Success, Outcome::Major]) {
        let found = driving.recovered.as_ref().unwrap();
        assert!(found.networks >= 500, "too few to tell coverage");
        assert!(found.in_words.starts_with("What a registry cannot recover: in "));
        let kept = [found.recorded_nowhere, found.half_visible, found.fully_recorded];
        for (visibility, quoted) in Visibility::ALL.into_iter().zip(kept) {
            let label = Estimator::StandardisedCr2.label();
            let begin = format!("| {} | {} | {label} | ", outcome.label(), visibility.label());
            let line = TABLE.lines().find(|line| line.starts_with(&begin)).unwrap();
            for (number, digits) in [
                (format!("{:+.2} ±", quoted.bias_points), 3),
                (format!("{:.1} ±", quoted.covered_percent), 4),
                (format!("{:.1} ±", quoted.wrongly_shown_percent), 5),
            ] {
                assert!(line.split(" | ").nth(digits).unwrap().starts_with(&number), "{number}: {line}");
            }
        }
    }
}
