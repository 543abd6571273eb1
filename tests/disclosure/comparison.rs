//! A comparison that is published with a summary: its counts stand the attack like all others, and it
//! costs no other table a number. The counts are worked out by hand.

use crate::around::{Published, amid};
use crate::plan::plan;
use crate::summaries::{at, count, design, hide, network, tell};
use quietbeam_analysis::study::cohort::{CaseRow, Cohort};
use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::planned::carry_out;
use quietbeam_analysis::study::summary::{
    Asking, NamedTable, PlanRegistered, PublishedComparison, SafetySummary, summarise,
};
use quietbeam_schema::summary_design::SummaryDesign;
use quietbeam_schema::vocabulary::{AcuteSuccess, AgeBand, CongenitalDisease, ProcedureType, Strategy};
use serde_json::json;

const COMPARISON: &str = "comparison";
const COLUMNS: [&str; 4] = ["zero_fluoroscopy", "conventional", "in_neither_arm", "all"];

/// Acute success and major complications, without some cases.
fn leaving_out(exclude: &[&str]) -> AnalysisPlan {
    let mut plan = plan();
    plan["eligibility"]["exclude"] = json!(exclude);
    serde_json::from_value(plan).unwrap()
}

fn chosen() -> SummaryDesign {
    design(json!({ "comparison": "00000000-0000-4000-8000-000000000001" }))
}

fn found(cohort: &Cohort, plan: &AnalysisPlan) -> PublishedComparison {
    let registered = PlanRegistered {
        plan: "1.1".to_owned(),
        plan_hash: "hash".to_owned(),
        day: "2026-01-01".to_owned(),
        fully_prespecified: true,
    };
    PublishedComparison::of(&carry_out(cohort, plan), registered)
}

/// Beside all that were published, attacked anew.
fn made(published: &Published, cohort: &Cohort, plan: &AnalysisPlan) -> SafetySummary {
    let design = chosen();
    let comparison = Some(found(cohort, plan));
    published.ask(Asking { cohort, design: &design, comparison })
}

fn row(summary: &SafetySummary, row: &str) -> [Option<u64>; 4] {
    COLUMNS.map(|column| count(summary, COMPARISON, row, column))
}

/// Five centres with 120 cases of each strategy and 12 partial successes in each arm of each centre;
/// the first cases of each arm, three a centre, have a vascular complication.
fn rows() -> Vec<CaseRow> {
    let mut rows = network(120, 0);
    for arm in rows.chunks_mut(120) {
        arm[100..112].iter_mut().for_each(|case| case.acute_success = Some(AcuteSuccess::Partial));
    }
    rows
}

fn cut(rows: &[CaseRow]) -> Cohort {
    amid(rows, "spring", &[], &[])
}

/// The cases at some places of each zero-fluoroscopy arm, with congenital disease.
fn congenital(places: std::ops::Range<usize>) -> Vec<CaseRow> {
    let mut rows = rows();
    for arm in rows.chunks_mut(120).filter(|arm| arm[0].intended == Strategy::Zero) {
        arm[places.clone()]
            .iter_mut()
            .for_each(|case| case.before.congenital = Some(CongenitalDisease::Moderate));
    }
    rows
}

/// 600 an arm, 60 of them without success, 15 harmed.
#[test]
fn both_arms_are_told_with_what_was_found() {
    let (cohort, plan) = (cut(&rows()), leaving_out(&["epicardial"]));
    let summary = made(&Published::default(), &cohort, &plan);
    assert_eq!(row(&summary, "cases"), [600, 600, 0, 1_200].map(Some));
    assert_eq!(row(&summary, "acute_success.known"), [600, 600, 0, 1_200].map(Some));
    assert_eq!(row(&summary, "acute_success"), [540, 540, 0, 1_080].map(Some));
    assert_eq!(row(&summary, "major_within_30_days"), [15, 15, 0, 30].map(Some));
    let comparison = summary.comparison.as_ref().unwrap();
    let [success, major] = comparison.endpoints.as_slice() else { panic!("{comparison:?}") };
    // Both arms are alike at every centre.
    for endpoint in [success, major] {
        assert_eq!(endpoint.difference.unwrap().estimate, 0.0);
        assert!(endpoint.difference.unwrap().in_words().starts_with("0.0 points (95 % interval "));
        assert!(endpoint.claim.is_some());
    }
    let written = serde_json::to_string(&summary).unwrap();
    assert_eq!(serde_json::from_str::<SafetySummary>(&written).unwrap(), summary);
}

/// Nobody learnt the success of five cases, one a centre: beside 540 successes a difference would tell of
/// how many they are.
#[test]
fn a_difference_is_told_only_where_its_denominators_are() {
    let mut rows = rows();
    rows.chunks_mut(120)
        .filter(|arm| arm[0].intended == Strategy::Zero)
        .for_each(|arm| arm[50].acute_success = None);
    let summary = made(&Published::default(), &cut(&rows), &leaving_out(&["epicardial"]));
    assert_eq!(count(&summary, COMPARISON, "acute_success.known", "zero_fluoroscopy"), None);
    let [success, major] = &summary.comparison.as_ref().unwrap().endpoints[..] else { panic!() };
    assert_eq!((success.difference, &success.claim), (None, &None));
    assert!(major.difference.is_some());
}

/// Fifty diagnostic studies of each strategy, in neither arm, of which five are without success: beside
/// the totals the counts of both arms would tell them, and the shares of 1,750 in 1,950 do not.
#[test]
fn where_a_count_would_tell_too_much_its_share_is_told_in_whole_per_cent() {
    let mut rows = network(400, 0);
    for arm in rows.chunks_mut(400) {
        arm[50..60].iter_mut().for_each(|case| case.procedure = ProcedureType::DiagnosticOnly);
        arm[100..140].iter_mut().for_each(|case| case.acute_success = Some(AcuteSuccess::Partial));
        if arm[0].intended == Strategy::Zero {
            arm[50].acute_success = Some(AcuteSuccess::Partial);
        }
    }
    let cohort = cut(&rows);
    let mut summary = made(&Published::default(), &cohort, &leaving_out(&["epicardial"]));
    assert_eq!(row(&summary, "acute_success.known"), [1_950, 1_950, 100, 4_000].map(Some));
    let texts = COLUMNS.map(|column| at(&mut summary.clone(), COMPARISON, "acute_success", column).text());
    let hidden: Vec<&str> = COLUMNS
        .into_iter()
        .filter(|column| count(&summary, COMPARISON, "acute_success", column).is_none())
        .collect();
    assert!(hidden.contains(&"in_neither_arm") && hidden.len() > 1, "{texts:?}");
    assert!(texts[..2].iter().all(|text| ["90 %", "1,750 (89.7 %)"].contains(&text.as_str())), "{texts:?}");
    assert!(texts[..2].iter().any(|text| text == "90 %"), "{texts:?}");
    let comparison = summary.comparison.clone().unwrap();
    assert_eq!(comparison.endpoints[0].difference, None, "it would be finer than the shares");
    for column in hidden.iter().filter(|column| **column != "in_neither_arm") {
        tell(&mut summary, (COMPARISON, "acute_success", column), 1_750);
    }
    let refused = Published::default().refusal(&cohort, &summary).unwrap();
    assert!(refused.contains("in neither arm"), "{refused}");
}

/// Whoever reads the plan knows what it leaves out of which group: here epicardial cases alone, and
/// no ventricular tachycardia is there. To hide the arm beside its strategy hides nothing.
#[test]
fn what_a_plan_cannot_leave_out_is_known() {
    const ROWS: [&str; 5] = [
        "cases",
        "acute_success.known",
        "acute_success",
        "major_within_30_days.known",
        "major_within_30_days",
    ];
    let cohort = cut(&rows());
    let without_an_arm = |exclude: &str| {
        let mut summary = made(&Published::default(), &cohort, &leaving_out(&[exclude]));
        for row in ROWS {
            hide(&mut summary, (COMPARISON, row, "zero_fluoroscopy"));
            hide(&mut summary, (COMPARISON, row, "in_neither_arm"));
        }
        Published::default().refusal(&cohort, &summary)
    };
    let refused = without_an_arm("epicardial").unwrap();
    assert!(refused.contains("cases, zero-fluoroscopy arm"), "{refused}");
    assert_eq!(without_an_arm("congenital"), None, "of every group some could be left out");
}

/// Five congenital cases, one a centre, left out by the plan alone: beside 600 of the strategy the arm
/// would be 595, and whoever knows one of the five would know that the others are four.
#[test]
fn a_few_cases_that_a_plan_leaves_out_are_not_told_by_subtraction() {
    let (cohort, plan) = (cut(&congenital(50..51)), leaving_out(&["congenital"]));
    let mut summary = made(&Published::default(), &cohort, &plan);
    assert_eq!(count(&summary, COMPARISON, "cases", "zero_fluoroscopy"), None);
    let comparison = summary.comparison.clone().unwrap();
    for endpoint in &comparison.endpoints {
        assert_eq!((endpoint.difference, &endpoint.claim), (None, &None), "it would speak of the arm");
    }
    tell(&mut summary, (COMPARISON, "cases", "zero_fluoroscopy"), 595);
    let refused = Published::default().refusal(&cohort, &summary).unwrap();
    assert!(refused.contains("cases, left out of the comparison, Zero fluoroscopy"), "{refused}");
    // Fifty are enough.
    let (cohort, plan) = (cut(&congenital(50..60)), leaving_out(&["congenital"]));
    let summary = made(&Published::default(), &cohort, &plan);
    assert_eq!(row(&summary, "cases"), [550, 600, 50, 1_200].map(Some));
}

/// Two plans on one cut: both leave out fifty cases or more, and one of them five more than the other.
#[test]
fn two_comparisons_of_one_cut_do_not_tell_what_one_leaves_out() {
    let mut rows = congenital(50..60);
    for arm in rows.chunks_mut(120).filter(|arm| arm[0].intended == Strategy::Zero) {
        arm[70].before.age_band = AgeBand::Y12To17;
    }
    let cohort = cut(&rows);
    let [fewer, more] = [leaving_out(&["congenital"]), leaving_out(&["congenital", "paediatric"])];
    let alone = made(&Published::default(), &cohort, &more);
    assert_eq!(row(&alone, "cases"), [545, 600, 55, 1_200].map(Some), "harmless alone");
    let mut published = Published::default();
    published.publish(&cohort, made(&published, &cohort, &fewer));
    assert!(published.refusal(&cohort, &alone).is_some());
    let beside = made(&published, &cohort, &more);
    assert_eq!(count(&beside, COMPARISON, "cases", "zero_fluoroscopy"), None);
}

/// The same plan amended in its words compares the same cases: nothing new is told.
#[test]
fn an_amended_plan_of_the_same_cases_tells_the_same() {
    let (cohort, first) = (cut(&rows()), leaving_out(&["epicardial"]));
    let mut amended = plan();
    amended["title"] = json!("The same, said otherwise");
    let amended: AnalysisPlan = serde_json::from_value(amended).unwrap();
    let mut published = Published::default();
    published.publish(&cohort, made(&published, &cohort, &first));
    assert_eq!(row(&made(&published, &cohort, &amended), "cases"), [600, 600, 0, 1_200].map(Some));
}

/// Whatever the comparison would tell, the rest of the summary is what it is without.
#[test]
fn a_comparison_costs_no_other_table_a_number() {
    let every = json!({ "tables": ["complication_class", "year", "completeness"] });
    for places in [50..51, 50..53, 50..60, 95..110] {
        let (cohort, plan) = (cut(&congenital(places.clone())), leaving_out(&["congenital"]));
        let mut with = every.clone();
        with["comparison"] = json!("00000000-0000-4000-8000-000000000001");
        let (with, without) = (design(with), design(every.clone()));
        let comparison = Some(found(&cohort, &plan));
        let with = summarise(Asking { cohort: &cohort, design: &with, comparison }, &[]).unwrap().summary;
        let without = summarise(Asking::of(&cohort, &without), &[]).unwrap().summary;
        let chosen: Vec<&NamedTable> = with.chosen_tables().collect();
        assert_eq!(chosen, without.chosen_tables().collect::<Vec<_>>(), "{places:?}");
        assert_eq!(with.lines, without.lines, "{places:?}");
    }
}

/// Diagnostic studies are of a group that the plan compares, and of neither arm: fifty a strategy.
#[test]
fn diagnostic_studies_are_left_out_of_their_group() {
    let mut rows = rows();
    rows.chunks_mut(120).for_each(|arm| {
        arm[50..60].iter_mut().for_each(|case| case.procedure = ProcedureType::DiagnosticOnly)
    });
    let summary = made(&Published::default(), &cut(&rows), &leaving_out(&["epicardial"]));
    assert_eq!(row(&summary, "cases"), [550, 550, 100, 1_200].map(Some));
}

/// Near-zero cases stand in the arm that the plan counts them in.
#[test]
fn near_zero_cases_stand_in_their_arm() {
    let mut all = rows();
    for arm in all.chunks_mut(120).filter(|arm| arm[0].intended == Strategy::Zero) {
        arm[60..90].iter_mut().for_each(|case| case.intended = Strategy::NearZero);
    }
    let cohort = cut(&all);
    let with = |near_zero: &str| {
        let mut plan = plan();
        plan["near_zero"] = json!(near_zero);
        made(&Published::default(), &cohort, &serde_json::from_value(plan).unwrap())
    };
    assert_eq!(row(&with("in_neither_arm"), "cases"), [450, 600, 150, 1_200].map(Some));
    assert_eq!(row(&with("with_zero_fluoroscopy"), "cases"), [600, 600, 0, 1_200].map(Some));
    assert_eq!(row(&with("with_conventional"), "cases"), [450, 750, 0, 1_200].map(Some));
}
