//! What people said of the events who did not know the arm, counted by hand and estimated a second
//! time from cases that have the outcomes as judged.

use crate::cases::{Cell, in_order, network, planned};
use quietbeam_analysis::study::effect::Effect;
use quietbeam_analysis::study::estimate::Estimate;
use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::report::{
    Facts, Judged, JudgedCase, JudgedEvent, ReportCase, State, ToldBy, report,
};
use quietbeam_schema::adjudication::Settled;
use quietbeam_schema::vocabulary::{HarmRuling, HarmTier, Strategy};
use serde_json::json;

fn within_centres() -> AnalysisPlan {
    planned(&[("/method", json!("within_centres")), ("/covariates", json!([]))])
}

/// The network with major harm in every fortieth case.
fn harmed() -> Vec<ReportCase> {
    let mut cases = network();
    for case in cases.iter_mut().step_by(40) {
        case.row.major_within_30_days = Some(true);
    }
    cases
}

fn judged(case: &ReportCase, by_record: HarmTier, settled: Option<Settled>, major: bool) -> JudgedCase {
    let first_two = match settled {
        Some(Settled::ByTwo(ruling)) => Some([ruling, ruling]),
        Some(Settled::ByThird(ruling)) => Some([ruling, HarmRuling::Major]),
        Some(Settled::Open) | None => None,
    };
    let told_by = ToldBy::Complication;
    JudgedCase {
        entered: case.entered,
        events: vec![JudgedEvent { by_record, told_by, first_two, settled }],
        major_within_30_days: Some(major),
        major_before_discharge: Some(major),
    }
}

fn of(cases: &[ReportCase], strategy: Strategy, major: bool) -> impl Iterator<Item = &ReportCase> {
    cases
        .iter()
        .filter(move |case| case.row.intended == strategy && case.row.major_within_30_days == Some(major))
}

/// Zero: three major events are not, by two judges twice and by a third once; one minor is major;
/// one that is open and one that nobody can tell stay as they are; one cannot be shown.
/// Conventional: one is confirmed.
fn rulings(cases: &[ReportCase]) -> Facts {
    use HarmRuling::{CannotTell, Major, Minor, NoHarm};
    let stands = [
        (Some(Settled::ByTwo(Minor)), false),
        (Some(Settled::ByTwo(NoHarm)), false),
        (Some(Settled::ByThird(Minor)), false),
        (Some(Settled::Open), true),
        (Some(Settled::ByTwo(CannotTell)), true),
        (None, true),
    ];
    let harmed = of(cases, Strategy::Zero, true).zip(stands);
    let harmed = harmed.map(|(case, (settled, major))| judged(case, HarmTier::Major, settled, major));
    let unharmed = of(cases, Strategy::Zero, false).take(1);
    let unharmed = unharmed.map(|case| judged(case, HarmTier::Minor, Some(Settled::ByTwo(Major)), true));
    let confirmed = of(cases, Strategy::Conventional, true).take(1);
    let confirmed = confirmed.map(|case| judged(case, HarmTier::Major, Some(Settled::ByTwo(Major)), true));
    Facts { judged: harmed.chain(unharmed).chain(confirmed).collect(), ..Facts::default() }
}

#[test]
fn events_are_counted_and_the_estimate_follows_the_rulings() {
    let cases = harmed();
    let facts = rulings(&cases);
    let found = report(cases.clone(), &within_centres(), &facts).adjudication;
    let by_record = |strategy| of(&cases, strategy, true).count() as u32;
    let (zero, conventional) = (Strategy::Zero, Strategy::Conventional);
    assert_eq!(
        found.events.zero_fluoroscopy,
        Judged {
            reported: 7,
            deaths_of_follow_up: 0,
            not_shown: 1,
            settled: 5,
            by_third: 1,
            cannot_tell: 1,
            raised: 1,
            lowered: 3,
            major_by_record: by_record(zero),
            major_as_judged: by_record(zero) - 2,
        }
    );
    assert_eq!(
        found.events.conventional,
        Judged {
            reported: 1,
            settled: 1,
            major_by_record: by_record(conventional),
            major_as_judged: by_record(conventional),
            ..Judged::default()
        }
    );
    let mut changed = cases.clone();
    for told in &facts.judged {
        let case = changed.iter_mut().find(|case| case.entered == told.entered).unwrap();
        case.row.major_within_30_days = told.major_within_30_days;
    }
    let plan = within_centres();
    let again = report(changed, &plan, &Facts::default()).planned.endpoints.swap_remove(1);
    let wanted = again.as_intended.difference(plan.method()).unwrap();
    assert_eq!(found.as_judged, Some(Effect::Difference(Estimate::Estimated(wanted))));
    for said in [
        "Of 8 events reported, 6 were judged by two people",
        "a third judge decided in 1",
        "The decision rests on the record",
        "The first two rulings agree in 5 of 6 events (83.3 %",
    ] {
        assert!(found.in_words.contains(said), "{said}: {}", found.in_words);
    }
}

/// Rulings never touch the planned comparison: it was fixed on the record.
#[test]
fn the_decision_rests_on_the_record() {
    let cases = harmed();
    let facts = Facts {
        judged: cases
            .iter()
            .filter(|case| case.row.major_within_30_days == Some(true))
            .map(|case| judged(case, HarmTier::Major, Some(Settled::ByTwo(HarmRuling::NoHarm)), false))
            .collect(),
        ..Facts::default()
    };
    let with = report(cases.clone(), &within_centres(), &facts);
    let without = report(cases, &within_centres(), &Facts::default());
    assert_eq!(with.planned, without.planned);
    assert_eq!(with.adjudication.events.zero_fluoroscopy.major_as_judged, 0);
    assert!(
        without.adjudication.in_words.starts_with("No event was judged"),
        "{}",
        without.adjudication.in_words
    );
    assert!(without.adjudication.as_judged.is_none());
    let eighth = with.checklist.items.iter().find(|item| item.number == 8).unwrap();
    let State::FromReport { text } = &eighth.state else { panic!("{:?}", eighth.state) };
    assert!(text.ends_with(&with.adjudication.in_words), "the checklist says who judged: {text}");
}

#[test]
fn a_case_that_the_plan_leaves_out_is_not_counted() {
    let cell = Cell { centre: 1, diseased: false, zero: true, cases: 10, successes: 10 };
    let mut cases = in_order(cell.cases());
    cases[0].row.intended = Strategy::NearZero;
    let facts = Facts {
        judged: vec![judged(&cases[0], HarmTier::Major, Some(Settled::ByTwo(HarmRuling::Major)), true)],
        ..Facts::default()
    };
    let found = report(cases, &within_centres(), &facts).adjudication;
    assert_eq!(found.events.zero_fluoroscopy.reported, 0);
}

/// A death of which no complication tells is an event as well, and is counted apart.
#[test]
fn a_death_of_the_follow_up_is_an_event() {
    let mut cases = network();
    let died = cases.iter().position(|case| case.row.intended == Strategy::Zero).unwrap();
    cases[died].row.major_within_30_days = Some(true);
    let mut told = judged(&cases[died], HarmTier::Major, Some(Settled::ByTwo(HarmRuling::NoHarm)), false);
    told.events[0].told_by = ToldBy::FollowUp;
    let facts = Facts { judged: vec![told], ..Facts::default() };
    let found = report(cases, &within_centres(), &facts).adjudication;
    let zero = found.events.zero_fluoroscopy;
    assert_eq!((zero.reported, zero.deaths_of_follow_up, zero.lowered), (1, 1, 1));
    assert_eq!((zero.major_by_record, zero.major_as_judged), (1, 0));
    assert!(found.in_words.contains("1 and 0 deaths that the follow-up alone tells"), "{}", found.in_words);
}

/// Where the plan asks about harm in hospital, that is what the rulings change.
#[test]
fn the_window_of_the_plan_is_the_one_that_is_judged() {
    let mut cases = network();
    for case in cases.iter_mut().step_by(40) {
        (case.row.major_before_discharge, case.row.major_within_30_days) = (Some(true), Some(true));
    }
    let mut plan = serde_json::to_value(within_centres()).unwrap();
    plan["endpoints"][1]["endpoint"] = json!("major_before_discharge");
    let plan: AnalysisPlan = serde_json::from_value(plan).unwrap();
    let case = cases.iter().find(|case| case.row.major_before_discharge == Some(true)).unwrap();
    let mut told = judged(case, HarmTier::Major, Some(Settled::ByTwo(HarmRuling::Minor)), true);
    told.major_before_discharge = Some(false);
    let harmed = cases.iter().filter(|case| case.row.major_before_discharge == Some(true)).count() as u32;
    let facts = Facts { judged: vec![told], ..Facts::default() };
    let found = report(cases, &plan, &facts).adjudication;
    let both = |of: fn(&Judged) -> u32| of(&found.events.zero_fluoroscopy) + of(&found.events.conventional);
    assert_eq!((both(|arm| arm.major_by_record), both(|arm| arm.major_as_judged)), (harmed, harmed - 1));
    assert!(
        matches!(found.as_judged, Some(Effect::Difference(Estimate::Estimated(_)))),
        "{:?}",
        found.as_judged
    );
}
