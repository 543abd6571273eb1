//! What came later, and how long it took.

use crate::cases::{base, in_order, intend, of, planned};
use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::report::{Facts, Later, ReportCase, report};
use quietbeam_schema::vocabulary::ProcedureType;
use serde_json::json;

fn followed(zero: bool, recurrence_day: Option<u16>, last_day: Option<u16>) -> ReportCase {
    let mut case = base();
    intend(&mut case, zero, !zero);
    case.course.later = Later { last_day, recurrence_day, death_day: None };
    case
}

/// Remission times in weeks of the 6-MP arm of Freireich and others (Blood 1963;21:699), a
/// textbook example of Kaplan and Meier's estimate, here taken as days after blanking ended:
/// 6, 6, 6, 7, 10, 13, 16, 22, 23 with the event, and 6+, 9+, 10+, 11+, 17+, 19+, 20+, 25+, 32+,
/// 32+, 34+, 35+ without. Printed estimates, from memory: 0.857, 0.807, 0.753, 0.690, 0.627,
/// 0.538, 0.448.
#[test]
fn curves_are_those_of_the_textbook() {
    let event = |zero, week: u16| followed(zero, Some(60 + week), None);
    let none = |zero, week: u16| followed(zero, None, Some(60 + week));
    let arm = |zero| {
        let events = [6, 6, 6, 7, 10, 13, 16, 22, 23].map(|week| event(zero, week));
        let others = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35].map(|week| none(zero, week));
        [events.to_vec(), others.to_vec()].concat()
    };
    let mut cases = [arm(true), arm(false)].concat();
    cases.push(followed(true, Some(60), Some(365)));
    cases.push(followed(true, None, Some(60)));
    cases.push(followed(true, None, None));
    let mut other = followed(true, Some(100), None);
    other.row.procedure = ProcedureType::Avnrt;
    cases.push(other);
    let recurrence = of(in_order(cases)).recurrence;
    let curve = &recurrence.arms.zero_fluoroscopy;
    assert_eq!((curve.cases, curve.early, curve.not_followed, curve.followed), (24, 1, 2, 21));
    let printed = [(66, 0.857), (67, 0.807), (70, 0.753), (73, 0.690), (76, 0.627), (82, 0.538), (83, 0.448)];
    assert_eq!(curve.steps.len(), printed.len());
    for (step, (day, free)) in curve.steps.iter().zip(printed) {
        assert_eq!(step.day, day);
        assert!((1.0 - step.recurred - free).abs() < 5.1e-4, "{} is not {free}", 1.0 - step.recurred);
    }
    // A tenth of 21 is three: the third longest is followed to week 32.
    assert_eq!(curve.until, Some(92));
    assert_eq!(
        curve.still_followed.map(|still| (still.day, still.cases)),
        [(60, 21), (136, 0), (212, 0), (288, 0), (365, 0)]
    );
    let difference = recurrence.difference.estimated().unwrap();
    assert!(difference.estimate.abs() < 1e-12 && difference.lower < 0.0 && difference.upper > 0.0);
    assert!(
        recurrence.in_words.starts_with("Of 21 zero-fluoroscopy cases followed beyond day 60 55.2 %"),
        "{}",
        recurrence.in_words
    );
}

#[test]
fn nobody_followed_is_told_so() {
    let recurrence = of(in_order(vec![followed(true, None, None)])).recurrence;
    assert_eq!(recurrence.until, None);
    assert!(recurrence.difference.estimated().is_none());
    assert!(recurrence.arms.zero_fluoroscopy.steps.is_empty());
    assert!(
        recurrence.in_words.contains("recurrence cannot be estimated, because"),
        "{}",
        recurrence.in_words
    );
}

/// Brute force: the median of all differences of pairs.
#[test]
fn procedure_times_are_compared_pair_by_pair() {
    let timed = |zero, minutes| {
        let mut case = followed(zero, None, None);
        case.course.skin_to_skin_min = minutes;
        case
    };
    let (first, second) = ([61_u16, 70, 75, 82, 99], [60_u16, 66, 71, 90]);
    let mut cases: Vec<ReportCase> = first.iter().map(|minutes| timed(true, Some(*minutes))).collect();
    cases.extend(second.iter().map(|minutes| timed(false, Some(*minutes))));
    cases.push(timed(false, None));
    let found = of(in_order(cases)).procedure_time;
    let mut pairs: Vec<f64> =
        first.iter().flat_map(|one| second.map(|two| f64::from(*one) - f64::from(two))).collect();
    pairs.sort_by(f64::total_cmp);
    let median = (pairs[9] + pairs[10]) / 2.0;
    assert!((found.shift.estimated().unwrap().estimate - median).abs() < 1e-9);
    assert_eq!((found.arms.conventional.cases, found.arms.conventional.missing), (4, 1));
    assert!(found.in_words.contains("was 75 min with zero-fluoroscopy and 68 min"), "{}", found.in_words);
}

/// A death ends follow-up: the curve is the same as if they had been seen last on that day, and says so.
#[test]
fn deaths_without_a_recurrence_end_follow_up_and_are_counted() {
    let with = |died: bool| {
        let mut cases: Vec<_> = (0..20).map(|_| base()).collect();
        for (at, case) in cases.iter_mut().enumerate() {
            intend(case, true, false);
            case.course.later.recurrence_day = (at < 4).then_some(200 + at as u16);
            let day = if at == 19 { 700 } else { 300 };
            let dies = at >= 17 || at == 0;
            case.course.later.last_day = (!(died && dies)).then_some(day);
            case.course.later.death_day = (died && dies).then_some(day);
        }
        of(cases).recurrence
    };
    let (dead, alive) = (with(true), with(false));
    // Two of the four died by day 365 without a recurrence; one had one before, one died later.
    let [found, other] = [&dead, &alive].map(|recurrence| recurrence.arms.zero_fluoroscopy.clone());
    assert_eq!((found.died, other.died), (2, 0));
    assert_eq!((found.steps, found.free_at_end), (other.steps, other.free_at_end));
    assert!(dead.in_words.contains("Died without one: 2 and 0; follow-up ends there"), "{}", dead.in_words);
}

/// With 90 days of blanking and two years, a recurrence on day 75 is early and one on day 500 counts.
#[test]
fn a_plan_may_choose_other_days() {
    let mut plan = serde_json::to_value(planned(&[])).unwrap();
    plan["recurrence"] = json!({ "blanking_days": 90, "until_day": 730 });
    let plan: AnalysisPlan = serde_json::from_value(plan).unwrap();
    let arm = |zero| {
        [
            followed(zero, Some(75), None),
            followed(zero, Some(500), None),
            followed(zero, None, Some(80)),
            followed(zero, None, Some(800)),
        ]
    };
    let cases = [arm(true), arm(false)].concat();
    let found = report(in_order(cases.clone()), &plan, &Facts::default()).recurrence;
    assert_eq!((found.blanking_days, found.horizon), (90, 730));
    let curve = &found.arms.zero_fluoroscopy;
    assert_eq!((curve.early, curve.not_followed, curve.followed, curve.until), (1, 1, 2, Some(730)));
    let steps: Vec<u32> = curve.steps.iter().map(|step| step.day).collect();
    assert_eq!(steps, [500]);
    assert_eq!(curve.still_followed.map(|still| still.day), [90, 250, 410, 570, 730]);
    assert!(found.in_words.contains("followed beyond day 90"), "{}", found.in_words);
    // As usual, both count and the year ends the curve.
    let usual = of(in_order(cases)).recurrence;
    assert_eq!((usual.blanking_days, usual.horizon), (60, 365));
    let curve = &usual.arms.zero_fluoroscopy;
    assert_eq!((curve.early, curve.followed, curve.until), (0, 4, Some(365)));
}
