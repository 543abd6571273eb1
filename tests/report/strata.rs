//! Arms compared within centres, and within the procedure groups of each where the plan says so.

use crate::cases::{Cell, in_order};
use crate::plan::plan;
use quietbeam_analysis::study::estimate::Estimate;
use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::planned_words::planned_words;
use quietbeam_analysis::study::report::{Facts, Report, ReportCase, SummaryRow, report};
use quietbeam_schema::vocabulary::ProcedureType;
use serde_json::{Value, json};

fn within(strata: Option<&str>) -> AnalysisPlan {
    let mut asked = plan();
    (asked["method"], asked["covariates"]) = (json!("within_centres"), json!([]));
    asked["sensitivity"] = json!(["leave_one_centre_out"]);
    if let Some(strata) = strata {
        asked["strata"] = json!(strata);
    }
    serde_json::from_value(asked).unwrap()
}

fn of(procedure: ProcedureType, cell: Cell) -> Vec<ReportCase> {
    let mut cases = cell.cases();
    cases.iter_mut().for_each(|case| case.row.procedure = procedure);
    cases
}

/// In the first centre the easy procedures are done without X-ray and the hard ones with it; in the
/// second each kind is done in one way only.
fn cases() -> Vec<ReportCase> {
    let cell = |centre, zero, cases, successes| Cell { centre, diseased: false, zero, cases, successes };
    in_order(
        [
            of(ProcedureType::Avnrt, cell(1, true, 90, 80)),
            of(ProcedureType::Avnrt, cell(1, false, 10, 8)),
            of(ProcedureType::AfParoxysmalFirst, cell(1, true, 10, 5)),
            of(ProcedureType::AfParoxysmalFirst, cell(1, false, 90, 36)),
            of(ProcedureType::Avnrt, cell(2, true, 20, 20)),
            of(ProcedureType::AfParoxysmalFirst, cell(2, false, 20, 10)),
        ]
        .concat(),
    )
}

fn told(strata: Option<&str>) -> Report {
    report(cases(), &within(strata), &Facts::default())
}

/// By hand: Σ w(p₁ − p₂) / Σ w with w = n₁n₂/(n₁ + n₂), and the ratio of failures
/// Σ a·n₂/N / Σ c·n₁/N, the weights of Mantel and Haenszel.
#[test]
fn the_kind_of_procedure_cancels_where_the_plan_says_so() {
    let centres: [(f64, f64); 2] = [(50.0, 85.0 / 100.0 - 44.0 / 100.0), (10.0, 1.0 - 0.5)];
    let groups: [(f64, f64); 2] = [(9.0, 80.0 / 90.0 - 0.8), (9.0, 0.5 - 0.4)];
    let pooled = |strata: [(f64, f64); 2]| {
        strata.iter().map(|(weight, apart)| weight * apart).sum::<f64>()
            / strata.iter().map(|(weight, _)| weight).sum::<f64>()
    };
    for (strata, expected, counted) in [
        (None, pooled(centres), (2, 0)),
        (Some("centre"), pooled(centres), (2, 0)),
        // Those of the second centre are in one arm each and tell nothing.
        (Some("centre_and_procedure_group"), pooled(groups), (2, 2)),
    ] {
        let found = told(strata);
        let success = &found.planned.endpoints[0].as_intended.crude;
        let Estimate::Estimated(within) = success.difference.estimated().unwrap().within_centres else {
            panic!("{strata:?}: {success:?}");
        };
        assert!((within.interval.estimate - expected).abs() < 1e-12, "{strata:?}: {within:?}");
        assert_eq!((within.strata_used, within.strata_left_out), counted, "{strata:?}");
    }
    let fine = told(Some("centre_and_procedure_group"));
    let ratio = fine.planned.endpoints[0].as_intended.crude.ratio.within_centres;
    let ratio = ratio.estimated().unwrap().estimate.unwrap().or_infinity();
    let by_hand = (10.0 * 10.0 + 5.0 * 90.0) / (2.0 * 90.0 + 54.0 * 10.0);
    assert!((ratio - by_hand).abs() < 1e-12, "{ratio} is not {by_hand}");
}

/// What decides, each part of the cases, and every place that names it.
#[test]
fn strata_are_named_wherever_they_decide() {
    let found = told(Some("centre_and_procedure_group"));
    let result = &found.planned.endpoints[0];
    // Without the second centre nothing changes; without the first nothing is left to compare.
    let lines = &result.sensitivity;
    let decided = result.as_intended.effect(found.planned.plan.method(), result.margin.scale());
    assert_eq!(lines.iter().filter(|line| line.effect == decided).count(), 1, "{lines:?}");
    let nothing = serde_json::to_string(lines).unwrap();
    assert!(nothing.contains("no centre or group of one has cases in both arms"), "{nothing}");
    let row = found.by_centre[0].summaries.iter().find(|row| row.planned).unwrap();
    assert_eq!(row.row, SummaryRow::WithinCentresAndGroups);
    assert_eq!(row.row.label(), "Within centres and procedure groups");
    let estimate = &found.first_lines.endpoints[0].estimate;
    assert!(estimate.ends_with("within centres and procedure groups."), "{estimate}");
    let text = planned_words(&found.planned);
    assert!(text.contains("* within centres and procedure groups"), "{text}");
    let silent = "Compared within centres and procedure groups, 2 of 4 strata have cases in one arm only and tell nothing.";
    assert!(text.split_whitespace().collect::<Vec<_>>().join(" ").contains(silent), "{text}");
    // As usual they are the centres, and nothing else is said.
    let usual = told(None);
    let text = planned_words(&usual.planned);
    assert!(text.contains("* within centres") && !text.contains("procedure groups"), "{text}");
    let json: Value = serde_json::to_value(&usual.by_centre[0].summaries).unwrap();
    assert!(json.to_string().contains("\"within_centres\""), "{json}");
}
