//! A comparison that is published with a summary: its counts stand the attack like all others, and it
//! costs no other table a number. The counts are worked out by hand.

use crate::around::{Published, amid};
use crate::plan::plan;
use crate::summaries::{at, count, design, hide, network, table, tell};
use quietbeam_analysis::study::cohort::{CaseRow, Cohort};
use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::planned::carry_out;
use quietbeam_analysis::study::published::{OneOrAll, Published as Shown, PublishedPart};
use quietbeam_analysis::study::summary::{
    Asking, NamedTable, PlanRegistered, PublishedComparison, SafetySummary, TableCell, summarise,
};
use quietbeam_schema::summary_design::SummaryDesign;
use quietbeam_schema::vocabulary::{
    AcuteSuccess, AgeBand, CongenitalDisease, FluoroUsed, ProcedureType, Strategy,
};
use serde_json::json;

const COMPARISON: &str = "comparison";
const PER_PROTOCOL: &str = "comparison_per_protocol";
const COLUMNS: [&str; 4] = ["zero_fluoroscopy", "conventional", "in_neither_arm", "all"];
const COLUMNS_PER_PROTOCOL: [&str; 4] = ["zero_fluoroscopy", "conventional", "not_per_protocol", "all"];

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

fn row_per_protocol(summary: &SafetySummary, row: &str) -> [Option<u64>; 4] {
    COLUMNS_PER_PROTOCOL.map(|column| count(summary, PER_PROTOCOL, row, column))
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
        assert_eq!(endpoint.as_intended.difference.unwrap().estimate, 0.0);
        assert!(
            endpoint.as_intended.difference.unwrap().in_words().starts_with("0.0 points (95 % interval ")
        );
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
    assert_eq!((success.as_intended.difference, &success.claim), (None, &None));
    assert!(major.as_intended.difference.is_some());
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
    assert_eq!(comparison.endpoints[0].as_intended.difference, None, "it would be finer than the shares");
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
            for column in &COLUMNS_PER_PROTOCOL[..3] {
                hide(&mut summary, (PER_PROTOCOL, row, column));
            }
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
        assert_eq!(
            (endpoint.as_intended.difference, &endpoint.claim),
            (None, &None),
            "it would speak of the arm"
        );
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

/// Cases at some places of each zero-fluoroscopy arm, in which X-ray was used after all.
fn crossed_over(places: std::ops::Range<usize>) -> Vec<CaseRow> {
    let mut rows = rows();
    for arm in rows.chunks_mut(120).filter(|arm| arm[0].intended == Strategy::Zero) {
        arm[places.clone()].iter_mut().for_each(|case| case.fluoro_used = FluoroUsed::StandbyUsed);
    }
    rows
}

/// Fifty of 600 crossed over, of which 35 are without success and nobody was harmed.
#[test]
fn what_went_as_intended_is_told_beside_the_arms() {
    let (cohort, plan) = (cut(&crossed_over(97..107)), leaving_out(&["epicardial"]));
    let summary = made(&Published::default(), &cohort, &plan);
    assert_eq!(row(&summary, "cases"), [600, 600, 0, 1_200].map(Some));
    assert_eq!(row_per_protocol(&summary, "cases"), [550, 600, 50, 1_200].map(Some));
    // At each centre three of the ten that crossed over succeeded.
    assert_eq!(row_per_protocol(&summary, "acute_success"), [525, 540, 15, 1_080].map(Some));
    let comparison = summary.comparison.as_ref().unwrap();
    let success = comparison.endpoints[0].per_protocol.unwrap().difference.unwrap();
    // At each centre 105 of 110 against 108 of 120: 5.45 points more.
    assert_eq!(success.estimate, 0.055);
}

/// A table of counts without any.
fn hidden_throughout(table: &NamedTable) -> NamedTable {
    let mut table = table.clone();
    for cell in table.rows.iter_mut().flat_map(|row| &mut row.cells) {
        *cell = match cell {
            TableCell::Count(_) => TableCell::Count(Shown::Hidden),
            TableCell::Part(_) => TableCell::Part(PublishedPart {
                count: Shown::Hidden,
                share_of_cases: None,
                whole_percent: None,
            }),
            other => panic!("no count: {other:?}"),
        };
    }
    table
}

/// Five cases crossed over, one a centre: beside 600 of the arm 595 would tell it.
#[test]
fn a_few_cases_that_crossed_over_are_not_told_by_subtraction() {
    let (cohort, plan) = (cut(&crossed_over(50..51)), leaving_out(&["epicardial"]));
    let mut summary = made(&Published::default(), &cohort, &plan);
    assert_eq!(row(&summary, "cases"), [600, 600, 0, 1_200].map(Some), "the arms are told all the same");
    assert!(summary.tables.iter().all(|table| table.key != PER_PROTOCOL), "it could tell nothing");
    for endpoint in &summary.comparison.as_ref().unwrap().endpoints {
        assert!(endpoint.as_intended.difference.is_some(), "{endpoint:?}");
        assert_eq!(endpoint.per_protocol, None, "it would speak of those who crossed over");
    }
    let more = made(&Published::default(), &cut(&crossed_over(97..107)), &plan);
    summary.tables.push(hidden_throughout(table(&more, PER_PROTOCOL)));
    assert_eq!(Published::default().refusal(&cohort, &summary), None, "it tells nothing");
    tell(&mut summary, (PER_PROTOCOL, "cases", "zero_fluoroscopy"), 595);
    let refused = Published::default().refusal(&cohort, &summary).unwrap();
    assert!(refused.contains("cases, zero-fluoroscopy arm"), "{refused}");
}

/// Whoever reads how many of a strategy were without X-ray, and how many of its arm, subtracts: five of the
/// fifty that the plan leaves out had X-ray, and so would be told.
#[test]
fn x_ray_in_what_a_plan_leaves_out_is_not_told_by_subtraction() {
    let mut rows = congenital(50..60);
    for arm in rows.chunks_mut(120).filter(|arm| arm[0].intended == Strategy::Zero) {
        arm[59..80].iter_mut().for_each(|case| case.fluoro_used = FluoroUsed::StandbyUsed);
    }
    let (cohort, plan) = (cut(&rows), leaving_out(&["congenital"]));
    let mut summary = made(&Published::default(), &cohort, &plan);
    assert_eq!(row(&summary, "cases"), [550, 600, 50, 1_200].map(Some));
    assert_eq!(count(&summary, PER_PROTOCOL, "cases", "zero_fluoroscopy"), None);
    tell(&mut summary, (PER_PROTOCOL, "cases", "zero_fluoroscopy"), 450);
    let refused = Published::default().refusal(&cohort, &summary).unwrap();
    assert!(refused.contains("left out of the comparison"), "{refused}");
}

/// What was published before this was counted has no such table, and told nothing of it.
#[test]
fn an_earlier_summary_without_the_table_told_nothing_of_it() {
    let (cohort, plan) = (cut(&crossed_over(97..107)), leaving_out(&["epicardial"]));
    let mut earlier = made(&Published::default(), &cohort, &plan);
    earlier.tables.retain(|table| table.key != PER_PROTOCOL);
    let mut published = Published::default();
    published.publish(&cohort, earlier);
    let now = made(&published, &cohort, &plan);
    assert_eq!(row_per_protocol(&now, "cases"), [550, 600, 50, 1_200].map(Some));
}

/// Whatever the comparison would tell, the rest of the summary is what it is without.
#[test]
fn a_comparison_costs_no_other_table_a_number() {
    let every = json!({ "tables": ["complication_class", "year", "completeness"] });
    let cohorts = [50..51, 50..53, 50..60, 95..110].into_iter().flat_map(|places: std::ops::Range<usize>| {
        [(places.clone(), congenital(places.clone())), (places.clone(), crossed_over(places))]
    });
    for (places, rows) in cohorts {
        let (cohort, plan) = (cut(&rows), leaving_out(&["congenital"]));
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

/// Five congenital cases a centre without success would be told by the arm beside its strategy: the one that
/// is told first tells it, and the other hides.
#[test]
fn a_comparison_may_be_told_before_the_other_tables() {
    let mut rows = congenital(60..64);
    for arm in rows.chunks_mut(120).filter(|arm| arm[0].intended == Strategy::Zero) {
        arm[60].acute_success = Some(AcuteSuccess::Partial);
    }
    let (cohort, plan) = (cut(&rows), leaving_out(&["congenital"]));
    let told = |first: &str| {
        let asked = json!({
            "comparison": "00000000-0000-4000-8000-000000000001", "told_first": first, "tables": ["year"]
        });
        let design = design(asked);
        let comparison = Some(found(&cohort, &plan));
        let summary = Published::default().ask(Asking { cohort: &cohort, design: &design, comparison });
        let of_arm = count(&summary, COMPARISON, "acute_success", "zero_fluoroscopy");
        let line = summary.line(OneOrAll::All, OneOrAll::One(Strategy::Zero)).unwrap();
        let difference = summary.comparison.as_ref().unwrap().endpoints[0].as_intended.difference;
        (of_arm, line.acute_success.count, difference.is_some())
    };
    // 120 − 12 − 1 at each centre, less three of the four that are left out.
    assert_eq!(told("tables"), (None, Shown::Shown(535), false));
    assert_eq!(told("comparison"), (Some(520), Shown::Hidden, true));
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
    // None of them had X-ray: as conventional cases they crossed over.
    assert_eq!(row_per_protocol(&with("with_zero_fluoroscopy"), "cases"), [600, 600, 0, 1_200].map(Some));
    assert_eq!(row_per_protocol(&with("with_conventional"), "cases"), [450, 600, 150, 1_200].map(Some));
    assert_eq!(row(&with("in_neither_arm"), "cases"), [450, 600, 150, 1_200].map(Some));
    assert_eq!(row(&with("with_zero_fluoroscopy"), "cases"), [600, 600, 0, 1_200].map(Some));
    assert_eq!(row(&with("with_conventional"), "cases"), [450, 750, 0, 1_200].map(Some));
}
