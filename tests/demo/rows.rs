//! Every row passes the rules but those that the scenario spoiled, and what the
//! registry derives from a row is what was drawn for it.

use crate::reading::{checked, codes, findings, today};
use quietbeam::demo::{DemoCentre, Drawn, FaultKind, Scenario, ShownBy};
use quietbeam::intake::{FileKind, Files, Source, check_files};
use quietbeam_schema::endpoint::{acute_success, harm_tier, major_within_30_days};
use quietbeam_schema::finding::Weight;
use quietbeam_schema::vocabulary::{AcuteSuccess, ComplicationKind, HarmTier};
use std::collections::{BTreeMap, BTreeSet};

const SEEDS: [u64; 2] = [1, 2];

fn spoiled_rows(centre: &DemoCentre, of: impl Fn(FaultKind, ShownBy) -> bool) -> BTreeSet<usize> {
    let spoiled = centre.faults().into_iter().filter(|fault| of(fault.kind, fault.shown_by));
    spoiled.filter_map(|fault| fault.row).collect()
}

#[test]
fn the_rows_refused_are_those_of_the_list_and_no_others() {
    for seed in SEEDS {
        for (centre, outcomes) in checked(&Scenario::generate(seed, 4_300)) {
            let refused: BTreeSet<usize> =
                (1..).zip(&outcomes).filter(|(_, o)| o.is_err()).map(|(row, _)| row).collect();
            let expected = spoiled_rows(centre, |_, shown_by| matches!(shown_by, ShownBy::Refusal(_)));
            let sentences = |row: &usize| {
                let hard =
                    findings(&outcomes[row - 1]).iter().filter(|finding| finding.weight == Weight::Hard);
                hard.map(|finding| finding.sentence.clone()).collect::<Vec<_>>()
            };
            let surprises: Vec<_> =
                refused.symmetric_difference(&expected).map(|row| (row, sentences(row))).collect();
            assert!(surprises.is_empty(), "{}, seed {seed}: {surprises:#?}", centre.centre.code);
        }
    }
}

/// The way the demonstration goes: through the reading that a centre's files take.
#[test]
fn an_import_of_good_rows_takes_all_three_files() {
    for centre in &Scenario::generate(1, 4_300).centres {
        let sent = centre.files(&codes(centre));
        let mut files = Files::default();
        for (kind, text) in [
            (FileKind::Cases, sent.cases),
            (FileKind::Complications, sent.complications),
            (FileKind::FollowUps, sent.follow_ups),
        ] {
            files.put(kind, Source::Bytes(text.into_bytes().into()));
        }
        let report = check_files(&files, today()).unwrap();
        let refusals =
            spoiled_rows(centre, |_, shown_by| matches!(shown_by, ShownBy::Refusal(_))).len() as u64;
        assert!(!report.refused_whole);
        assert_eq!(report.counts(FileKind::Cases).refused, refusals, "{}", centre.centre.code);
        assert_eq!(report.counts(FileKind::Complications).refused, 0, "{}", centre.centre.code);
        assert_eq!(report.counts(FileKind::FollowUps).refused, 0, "{}", centre.centre.code);
    }
}

/// A query is work for a person, so an ordinary row should raise none. The
/// tails of the scenario's own distributions raise a few: very long beams,
/// small fields, minutes that happen to equal milligrays.
#[test]
fn ordinary_rows_raise_few_queries() {
    let (mut ordinary, mut queried) = (0, 0);
    let mut by_rule: BTreeMap<&str, usize> = BTreeMap::new();
    for seed in SEEDS {
        for (centre, outcomes) in checked(&Scenario::generate(seed, 4_300)) {
            let spoiled = spoiled_rows(centre, |_, shown_by| shown_by != ShownBy::Comparison);
            for (_, outcome) in (1..).zip(&outcomes).filter(|(row, _)| !spoiled.contains(row)) {
                ordinary += 1;
                queried += usize::from(!findings(outcome).is_empty());
                findings(outcome).iter().for_each(|finding| *by_rule.entry(finding.rule).or_default() += 1);
            }
        }
    }
    let share = queried as f64 / ordinary as f64;
    println!("{queried} of {ordinary} ordinary rows are queried, {:.2} %: {by_rule:?}", 100.0 * share);
    assert!(share < 0.02, "{queried} of {ordinary} ordinary rows are queried: {by_rule:?}");
}

fn drawn(centre: &DemoCentre) -> Vec<Drawn> {
    centre.drawn().collect()
}

#[test]
fn success_and_major_harm_are_derived_as_they_were_drawn() {
    let mut compared = 0;
    for seed in SEEDS {
        for (centre, outcomes) in checked(&Scenario::generate(seed, 4_300)) {
            let hushed = hushed_quarter(centre);
            let rows = outcomes.iter().zip(drawn(centre)).filter(|(_, drawn)| Some(drawn.quarter) != hushed);
            for (outcome, drawn) in rows {
                let Ok(checked) = outcome else { continue };
                let case = &checked.record;
                let succeeded = acute_success(case).derived.map(|answer| answer == AcuteSuccess::Yes);
                assert_eq!(succeeded, Some(drawn.success));
                // Nobody knows that a patient who was lost had nothing.
                let known = drawn.major || !drawn.lost_at_30_days;
                assert_eq!(major_within_30_days(case), known.then_some(drawn.major));
                compared += 1;
            }
        }
    }
    assert!(compared > 8_000, "only {compared} rows were compared");
}

/// The quarter whose failures and complications were left out.
fn hushed_quarter(centre: &DemoCentre) -> Option<usize> {
    let row = spoiled_rows(centre, |kind, _| kind == FaultKind::QuarterWithoutEvents).into_iter().next()?;
    Some(drawn(centre)[row - 1].quarter)
}

#[test]
fn fluid_is_major_when_drained_and_an_image_finding_when_only_seen() {
    let (mut drained, mut seen, mut minor) = (0, 0, 0);
    for (centre, outcomes) in checked(&Scenario::generate(1, 4_300)) {
        let hushed = hushed_quarter(centre);
        for (outcome, drawn) in outcomes.iter().zip(drawn(centre)) {
            let Ok(checked) = outcome else { continue };
            let case = &checked.record;
            let tiers: Vec<(ComplicationKind, HarmTier)> = case
                .complications()
                .iter()
                .map(|event| (event.ae_code, harm_tier(event, case).used().unwrap()))
                .collect();
            let count = |what| tiers.iter().filter(|found| **found == what).count();
            let (tamponades, images) = (
                count((ComplicationKind::Tamponade, HarmTier::Major)),
                count((ComplicationKind::Effusion, HarmTier::ImagingOnly)),
            );
            let fluid = |(kind, _): &&(ComplicationKind, HarmTier)| {
                matches!(kind, ComplicationKind::Tamponade | ComplicationKind::Effusion)
            };
            // No fluid falls into any other tier.
            assert_eq!(tiers.iter().filter(fluid).count(), tamponades + images);
            if Some(drawn.quarter) != hushed {
                assert_eq!(
                    (tamponades, images),
                    (usize::from(drawn.drained), usize::from(drawn.image_fluid_found))
                );
            }
            drained += tamponades;
            seen += images;
            minor += tiers.iter().filter(|(_, tier)| *tier == HarmTier::Minor).count();
        }
    }
    assert!(drained > 5 && seen > 100 && minor > 20, "drained {drained}, seen {seen}, minor {minor}");
}
