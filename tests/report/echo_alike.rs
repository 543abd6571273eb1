//! The second estimate, with the use of intracardiac echo held alike. Numbers are those of
//! `beside.csv`, which `beside.R` beside it computed with base R from the same cells.

use crate::cases::{base, in_order, intend, of, planned};
use quietbeam_analysis::study::adjustment::Adjusted;
use quietbeam_analysis::study::endpoint::Endpoint;
use quietbeam_analysis::study::report::{EchoUse, Facts, HeldAlike, Report, ReportCase, WhyNot, report};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{AcuteSuccess, Strategy, StructuralDisease};
use serde_json::json;

/// The cases of the cells: centre, disease, echo, strategy, how many and how many succeeded.
pub(super) fn cases() -> Vec<ReportCase> {
    let cells = include_str!("beside_cells.csv").lines().skip(1);
    in_order(cells.flat_map(cell).collect())
}

fn cell(line: &str) -> Vec<ReportCase> {
    let parts: Vec<&str> = line.split(',').collect();
    let number = |at: usize| parts[at].parse::<u32>().unwrap();
    let mut case = base();
    case.row.centre = CentreCode::from_random(number(0) as u8);
    let disease = [StructuralDisease::None, StructuralDisease::Ischaemic][number(1) as usize];
    case.row.before.structural = Some(disease);
    case.row.intracardiac_echo = parts[2].parse::<u8>().ok().map(|used| used == 1);
    intend(&mut case, number(3) == 1, number(3) == 0);
    case.row.major_within_30_days = Some(false);
    let outcome = |at| if at < number(5) { AcuteSuccess::Yes } else { AcuteSuccess::No };
    (0..number(4))
        .map(|at| {
            let mut own = case.clone();
            own.row.acute_success = Some(outcome(at));
            own
        })
        .collect()
}

pub(super) fn expected(model: &str, quantity: &str) -> f64 {
    let table = include_str!("beside.csv");
    let value = table.lines().find_map(|line| line.strip_prefix(&format!("{model},{quantity},")));
    value.unwrap().parse().unwrap()
}

fn compare(model: &str, found: &Adjusted) {
    let quantities = [
        ("risk_zero_fluoroscopy", found.risks.zero_fluoroscopy),
        ("risk_conventional", found.risks.conventional),
        ("estimate", found.difference.estimate),
        ("lower", found.difference.lower),
        ("upper", found.difference.upper),
        ("degrees_of_freedom", found.degrees_of_freedom.unwrap()),
    ];
    for (quantity, value) in quantities {
        let reference = expected(model, quantity);
        // The roots of two routes, of a centre's whole matrix and of its coefficients, differ in rounding.
        assert!((value - reference).abs() < 1e-8, "{model} {quantity}: {value} is not {reference}");
    }
}

fn held(made: &Report) -> Adjusted {
    match &made.echo_held_alike[0].held_alike {
        HeldAlike::Estimated(found) => *found,
        HeldAlike::CannotBeEstimated(why) => panic!("{why}"),
    }
}

fn why_not(made: &Report) -> WhyNot {
    match &made.echo_held_alike[0].held_alike {
        HeldAlike::Estimated(found) => panic!("{found:?}"),
        HeldAlike::CannotBeEstimated(why) => *why,
    }
}

/// The report with the use of echo of every case changed.
fn with_echo(echo: impl Fn(bool, usize) -> Option<bool>) -> Report {
    let mut cases = cases();
    for (at, case) in cases.iter_mut().enumerate() {
        case.row.intracardiac_echo = echo(case.row.intended == Strategy::Zero, at);
    }
    of(cases)
}

#[test]
fn base_r_finds_the_same_with_echo_and_without() {
    let made = of(cases());
    compare("echo_alike", &held(&made));
    // The planned estimate does without it: whatever echo was, it stays the same.
    let total = made.planned.endpoints[0].as_intended.adjusted.standardised;
    compare("total", total.estimated().unwrap());
    let other = with_echo(|_, at| Some(at % 3 == 0));
    compare("total", other.planned.endpoints[0].as_intended.adjusted.standardised.estimated().unwrap());
    assert!((held(&other).difference.estimate - expected("echo_alike", "estimate")).abs() > 1e-4);
}

#[test]
fn it_says_how_often_echo_was_used_and_which_question_it_answers() {
    let made = of(cases());
    let line = &made.echo_held_alike[0];
    assert_eq!(line.endpoint, Endpoint::AcuteSuccess);
    // Sums over the lines of the cells, by `awk -F, '$4==1 {n[$3]+=$5} END {...}'`.
    let EchoUse { used, not_used, not_recorded } = line.use_of_echo.zero_fluoroscopy;
    assert_eq!((used, not_used, not_recorded), (1_393, 262, 117));
    assert_eq!(line.cases.zero_fluoroscopy + line.cases.conventional, 3_523);
    assert!(line.question.starts_with("Not the total effect: what remains with echo held alike."));
    let share = "Echo was used in 1,393 of 1,655 zero-fluoroscopy cases (84 %, not recorded in 117) and ";
    assert!(line.in_words.starts_with(share), "{}", line.in_words);
    assert!(
        line.in_words.ends_with("Acute success with echo held alike, among 3,523 cases: 1.3 points lower (95\u{a0}% interval 6.1 lower to 3.5 higher)."),
        "{}",
        line.in_words
    );
}

#[test]
fn without_variation_or_as_one_with_the_arm_it_cannot_be_estimated() {
    assert_eq!(why_not(&with_echo(|_, _| Some(true))), WhyNot::DoesNotVary);
    assert_eq!(why_not(&with_echo(|_, _| None)), WhyNot::NotRecorded);
    assert_eq!(why_not(&with_echo(|zero, _| Some(zero))), WhyNot::OneWithTheArm);
    assert_eq!(why_not(&with_echo(|zero, at| (at % 5 > 0).then_some(!zero))), WhyNot::OneWithTheArm);
    let made = with_echo(|zero, _| Some(zero));
    let json = serde_json::to_value(&made.echo_held_alike[0]).unwrap();
    let why = json["held_alike"]["cannot_be_estimated"].as_str().unwrap();
    assert!(why.contains("in all cases of one arm and in none of the other"), "{why}");
    assert!(
        made.echo_held_alike[0]
            .in_words
            .contains("Acute success with echo held alike cannot be estimated: echo was used in all")
    );
    // Nobody had a major complication, so no model of it has an estimate.
    let harm = &of(cases()).echo_held_alike[1].held_alike;
    assert!(matches!(harm, HeldAlike::CannotBeEstimated(WhyNot::OfTheModel(_))), "{harm:?}");
}

#[test]
fn with_complete_cases_only_those_without_a_word_on_echo_leave() {
    let plan = planned(&[("/missing_covariates", json!("complete_cases"))]);
    let made = report(cases(), &plan, &Facts::default());
    let line = &made.echo_held_alike[0];
    let unknown = line.use_of_echo.zero_fluoroscopy.not_recorded + line.use_of_echo.conventional.not_recorded;
    assert!(unknown > 0);
    assert_eq!(line.cases.zero_fluoroscopy + line.cases.conventional, 3_523 - unknown);
    let planned = &made.planned.endpoints[0].as_intended.adjusted;
    assert_eq!(planned.cases.zero_fluoroscopy + planned.cases.conventional, 3_523);
}
