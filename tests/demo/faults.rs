//! Every fault that was put in is there, as often as it should be, and shows.

use crate::reading::{checked, findings, forms};
use quietbeam::demo::{DemoCentre, Drawn, FaultFile, FaultKind, Network, Scenario, SeededFault, ShownBy};
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::finding::Weight;
use std::collections::{BTreeMap, BTreeSet};

fn network() -> Network {
    Scenario::generate(1, 4_300)
}

fn rows_of(centre: &DemoCentre, kind: FaultKind) -> Vec<usize> {
    let faults = centre.faults().into_iter().filter(|fault| fault.kind == kind);
    faults.filter_map(|fault| fault.row).collect()
}

fn centre<'a>(network: &'a Network, code: &str) -> &'a DemoCentre {
    network.centres.iter().find(|centre| centre.centre.code.to_string() == code).unwrap()
}

#[test]
fn every_kind_is_seeded_about_as_often_as_stated() {
    let mut found: BTreeMap<(FaultKind, String), usize> = BTreeMap::new();
    for fault in network().faults() {
        *found.entry((fault.kind, fault.centre.to_string())).or_default() += 1;
    }
    let count = |kind, centre: &str| found.get(&(kind, centre.to_owned())).copied().unwrap_or(0);
    let all = |kind| found.iter().filter(|((of, _), _)| *of == kind).map(|(_, count)| count).sum::<usize>();
    use FaultKind as F;
    for (kind, centre) in [
        (F::Duplicate, "S02"),
        (F::Duplicate, "S04"),
        (F::Duplicate, "S06"),
        (F::DateInComment, "S02"),
        (F::DateInComment, "S07"),
        (F::HospitalNumber, "S06"),
        (F::PregnantPatient, "S01"),
        (F::UnitSwitch, "S02"),
        (F::QuarterWithoutEvents, "S04"),
        (F::LowSubmission, "S06"),
    ] {
        assert_eq!(count(kind, centre), 1, "{kind:?} at {centre}");
    }
    assert_eq!(
        [all(F::Duplicate), all(F::DateInComment), all(F::HospitalNumber), all(F::PregnantPatient)],
        [3, 2, 1, 1]
    );
    // Drawn by chance: four Poisson standard deviations around the expectation,
    // which is a share of the cases with the beam on, or off.
    let about = |found: usize, expected: f64| {
        assert!(
            (found as f64 - expected).abs() < 4.0 * expected.sqrt(),
            "{found}, about {expected} expected"
        );
    };
    about(count(F::TimeOnly, "S03"), 0.20 * 540.0);
    about(count(F::GrayAsMilligray, "S07"), 0.08 * 195.0);
    about(count(F::BlankForZero, "S05"), 170.0);
    about(count(F::BlankForZero, "S06"), 0.35 * 130.0);
    about(all(F::MinutesAsDose), 0.01 * 2_100.0);
    // Half of some nine cross-overs.
    assert!((1..=12).contains(&count(F::BackFilledCrossover, "S06")));
    println!("{found:?}");
}

#[test]
fn every_fault_that_a_rule_can_see_is_seen_by_that_rule() {
    let (mut refusals, mut queries) = (0, 0);
    for (centre, outcomes) in checked(&network()) {
        for fault in centre.faults() {
            let Some(row) = fault.row else { continue };
            let outcome = &outcomes[row - 1];
            let has = |rule: &str, weight| {
                findings(outcome).iter().any(|found| found.rule == rule && found.weight == weight)
            };
            match fault.shown_by {
                ShownBy::Refusal(rule) => {
                    assert!(
                        outcome.is_err() && has(rule, Weight::Hard),
                        "{fault:?}: {:?}",
                        findings(outcome)
                    );
                    refusals += 1;
                }
                ShownBy::Query(rule) => {
                    assert!(
                        outcome.is_ok() && has(rule, Weight::Query),
                        "{fault:?}: {:?}",
                        findings(outcome)
                    );
                    queries += 1;
                }
                ShownBy::Comparison => assert!(outcome.is_ok(), "{fault:?}"),
            }
        }
    }
    assert!(refusals > 5 && queries > 100, "{refusals} refusals, {queries} queries");
}

/// Such a blank means zero by the fact that the beam was never on.
#[test]
fn a_blank_dose_without_a_beam_is_read_as_zero() {
    for (centre, outcomes) in checked(&network()) {
        let sent = forms(centre);
        for row in rows_of(centre, FaultKind::BlankForZero) {
            assert_eq!(sent[row - 1].case.given("air_kerma"), None);
            let record = &outcomes[row - 1].as_ref().ok().unwrap().record;
            assert_eq!(record.air_kerma_mgy().value(), Some(&0.0));
            assert_eq!(record.kap_gy_cm2().value(), Some(&0.0));
        }
    }
}

/// What a duplicate has in common with another row of its centre.
fn likeness(form: &CaseForm) -> Vec<String> {
    let keys = ["period", "age_band", "sex", "proc_primary", "op_code", "skin_to_skin_min", "fluoro_time"];
    keys.iter().map(|key| form.case.given(key).unwrap_or_default().to_owned()).collect()
}

#[test]
fn a_duplicate_is_an_earlier_row_under_another_code() {
    let network = network();
    for code in ["S02", "S04", "S06"] {
        let centre = centre(&network, code);
        let sent = forms(centre);
        let rows = rows_of(centre, FaultKind::Duplicate);
        let copy = &sent[rows[0] - 1];
        let alike = |form: &&CaseForm| form.case != copy.case && likeness(form) == likeness(copy);
        let earlier = sent[..rows[0] - 1].iter().find(alike).expect("the case as first entered");
        assert_ne!(earlier.case.given("case_code"), copy.case.given("case_code"));
        let but_code = |form: &CaseForm| {
            form.case
                .iter()
                .filter(|(key, _)| *key != "case_code")
                .map(|(k, t)| (k.to_owned(), t.to_owned()))
                .collect::<Vec<_>>()
        };
        assert_eq!(but_code(earlier), but_code(copy));
    }
}

#[test]
fn a_back_filled_cross_over_hides_in_the_other_arm() {
    let network = network();
    let fennwick = centre(&network, "S06");
    let (sent, drawn) = (forms(fennwick), fennwick.drawn().collect::<Vec<Drawn>>());
    let rows = rows_of(fennwick, FaultKind::BackFilledCrossover);
    assert!(!rows.is_empty());
    for row in rows {
        assert!(drawn[row - 1].zero_intended && drawn[row - 1].crossed_over);
        assert_eq!(sent[row - 1].case.given("strategy_intended"), Some("conventional"));
        assert_eq!(sent[row - 1].case.given("intended_declared"), Some("retrospective"));
    }
}

#[test]
fn one_quarter_of_more_than_a_hundred_cases_shows_nothing_bad() {
    let network = network();
    let driftmoor = centre(&network, "S04");
    let (sent, drawn) = (forms(driftmoor), driftmoor.drawn().collect::<Vec<Drawn>>());
    let row = rows_of(driftmoor, FaultKind::QuarterWithoutEvents)[0];
    let quarter = drawn[row - 1].quarter;
    let rows: Vec<_> = sent.iter().zip(&drawn).filter(|(_, drawn)| drawn.quarter == quarter).collect();
    assert!(rows.len() > 100);
    assert!(rows.iter().all(|(form, _)| form.complications.is_empty()));
    // Something did happen: it was left out, not absent.
    assert!(rows.iter().any(|(_, drawn)| !drawn.success || drawn.image_fluid_found));
}

#[test]
fn one_patient_only_was_pregnant() {
    let network = network();
    let pregnant =
        network.centres.iter().flat_map(forms).filter(|form| form.case.given("pregnant") == Some("yes"));
    assert_eq!(pregnant.count(), 1);
}

#[test]
fn a_small_network_has_the_faults_that_fit_and_says_which() {
    for cases in [0, 1, 10, 60] {
        let network = Scenario::generate(1, cases);
        for fault in network.faults() {
            let SeededFault { file, row, .. } = fault;
            assert_eq!(row.is_none(), file == FaultFile::ScreeningLog);
            let rows = centre(&network, &fault.centre.to_string()).case_rows();
            assert!(row.is_none_or(|row| (1..=rows).contains(&row)));
        }
    }
    let kinds: BTreeSet<FaultKind> =
        Scenario::generate(1, 60).faults().into_iter().map(|fault| fault.kind).collect();
    assert!(!kinds.contains(&FaultKind::QuarterWithoutEvents));
}
