//! Whether one thing drives a planned result.

use crate::cases::{Cell, difference, in_order, intend, log, network, of, planned};
use quietbeam_analysis::methods::interval::Ratio;
use quietbeam_analysis::study::report::{Facts, ReportCase, Suspicion, Turned, report};
use quietbeam_schema::period::Quarter;
use quietbeam_schema::value::FieldValue;
use quietbeam_schema::vocabulary::{AcuteSuccess, OperatorPriorZf, Sex, Strategy};
use serde_json::json;

/// A plan whose estimate says how many cases it stands on whatever they are.
fn counting() -> quietbeam_analysis::study::plan::AnalysisPlan {
    planned(&[("/method", json!("within_centres")), ("/covariates", json!([]))])
}

fn kept(cases: Vec<ReportCase>, facts: &Facts) -> Vec<(Suspicion, u32)> {
    let driving = report(cases, &counting(), facts).driving;
    driving[0].without.iter().map(|line| (line.suspicion, line.cases)).collect()
}

#[test]
fn each_suspicion_keeps_the_cases_to_which_it_does_not_apply() {
    let mut cases = network();
    for case in &mut cases {
        case.row.period =
            Quarter::new(2025, if case.row.centre.to_string() == "S01" { 1 } else { 2 }).unwrap();
        case.course.operator = Some(FieldValue::parse("O01").unwrap());
        case.course.earlier_zero = Some(OperatorPriorZf::Zero);
        case.course.looks[2] = Some(case.row.intended == Strategy::Conventional);
    }
    // Two operators, one at each centre: 25 of 480 and 25 of 1,400 are their first.
    let nobody_logged = kept(cases.clone(), &Facts::default());
    assert_eq!(
        nobody_logged,
        [(Suspicion::Learning, 2_830), (Suspicion::Selection, 0), (Suspicion::Looking, 1_000)]
    );
    // S01 has 920 cases: logged and signed. S02 has 1,960 and is not signed, or says it sent more.
    let first = log("S01", 1, (940, 930, 920));
    let second = log("S02", 2, (1_970, 1_965, 1_960));
    let unsigned = quietbeam_analysis::study::screening_log::LogCounts { signed: false, ..second.clone() };
    let selection = |log| kept(cases.clone(), &Facts { log, ..Facts::default() })[1];
    assert_eq!(selection(vec![first.clone(), second]), (Suspicion::Selection, 2_880));
    assert_eq!(selection(vec![first.clone(), unsigned]), (Suspicion::Selection, 920));
    assert_eq!(selection(vec![first, log("S02", 2, (1_970, 1_965, 1_961))]), (Suspicion::Selection, 920));
}

/// Gives each case an operator by its centre and its place among the cases of the centre.
fn operated(mut cases: Vec<ReportCase>, operator: impl Fn(usize) -> Option<usize>) -> Vec<ReportCase> {
    let mut done = std::collections::BTreeMap::new();
    for case in &mut cases {
        let place = done.entry(case.row.centre).or_insert(0);
        *place += 1;
        let code = operator(*place).map(|number| FieldValue::parse(&format!("O{number:02}")).unwrap());
        case.course.operator = code;
    }
    cases
}

/// The reference is `beside.csv`, which `beside.R` computed with base R.
#[test]
fn the_planned_estimate_is_clustered_by_operator_too() {
    let made = of(operated(crate::echo_alike::cases(), |place| Some(place % 3)));
    let line = made.driving[0].by_operator.as_ref().unwrap();
    assert_eq!((line.operators, line.unnamed), (12, 0));
    let found = difference(&line.effect);
    let quantities = [("estimate", found.estimate), ("lower", found.lower), ("upper", found.upper)];
    for (quantity, value) in quantities {
        let reference = crate::echo_alike::expected("by_operator", quantity);
        assert!((value - reference).abs() < 1e-8, "{quantity}: {value} is not {reference}");
    }
    assert!(line.in_words.starts_with("Clustered by operator instead of by centre (12 operators): "));
}

#[test]
fn one_operator_a_centre_is_the_centre_and_nobody_named_is_no_line() {
    let made = of(operated(crate::echo_alike::cases(), |_| Some(1)));
    let planned = made.planned.endpoints[0].as_intended.adjusted.standardised;
    let line = made.driving[0].by_operator.as_ref().unwrap();
    assert_eq!(difference(&line.effect), planned.estimated().unwrap().difference);
    assert_eq!(line.operators, 4);
    // Those who name nobody stand together in their centre.
    let some = of(operated(crate::echo_alike::cases(), |place| (place % 2 == 0).then_some(1)));
    let line = some.driving[0].by_operator.as_ref().unwrap();
    assert_eq!((line.operators, line.unnamed), (8, 1_762));
    assert!(line.in_words.contains("1,762 cases that name none stand together in each centre"));
    let weighted = planned_by("overlap_weighted");
    assert!(weighted.driving[0].by_operator.as_ref().unwrap().effect.obstacle().is_none());
    let nobody = of(operated(crate::echo_alike::cases(), |_| None));
    assert!(nobody.driving[0].by_operator.is_none());
    // A method without a model knows no clusters.
    let within = report(operated(network(), |_| Some(1)), &counting(), &Facts::default());
    assert!(within.driving[0].by_operator.is_none());
}

fn planned_by(method: &str) -> quietbeam_analysis::study::report::Report {
    let cases = operated(crate::echo_alike::cases(), |place| Some(place % 3));
    report(cases, &planned(&[("/method", json!(method))]), &Facts::default())
}

#[test]
fn what_cannot_be_estimated_says_why() {
    let line = &of(network()).driving[0].without[1];
    assert_eq!((line.suspicion, line.cases), (Suspicion::Selection, 0));
    assert!(line.in_words.contains("(0 cases): cannot be estimated, because"), "{}", line.in_words);
}

#[test]
fn subgroups_add_up_and_tell_whether_they_vary() {
    let mut cases = network();
    for (place, case) in cases.iter_mut().enumerate() {
        case.row.before.sex = [Some(Sex::Female), Some(Sex::Male), None][place % 3];
    }
    let named = cases.clone();
    let found = of(cases).driving;
    let by = |name: &str| found[0].subgroups.iter().find(|division| division.by == name).unwrap();
    let cases_of = |name: &str| -> u32 {
        let arms = by(name).lines.iter().map(|line| line.arms);
        arms.map(|arms| arms.zero_fluoroscopy.cases + arms.conventional.cases).sum()
    };
    assert_eq!((cases_of("Sex"), cases_of("Structural heart disease")), (1_920, 2_880));
    assert!(by("Sex").interaction.estimated().unwrap().p > 0.05);
    // What the plan names is planned and stands first; without any all are exploratory.
    assert!(found[0].subgroups.iter().all(|division| !division.planned));
    let mut plan = serde_json::to_value(planned(&[])).unwrap();
    plan["subgroups"] = json!(["structural_hd"]);
    let plan = serde_json::from_value(plan).unwrap();
    let marked = report(named, &plan, &Facts::default()).driving;
    let told: Vec<(&str, bool)> =
        marked[0].subgroups.iter().map(|division| (division.by, division.planned)).collect();
    assert_eq!(told, [("Structural heart disease", true), ("Sex", false)]);
    // One kind only is no division.
    assert!(found[0].subgroups.iter().all(|division| division.by != "Younger than 18"));
}

/// 10 of 100 against 20 of 100 fail: a risk ratio of 0.5, so the E-value is 2 + √(2 × 1) = 3.414
/// (VanderWeele and Ding, Ann Intern Med 2017;167:268: R + √(R(R − 1)) of the reciprocal).
#[test]
fn a_cause_nobody_recorded_is_measured_by_the_ratio_of_failures() {
    let cell = |zero, successes| Cell { centre: 1, diseased: false, zero, cases: 100, successes };
    let cases = in_order([cell(true, 90).cases(), cell(false, 80).cases()].concat());
    let found = of(cases).driving.swap_remove(0).unrecorded;
    let Ratio::Finite(value) = found.crude.estimated().unwrap().estimate else { panic!("{found:?}") };
    assert!((value - (2.0 + 2.0_f64.sqrt())).abs() < 1e-12, "{value}");
    let ratio = found.crude_ratio.estimated().unwrap();
    assert_eq!(ratio.estimate, Some(Ratio::Finite(0.5)));
    assert!(found.in_words.contains("by a risk ratio of 3.4 each"), "{}", found.in_words);
    // By the planned method in one centre alone the ratio is the same, and its limit nearer to 1 is
    // the upper one: by hand 0.5 exp(1.96 √(0.09 + 0.04)) = 1.014 holds 1 already.
    let within = [("/method", json!("within_centres")), ("/covariates", json!([]))];
    let cases = in_order([cell(true, 90).cases(), cell(false, 80).cases()].concat());
    let found = report(cases, &planned(&within), &Facts::default()).driving.swap_remove(0).unrecorded;
    let own = found.planned.estimated().unwrap();
    assert_eq!(own.limit, Ratio::Finite(1.0), "{found:?}");
    let Ratio::Finite(value) = own.estimate else { panic!("{found:?}") };
    assert!((value - (2.0 + 2.0_f64.sqrt())).abs() < 1e-12, "{value}");
    assert!(
        found.in_words.ends_with("Of the ratio by the planned method it takes 3.4 and 1.0."),
        "{}",
        found.in_words
    );
}

/// Brute force: every way the missing outcomes may have turned out, one by one.
#[test]
fn missing_outcomes_are_turned_every_way() {
    use quietbeam_analysis::methods::counts::{EventCount, TwoArms};
    use quietbeam_analysis::methods::score::miettinen_nurminen_interval;
    let cell = |zero, successes| Cell { centre: 1, diseased: false, zero, cases: 300, successes };
    let mut cases = in_order([cell(true, 291).cases(), cell(false, 285).cases()].concat());
    // The last twelve and the last nine of each arm, failures and more, are not known.
    cases[288..300].iter_mut().for_each(|case| case.row.acute_success = None);
    cases[591..600].iter_mut().for_each(|case| case.row.acute_success = None);
    let report = of(cases);
    let tally = report.planned.endpoints[0].as_intended.crude.arms.map(|arm| arm.tally);
    let (one, two) = (tally.zero_fluoroscopy, tally.conventional);
    assert_eq!((one.events, one.missing, two.events, two.missing), (288, 12, 285, 9));
    let level = report.planned.plan.level();
    let mut shown = 0;
    for first in 0..=12 {
        for second in 0..=9 {
            let count = |events| EventCount::new(events, 300).unwrap();
            let arms = TwoArms { first: count(288 + first), second: count(285 + second) };
            shown += u64::from(miettinen_nurminen_interval(arms, level).lower > -0.03);
        }
    }
    let tipping = &report.driving[0].tipping;
    let Some(Turned::Difference(turned)) = tipping.turned.as_ref() else { panic!("{tipping:?}") };
    assert_eq!((turned.border.combinations_shown, turned.border.combinations), (shown, 130));
    assert!(shown > 0 && shown < 130, "{shown}");
    assert!(tipping.in_words.contains(&format!("with {shown} of the 130 ways")), "{}", tipping.in_words);
    assert_eq!(turned.worst.missing_events_first, 0);
    assert_eq!(report.driving[1].tipping.in_words, "No outcome is missing.");
}

#[test]
fn an_arm_without_cases_has_nothing_to_turn() {
    let mut cases = network();
    cases.iter_mut().for_each(|case| intend(case, true, false));
    let driving = of(cases).driving.swap_remove(0);
    assert!(driving.tipping.turned.is_none());
    assert!(driving.unrecorded.crude.estimated().is_none());
    assert!(
        driving.unrecorded.in_words.contains("the conventional arm has no cases"),
        "{}",
        driving.unrecorded.in_words
    );
}

#[test]
fn the_variable_that_separates_the_outcomes_is_named() {
    let mut cases = network();
    for (place, case) in cases.iter_mut().enumerate() {
        let high = case.row.acute_success == Some(AcuteSuccess::Yes);
        case.row.before.bmi = Some(if high { 30.0 } else { 20.0 } + (place % 5) as f64);
    }
    let plan = planned(&[("/covariates", json!(["structural_hd", "bmi"]))]);
    let found = report(cases, &plan, &Facts::default());
    let adjusted = &found.planned.endpoints[0].as_intended.adjusted;
    assert_eq!(adjusted.separated_by.as_deref(), Some("bmi"));
    assert!(adjusted.penalised.is_some());
}
