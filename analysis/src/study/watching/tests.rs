#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;
use crate::study::own_picture::{DigitQuantity, LastDigit};
use proptest::prelude::*;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::ProcedureGroup;

fn case(centre: u32, place: i64) -> WatchCase {
    WatchCase {
        code: quietbeam_schema::ids::CaseCode::from_random([place as u8; 16]),
        centre: format!("S{centre:02}").parse().unwrap(),
        period: Quarter::new(2025, 1).unwrap(),
        entered: place,
        group: ProcedureGroup::AfFirst,
        zero_intended: true,
        major: Some(false),
        died: false,
        stroke: false,
        fistula: false,
        tamponade: false,
        anything: true,
        air_kerma_mgy: None,
        last_digits: [None; 3],
    }
}

/// Cases of one centre, every so many of them an event.
fn centre(code: u32, cases: i64, every: i64) -> Vec<WatchCase> {
    let event = |place: i64| place % every == every - 1;
    (0..cases).map(|place| WatchCase { major: Some(event(place)), ..case(code, place) }).collect()
}

fn rules(watch: &Watch, code: &str) -> Vec<Rule> {
    watch.signals().iter().filter(|(centre, _)| centre.to_string() == code).map(|(_, one)| one.rule).collect()
}

#[test]
fn the_sum_rises_and_falls_as_the_formula_says() {
    // Three centres with 2 events in 100 each: expected 0.02 a case. Steiner and others 2000: an event
    // adds ln(2/1.02), a case without one takes ln(1.02); both from Python's math.log.
    let cases = (1..=3).flat_map(|code| centre(code, 200, 50)).collect();
    let watch = Watch::of(cases);
    assert!((watch.expectation.overall - 0.02).abs() < 1e-12, "{:?}", watch.expectation);
    let points = &watch.centres[0].chart.course.points;
    assert_eq!(points[48], (0.0, false));
    assert!((points[49].0 - 0.673_344_553_263_765_6).abs() < 1e-12, "{:?}", points[49]);
    assert!(
        (points[50].0 - (0.673_344_553_263_765_6 - 0.019_802_627_296_179_71)).abs() < 1e-12,
        "{:?}",
        points[50]
    );
}

#[test]
fn observed_stands_beside_expected_and_in_the_funnel() {
    // 9 events where 4 are expected: exact Poisson limits from R's chi-square quantiles,
    // qchisq(0.025, 18)/2/4 and qchisq(0.975, 20)/2/4. R's pbinom(10, 200, 0.02) = 0.99747 and
    // pbinom(11, 200, 0.02) = 0.99921, so the interpolated 0.999 limit lies between 10 and 11 events.
    let quiet: Vec<WatchCase> = (2..=9).flat_map(|code| centre(code, 200, 53)).collect();
    let with = |events: usize| {
        let mut own = centre(1, 200, 1_000);
        own.iter_mut().take(events).for_each(|case| case.major = Some(true));
        Watch::of(own.into_iter().chain(quiet.clone()).collect())
    };
    let nine = with(9);
    let own = &nine.centres[0].chart;
    assert!((own.expected - 4.0).abs() < 1e-9, "{own:?}");
    let ratio = own.ratio.unwrap();
    assert!(
        (ratio.lower - 1.028_843_274).abs() < 1e-8 && (ratio.upper - 4.271_200_863).abs() < 1e-8,
        "{ratio:?}"
    );
    assert!(!rules(&with(10), "S01").contains(&Rule::OutsideFunnel));
    assert!(rules(&with(11), "S01").contains(&Rule::OutsideFunnel));
}

#[test]
fn grave_harm_and_two_tamponades_call_for_a_look() {
    let mut cases = centre(1, 100, 1_000);
    cases[3].died = true;
    cases[7].stroke = true;
    cases[9].fistula = true;
    cases[10].tamponade = true;
    // The thirtieth case of the window from the eleventh is the fortieth.
    cases[39].tamponade = true;
    let watch = Watch::of(cases.clone());
    assert_eq!(rules(&watch, "S01"), [Rule::TwoTamponades, Rule::Fistula, Rule::Stroke, Rule::Death]);
    // One case further and they are no pair.
    cases[39].tamponade = false;
    cases[40].tamponade = true;
    assert!(!rules(&Watch::of(cases.clone()), "S01").contains(&Rule::TwoTamponades));
    // A conventional case between does not count into the thirty.
    cases[20].zero_intended = false;
    assert!(rules(&Watch::of(cases), "S01").contains(&Rule::TwoTamponades));
}

#[test]
fn silence_and_copied_doses_make_one_ask() {
    let mut cases = centre(1, 101, 1_000);
    cases.iter_mut().for_each(|case| case.anything = false);
    let checks = Watch::of(cases.clone()).centres[0].checks.clone();
    assert!(matches!(checks[..], [Check::Silent { cases: 101, .. }]), "{checks:?}");
    cases.iter_mut().for_each(|case| {
        case.anything = true;
        case.air_kerma_mgy = Some(50.0 + (case.entered % 3) as f64);
    });
    let checks = Watch::of(cases.clone()).centres[0].checks.clone();
    assert!(matches!(checks[..], [Check::EvenDoses { doses: 101, .. }]), "{checks:?}");
    cases.iter_mut().for_each(|case| case.air_kerma_mgy = Some(10.0 * (1 + case.entered % 7) as f64));
    assert_eq!(Watch::of(cases).centres[0].checks, []);
}

/// Ten digits in turn are even; with every third number on 0, of 300, the digit has 120 of which 30 are
/// usual, and X² is far beyond every table.
#[test]
fn numbers_that_end_on_one_digit_make_one_ask() {
    let with = |typed: fn(i64) -> i64| {
        let mut cases = centre(1, 300, 1_000);
        for case in &mut cases {
            case.last_digits[2] = LastDigit::of_time(&typed(case.entered).to_string());
        }
        Watch::of(cases).centres[0].checks.clone()
    };
    assert_eq!(with(|place| 100 + place % 10), []);
    let rounded = with(|place| if place % 3 == 0 { 90 } else { 100 + place % 10 });
    let found = Check::Digits { quantity: DigitQuantity::SkinToSkin, numbers: 300, heaped: vec![0] };
    assert_eq!(rounded, [found]);
    assert!(rounded[0].sentence().contains("300 numbers of skin-to-skin time end on 0 more often"));
}

#[test]
fn few_cases_give_no_rate_of_their_own() {
    let mut cases: Vec<WatchCase> = (1..=3).flat_map(|code| centre(code, 66, 3)).collect();
    cases.iter_mut().for_each(|case| case.group = ProcedureGroup::Svt);
    // 198 cases: a third of them events, and still no rate.
    let watch = Watch::of(cases);
    assert!(watch.expectation.groups.iter().all(|line| line.own.is_none()), "{:?}", watch.expectation);
    assert!((watch.expectation.rate(ProcedureGroup::Svt) - watch.expectation.overall).abs() < 1e-12);
}

#[test]
fn one_centre_learns_nothing_else_of_another() {
    let watch = Watch::of((1..=4).flat_map(|code| centre(code, 150, 40)).collect());
    let only = watch.only(&["S02".parse().unwrap()]);
    assert_eq!(only.centres.iter().map(|centre| centre.chart.code.to_string()).collect::<Vec<_>>(), ["S02"]);
    // The only trace of the others: a rate in half per cents; here 12 events in 600 cases.
    assert!(((only.expectation.overall * 200.0).round() - only.expectation.overall * 200.0).abs() < 1e-9);
}

proptest! {
    /// The order in which cases are handed in does not matter, and what is unknown counts nowhere.
    #[test]
    fn order_and_unknown_cases_change_nothing(outcomes in prop::collection::vec(prop::option::of(any::<bool>()), 1..120), turn in 0_usize..120) {
        let cases: Vec<WatchCase> = outcomes
            .iter()
            .enumerate()
            .map(|(place, major)| WatchCase { major: *major, ..case(1, place as i64) })
            .collect();
        let mut turned = cases.clone();
        turned.rotate_left(turn % cases.len());
        let (one, other) = (Watch::of(cases), Watch::of(turned));
        prop_assert_eq!(&one, &other);
        let own = &one.centres[0].chart;
        prop_assert_eq!(own.known as usize, own.course.points.len());
        prop_assert_eq!(own.known as usize, outcomes.iter().flatten().count());
        prop_assert_eq!(own.events as usize, outcomes.iter().flatten().filter(|major| **major).count());
        prop_assert!(own.course.points.iter().all(|(height, _)| *height >= 0.0));
    }
}
