//! What was shown and what was not, in plain words.

use crate::cases::{in_order, network, of, planned};
use quietbeam_analysis::study::look::LooksTaken;
use quietbeam_analysis::study::report::{Before, Facts, ReportCase, report};
use quietbeam_schema::value::FieldValue;
use quietbeam_schema::vocabulary::AcuteSuccess;
use serde_json::json;

#[test]
fn what_was_shown_stands_first() {
    let lines = of(network()).first_lines;
    assert_eq!(lines.title, "Zero-fluoroscopy against conventional ablation in two centres, 2025");
    assert!(lines.fully_prespecified && lines.look.starts_with("The plan orders one look"), "{}", lines.look);
    let success = &lines.endpoints[0];
    assert_eq!(
        success.question,
        "Primary question: is acute success less than 3 points worse with zero-fluoroscopy?"
    );
    // Cells of 95, 90, 96 and 92.3 % in either arm: nothing differs once disease is held alike,
    // while the crude difference is 1732/1880 − 944/1000, by hand −2.3 points.
    assert!(
        success.estimate.starts_with(
            "With zero-fluoroscopy intended, acute success was no different (95\u{a0}% interval"
        ),
        "{}",
        success.estimate
    );
    assert!(success.crude.starts_with("The crude difference was 2.3 points lower"), "{}", success.crude);
    assert!(success.crude.ends_with("it flatters conventional fluoroscopy."), "{}", success.crude);
    assert_eq!(success.not_tested, "Superiority was not tested.");
    let harm = &lines.endpoints[1];
    assert_eq!(
        harm.question,
        "Next question: are major complications within 30 days less than 1 point more frequent with zero-fluoroscopy?"
    );
    // Nobody had a major complication, so there is no spread to estimate from.
    assert!(
        harm.estimate.starts_with("The planned difference cannot be estimated, because"),
        "{}",
        harm.estimate
    );
}

#[test]
fn not_shown_is_no_proof_of_the_contrary() {
    let few: Vec<ReportCase> = in_order(network().into_iter().step_by(29).collect());
    let plan = planned(&[("/method", json!("within_centres")), ("/covariates", json!([]))]);
    let lines = report(few, &plan, &Facts::default()).first_lines;
    assert_eq!(lines.endpoints[0].answer, "Not shown. This is no proof of the contrary");
    assert!(lines.endpoints[0].claim.starts_with("It is not shown that acute success"));
    assert!(
        lines.cautions.iter().any(|caution| caution.contains("asks for") && caution.contains("in each arm")),
        "{:?}",
        lines.cautions
    );
}

#[test]
fn what_was_known_beforehand_is_said() {
    let plan = planned(&[]);
    let whole = LooksTaken::next(&plan, Vec::new(), 1_000.0).own();
    let facts = Facts {
        before: Before { cases: 12, views: 2, cut_taken: true },
        looks: Some(LooksTaken::next(&plan, vec![whole, whole], 2_000.0)),
        ..Facts::default()
    };
    let made = report(network(), &plan, &facts);
    let lines = &made.first_lines;
    assert!(!lines.fully_prespecified);
    assert_eq!(
        lines.registered,
        "Not fully specified beforehand: when the plan was registered, 12 cases in its scope had been entered, outcomes by arm had been opened 2 times and the data cut had been taken."
    );
    assert!(lines.look.starts_with("This is look 3, and the plan orders one."), "{}", lines.look);
    assert_eq!(made.planned.look.number, 3);
    assert!(lines.endpoints.iter().all(|endpoint| endpoint.answer == "Cannot be concluded"));
}

#[test]
fn one_operator_behind_an_arm_is_told() {
    let mut cases = network();
    let operator = FieldValue::parse("O07").unwrap();
    cases.iter_mut().for_each(|case| case.course.operator = None);
    let arm = cases.iter_mut().filter(|case| !case.row.beam_on());
    arm.take(941).for_each(|case| {
        case.course.operator = Some(operator);
        case.row.centre = "S01".parse().unwrap();
    });
    let cautions = of(cases).first_lines.cautions;
    let told: Vec<&String> = cautions.iter().filter(|caution| caution.starts_with("Operator")).collect();
    assert_eq!(told.len(), 1, "{cautions:?}");
    assert!(told[0].starts_with("Operator O07 of centre S01 did 941 of the 1,880 cases"), "{}", told[0]);
}

/// With nothing to tell, every part says why, and nothing is a number that is none.
#[test]
fn nothing_is_told_of_nothing() {
    let mut nobody = network();
    nobody.truncate(3);
    nobody.iter_mut().for_each(|case| case.row.acute_success = Some(AcuteSuccess::NotAttempted));
    for cases in [Vec::new(), nobody] {
        let text = serde_json::to_string(&of(cases)).unwrap();
        assert!(!text.contains("NaN") && !text.contains("inf "), "{text}");
    }
}
