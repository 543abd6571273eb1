//! What a plan makes of the cases.

use crate::records::record;
use proptest::prelude::*;
use quietbeam_analysis::methods::interval::RatioInterval;
use quietbeam_analysis::study::adjustment::Adjusted;
use quietbeam_analysis::study::cohort::{CaseRow, Cohort};
use quietbeam_analysis::study::decision::{Decision, Reason};
use quietbeam_analysis::study::effect::Effect;
use quietbeam_analysis::study::endpoint::Endpoint;
use quietbeam_analysis::study::estimate::Estimate;
use quietbeam_analysis::study::plan::{AnalysisPlan, LeftOut};
use quietbeam_analysis::study::planned::{PlannedComparison, carry_out};
use quietbeam_analysis::study::planned_words::planned_words;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{
    AcuteSuccess, AgeBand, CongenitalDisease, Exclusion, FluoroUsed, IntentDeclared, ProcedureType,
    Sensitivity, Strategy, StructuralDisease,
};
use quietbeam_tests::plan::plan;
use quietbeam_tests::sample::zero_fluoroscopy_case;
use serde_json::{Value, json};

pub(super) fn read(plan: Value) -> AnalysisPlan {
    serde_json::from_value(plan).unwrap()
}

pub(super) fn planned(changes: &[(&str, Value)]) -> AnalysisPlan {
    let mut changed = plan();
    for (pointer, value) in changes {
        *changed.pointer_mut(pointer).unwrap() = value.clone();
    }
    read(changed)
}

fn base() -> CaseRow {
    CaseRow::read("S01".parse().unwrap(), &record(zero_fluoroscopy_case()))
}

/// `cases` cases alike of which `successes` succeed.
pub(super) fn cell(centre: u8, diseased: bool, zero: bool, cases: u32, successes: u32) -> Vec<CaseRow> {
    let mut case = CaseRow { centre: CentreCode::from_random(centre), ..base() };
    case.before.structural =
        Some(if diseased { StructuralDisease::Ischaemic } else { StructuralDisease::None });
    (case.intended, case.fluoro_used) = if zero {
        (Strategy::Zero, FluoroUsed::None)
    } else {
        (Strategy::Conventional, FluoroUsed::PlannedUsed)
    };
    case.major_within_30_days = Some(false);
    let outcome = |number| if number < successes { AcuteSuccess::Yes } else { AcuteSuccess::No };
    (0..cases).map(|number| CaseRow { acute_success: Some(outcome(number)), ..case.clone() }).collect()
}

fn estimated(estimate: &Estimate<Adjusted>) -> Adjusted {
    *estimate.estimated().unwrap_or_else(|| panic!("{estimate:?}"))
}

/// Lower limit, estimate and upper limit of a ratio that has all of them.
fn ratio(estimate: &Estimate<RatioInterval>) -> [f64; 3] {
    let found = estimate.estimated().unwrap_or_else(|| panic!("{estimate:?}"));
    [found.lower, found.estimate.unwrap().or_infinity(), found.upper.or_infinity()]
}

/// Cells in which centre, disease and arm multiply the odds of success and nothing else does:
/// 1/9 at first, ×9 with disease, ×9/4 in the second centre, and another factor in the
/// zero-fluoroscopy arm. The logistic model holds exactly, so its fit gives back the shares of the cells.
fn confounded(zero_successes: [u32; 4]) -> Cohort {
    let [a, b, c, d] = zero_successes;
    [
        cell(1, false, false, 400, 40),
        cell(1, true, false, 40, 20),
        cell(2, false, false, 300, 60),
        cell(2, true, false, 260, 180),
        cell(1, false, true, 80, a),
        cell(1, true, true, 400, b),
        cell(2, false, true, 70, c),
        cell(2, true, true, 1_240, d),
    ]
    .concat()
    .into_iter()
    .collect()
}

/// By hand: the shares of the cells averaged over all cases of a cell, 480, 440, 370 and 1,500.
#[test]
fn centre_and_covariate_are_held_alike() {
    // Odds ×3: 1/4, 3/4, 3/7 and 27/31 succeed.
    let result = carry_out(&confounded([20, 300, 30, 1_080]), &read(plan()));
    let success = &result.endpoints[0].as_intended;
    let found = estimated(&success.adjusted.standardised);
    let cells = [
        (480.0, 1.0 / 4.0, 1.0 / 10.0),
        (440.0, 3.0 / 4.0, 1.0 / 2.0),
        (370.0, 3.0 / 7.0, 1.0 / 5.0),
        (1_500.0, 27.0 / 31.0, 9.0 / 13.0),
    ];
    let averaged =
        |of: fn(&(f64, f64, f64)) -> f64| cells.iter().map(|cell| cell.0 * of(cell)).sum::<f64>() / 2_790.0;
    let (zero, conventional) = (averaged(|cell| cell.1), averaged(|cell| cell.2));
    assert!(
        (found.risks.zero_fluoroscopy - zero).abs() < 1e-9,
        "{} is not {zero}",
        found.risks.zero_fluoroscopy
    );
    assert!((found.risks.conventional - conventional).abs() < 1e-9);
    assert!((found.difference.estimate - (zero - conventional)).abs() < 1e-9);
    let crude = success.crude.difference.estimated().unwrap().miettinen_nurminen.estimate;
    assert!((crude - (1_430.0 / 1_790.0 - 300.0 / 1_000.0)).abs() < 1e-12, "{crude}");
    assert_eq!(success.adjusted.centres, 2);
    assert_eq!(success.adjusted.terms, ["structural_hd"]);
    // Ratios are of failures: adjusted, of all together, and by Mantel and Haenszel within centres.
    assert!((ratio(&found.ratio)[1] - (1.0 - zero) / (1.0 - conventional)).abs() < 1e-9);
    let crude = ratio(&success.crude.ratio.miettinen_nurminen)[1];
    assert!((crude - (360.0 / 1_790.0) / (700.0 / 1_000.0)).abs() < 1e-12, "{crude}");
    // Failures of each arm and cases of each arm in both centres.
    let centres = [(160.0, 480.0, 380.0, 440.0), (200.0, 1_310.0, 320.0, 560.0)];
    let sum = |of: fn(&(f64, f64, f64, f64)) -> f64| centres.iter().map(of).sum::<f64>();
    let above = sum(|(failed, cases, _, other)| failed * other / (cases + other));
    let below = sum(|(_, cases, failed, other)| failed * cases / (cases + other));
    let within = ratio(&success.crude.ratio.within_centres)[1];
    assert!((within - above / below).abs() < 1e-12, "{within} is not {}", above / below);
}

#[test]
fn without_an_effect_the_adjusted_difference_is_none_though_the_crude_one_is_large() {
    let rows = [
        cell(1, false, false, 400, 40),
        cell(1, true, false, 40, 20),
        cell(2, false, false, 300, 60),
        cell(2, true, false, 260, 180),
        cell(1, false, true, 80, 8),
        cell(1, true, true, 400, 200),
        cell(2, false, true, 70, 14),
        cell(2, true, true, 1_300, 900),
    ];
    let result = carry_out(&rows.concat().into_iter().collect(), &read(plan()));
    let success = &result.endpoints[0].as_intended;
    for estimate in [&success.adjusted.standardised, &success.adjusted.standardised_these_centres] {
        assert!(estimated(estimate).difference.estimate.abs() < 1e-9);
    }
    assert!(success.crude.difference.estimated().unwrap().newcombe.estimate > 0.2);
    let weighted = estimated(&success.adjusted.overlap_weighted);
    assert!(weighted.difference.estimate.abs() < 0.05, "{weighted:?}");
}

#[test]
fn after_an_endpoint_that_is_not_shown_none_is_tested() {
    let rows = [
        cell(1, false, true, 60, 50),
        cell(1, true, true, 60, 40),
        cell(2, false, true, 60, 50),
        cell(1, false, false, 60, 50),
        cell(1, true, false, 60, 41),
        cell(2, true, false, 60, 40),
    ];
    let result = carry_out(&rows.concat().into_iter().collect(), &read(plan()));
    assert_eq!(result.endpoints[0].claim, Decision::NotShown);
    let reason = Reason::NotTested { after: Endpoint::AcuteSuccess };
    assert_eq!(result.endpoints[1].claim, Decision::CannotConclude { reason });
    let words = planned_words(&result);
    let said = words.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains("acute success comes before it in the plan and is not shown, so it is not tested"),
        "{words}"
    );
    assert!(words.lines().all(|line| line.chars().count() <= 100), "{words}");
}

/// A centre in which everybody succeeds has no finite odds. It tells nothing about the odds
/// ratio, but its cases would succeed either way, so the difference is that of the other cases
/// spread over all: by hand, 200 more cases.
#[test]
fn a_centre_without_failures_stays_in_the_average() {
    let without: Vec<CaseRow> = confounded([20, 300, 30, 1_080]).rows().to_vec();
    let with = [without.clone(), cell(3, false, true, 150, 150), cell(3, true, false, 50, 50)].concat();
    let found = |rows: Vec<CaseRow>| {
        carry_out(&rows.into_iter().collect(), &read(plan())).endpoints[0].as_intended.clone()
    };
    let (without, with) = (found(without), found(with));
    assert_eq!((without.adjusted.settled, with.adjusted.settled, with.adjusted.centres), (0, 200, 3));
    let (before, after) = (estimated(&without.adjusted.standardised), estimated(&with.adjusted.standardised));
    let share = 2_790.0 / 2_990.0;
    for (one, other) in [
        (before.difference.estimate, after.difference.estimate),
        (before.difference.lower, after.difference.lower),
        (before.difference.upper, after.difference.upper),
    ] {
        assert!((one * share - other).abs() < 1e-9, "{one} × {share} is not {other}");
    }
    let risk = (before.risks.conventional * 2_790.0 + 200.0) / 2_990.0;
    assert!((after.risks.conventional - risk).abs() < 1e-9);
    assert_eq!(before.degrees_of_freedom, after.degrees_of_freedom);
    assert!(with.adjusted.penalised.is_none());
    // Without a failure among them they leave the ratio of failures as it is.
    for (one, other) in ratio(&before.ratio).into_iter().zip(ratio(&after.ratio)) {
        assert!((one - other).abs() < 1e-9, "{one} is not {other}");
    }
}

/// Where nobody succeeds, failures join both risks: by hand, 200 more of 2,990 either way, which
/// brings their ratio and its limits nearer to 1.
#[test]
fn a_centre_without_successes_joins_both_risks_of_failure() {
    let without: Vec<CaseRow> = confounded([20, 300, 30, 1_080]).rows().to_vec();
    let with = [without.clone(), cell(3, false, true, 150, 0), cell(3, true, false, 50, 0)].concat();
    let found = |rows: Vec<CaseRow>| {
        let made = carry_out(&rows.into_iter().collect(), &read(plan()));
        estimated(&made.endpoints[0].as_intended.adjusted.standardised)
    };
    let (before, after) = (found(without), found(with));
    let failures = |risk: f64| 2_790.0 * (1.0 - risk) + 200.0;
    let expected = failures(before.risks.zero_fluoroscopy) / failures(before.risks.conventional);
    let [lower, estimate, upper] = ratio(&after.ratio);
    assert!((estimate - expected).abs() < 1e-9, "{estimate} is not {expected}");
    assert!(lower < estimate && estimate < upper, "{lower} {upper}");
    assert!(ratio(&before.ratio)[1] < estimate && estimate < 1.0);
}

/// A measurement above which everybody succeeds and below which nobody does.
#[test]
fn outcomes_that_a_measurement_separates_are_told_and_decide_nothing() {
    let mut rows = [
        cell(1, false, true, 50, 40),
        cell(1, false, false, 50, 45),
        cell(2, false, true, 50, 30),
        cell(2, false, false, 50, 35),
    ]
    .concat();
    for case in &mut rows {
        case.before.lvef = Some(if case.acute_success == Some(AcuteSuccess::Yes) { 60 } else { 40 });
    }
    let result = carry_out(&rows.into_iter().collect(), &planned(&[("/covariates", json!(["lvef"]))]));
    let success = &result.endpoints[0];
    assert!(success.as_intended.adjusted.standardised.estimated().is_none());
    assert!(success.as_intended.adjusted.penalised.as_ref().unwrap().estimated().is_some());
    assert!(
        matches!(success.claim, Decision::CannotConclude { reason: Reason::NotEstimable { .. } }),
        "{:?}",
        success.claim
    );
    // Weights model the choice of arm, so they answer.
    assert!(success.as_intended.adjusted.overlap_weighted.estimated().is_some());
}

#[test]
fn what_is_not_recorded_leaves_or_is_told_apart_as_the_plan_says() {
    let mut rows = confounded([20, 300, 30, 1_080]).rows().to_vec();
    rows.iter_mut().step_by(10).for_each(|case| case.before.structural = None);
    let cohort: Cohort = rows.into_iter().collect();
    let told_apart = carry_out(&cohort, &read(plan()));
    let adjusted = &told_apart.endpoints[0].as_intended.adjusted;
    assert_eq!(adjusted.terms, ["structural_hd", "structural_hd not recorded"]);
    assert_eq!((adjusted.incomplete.zero_fluoroscopy, adjusted.incomplete.conventional), (0, 0));
    let complete = carry_out(&cohort, &planned(&[("/missing_covariates", json!("complete_cases"))]));
    let adjusted = &complete.endpoints[0].as_intended.adjusted;
    assert_eq!((adjusted.incomplete.zero_fluoroscopy, adjusted.incomplete.conventional), (179, 100));
    assert_eq!((adjusted.cases.zero_fluoroscopy, adjusted.cases.conventional), (1_611, 900));
}

#[test]
fn every_case_is_compared_or_left_out_for_one_reason() {
    let mut rows = confounded([20, 300, 30, 1_080]).rows().to_vec();
    rows[0].procedure = ProcedureType::DiagnosticOnly;
    rows[1].procedure = ProcedureType::VtEpicardial;
    rows[2].procedure = ProcedureType::Pvc;
    rows[3].intended = Strategy::NearZero;
    rows[4].declared = Some(IntentDeclared::Retrospective);
    rows[5].declared = None;
    let all = u32::try_from(rows.len()).unwrap();
    let plan = planned(&[
        ("/eligibility/procedure_groups", json!(["af_first", "vt"])),
        ("/eligibility/exclude", json!(["epicardial", "not_declared_before"])),
    ]);
    let flow = carry_out(&rows.into_iter().collect(), &plan).cases;
    let found: Vec<(LeftOut, u32)> = flow.left_out.iter().map(|line| (line.reason, line.cases)).collect();
    assert_eq!(
        found,
        [
            (LeftOut::DiagnosticOnly, 1),
            (LeftOut::OtherGroup, 1),
            (LeftOut::Excluded(Exclusion::Epicardial), 1),
            (LeftOut::Excluded(Exclusion::NotDeclaredBefore), 2),
        ]
    );
    let compared = flow.as_intended.zero_fluoroscopy + flow.as_intended.conventional;
    assert_eq!(compared + flow.near_zero + 5, all);
    assert_eq!((flow.near_zero, flow.in_cohort), (1, all));
}

#[test]
fn single_types_and_ages_stand_in_scope_and_all_else_is_left_out_by_reason() {
    let mut rows = confounded([20, 300, 30, 1_080]).rows().to_vec();
    let all = u32::try_from(rows.len()).unwrap();
    rows.iter_mut().for_each(|case| case.before.age_band = AgeBand::Y60To69);
    rows[0].procedure = ProcedureType::CtiFlutter;
    rows[1].procedure = ProcedureType::AtypicalFlutter;
    rows[2].procedure = ProcedureType::Pvc;
    rows[3].before.age_band = AgeBand::Y18To29;
    rows[4].before.congenital = Some(CongenitalDisease::Simple);
    let mut narrow = plan();
    narrow["eligibility"] = json!({
        "procedure_groups": ["af_first"], "procedures": ["cti_afl"], "age_bands": ["60_69", "70_79"],
        "exclude": ["congenital"],
    });
    narrow["sensitivity"] = json!(["by_procedure_group"]);
    let result = carry_out(&rows.into_iter().collect(), &read(narrow));
    let found: Vec<(LeftOut, u32)> =
        result.cases.left_out.iter().map(|line| (line.reason, line.cases)).collect();
    assert_eq!(
        found,
        [(LeftOut::OtherProcedure, 2), (LeftOut::OtherAge, 1), (LeftOut::Excluded(Exclusion::Congenital), 1),]
    );
    let compared = result.cases.as_intended;
    assert_eq!(compared.zero_fluoroscopy + compared.conventional, all - 4);
    // The group of a single type is a part of its own.
    let parts: Vec<&str> =
        result.endpoints[0].sensitivity.iter().filter_map(|line| line.part.as_deref()).collect();
    assert_eq!(parts, ["flutter", "af_first"]);
    let said = planned_words(&result).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains("2 of other procedures; 1 of other ages: 0 zero-fluoroscopy, 1 conventional"),
        "{said}"
    );
}

/// Ten near-zero cases, of which six used X-ray as planned, one more than planned and three none.
#[test]
fn near_zero_cases_count_where_the_plan_says() {
    let mut rows = confounded([20, 300, 30, 1_080]).rows().to_vec();
    let near: Vec<CaseRow> = cell(1, false, true, 10, 5)
        .into_iter()
        .enumerate()
        .map(|(number, case)| CaseRow {
            intended: Strategy::NearZero,
            fluoro_used: match number {
                0..6 => FluoroUsed::PlannedUsed,
                6 => FluoroUsed::StandbyUsed,
                _ => FluoroUsed::StandbyNotUsed,
            },
            ..case
        })
        .collect();
    rows.extend(near);
    let found = |choice: &str| {
        let mut changed = plan();
        changed["near_zero"] = json!(choice);
        let plan = read(changed);
        let found = carry_out(&rows.iter().cloned().collect(), &plan);
        let flow = found.cases.clone();
        let crossed = &found.exploratory.cross_over;
        let counts = [
            flow.near_zero,
            flow.near_zero_compared,
            flow.as_intended.zero_fluoroscopy,
            flow.per_protocol.zero_fluoroscopy,
            flow.as_intended.conventional,
            flow.per_protocol.conventional,
            crossed.to_x_ray.count,
            crossed.to_no_x_ray.count,
        ];
        (counts, planned_words(&found), found.always[0], found.look.information)
    };
    let (aside, words, always, information) = found("in_neither_arm");
    assert_eq!(aside, [10, 0, 1_790, 1_790, 1_000, 1_000, 0, 0]);
    assert!(words.contains("10 intended as near-zero, which are a group of their own"), "{words}");
    assert!(always.ends_with("in neither arm."));
    let (zero, words, always, more) = found("with_zero_fluoroscopy");
    assert_eq!(zero, [0, 10, 1_800, 1_799, 1_000, 1_000, 1, 0]);
    assert!(words.contains("10 were intended as near-zero: they count with zero-fluoroscopy."), "{words}");
    assert!(always.contains("count with zero-fluoroscopy") && more > information);
    let (conventional, ..) = found("with_conventional");
    assert_eq!(conventional, [0, 10, 1_790, 1_790, 1_010, 1_007, 0, 3]);
}

#[test]
fn harm_before_discharge_is_an_endpoint_of_its_own() {
    let mut rows = [cell(1, false, true, 60, 50), cell(1, false, false, 60, 50)].concat();
    for (number, case) in rows.iter_mut().enumerate() {
        case.major_before_discharge = if number < 3 { None } else { Some(number % 20 == 4) };
        case.major_within_30_days = Some(number % 20 < 2);
    }
    let mut changed = plan();
    changed["endpoints"][1]["endpoint"] = json!("major_before_discharge");
    let found = carry_out(&rows.into_iter().collect(), &read(changed));
    let arms = found.endpoints[1].as_intended.crude.arms;
    let tally = arms.zero_fluoroscopy.tally;
    assert_eq!((tally.known, tally.missing, tally.events), (57, 3, 3));
    assert!(found.endpoints[1].claim_in_words.contains("major complications before discharge"));
}

#[test]
fn the_primary_estimate_stands_again_without_each_centre() {
    let result = carry_out(&confounded([20, 300, 30, 1_080]), &read(plan()));
    let lines = &result.endpoints[0].sensitivity;
    let parts: Vec<(Sensitivity, bool, u32)> =
        lines.iter().map(|line| (line.analysis, line.part.is_some(), line.cases)).collect();
    assert_eq!(
        parts,
        [
            (Sensitivity::LeaveOneCentreOut, true, 1_870),
            (Sensitivity::LeaveOneCentreOut, true, 920),
            (Sensitivity::DeclaredBefore, false, 2_790),
        ]
    );
    // One centre alone has no spread between centres.
    assert!(lines[0].effect.obstacle().is_some());
    let primary = estimated(&result.endpoints[0].as_intended.adjusted.standardised).difference;
    assert_eq!(lines[2].effect, Effect::Difference(Estimate::Estimated(primary)));
}

fn any_row() -> impl proptest::strategy::Strategy<Value = (u8, u8, bool, u8, u8)> {
    (0..3_u8, 0..3_u8, any::<bool>(), 0..5_u8, 0..3_u8)
}

fn row(base: &CaseRow, (centre, intended, beam, success, structural): (u8, u8, bool, u8, u8)) -> CaseRow {
    let results = [AcuteSuccess::Yes, AcuteSuccess::Partial, AcuteSuccess::No, AcuteSuccess::NotAttempted];
    let mut case = CaseRow {
        centre: CentreCode::from_random(centre),
        intended: [Strategy::Zero, Strategy::NearZero, Strategy::Conventional][usize::from(intended)],
        fluoro_used: if beam { FluoroUsed::PlannedUsed } else { FluoroUsed::None },
        acute_success: results.get(usize::from(success)).copied(),
        ..base.clone()
    };
    case.before.structural =
        [None, Some(StructuralDisease::None), Some(StructuralDisease::Valve)][usize::from(structural)];
    case
}

fn swapped(comparison: &PlannedComparison) -> Option<[f64; 3]> {
    let interval = estimated_if_any(comparison)?;
    Some([interval.lower, interval.estimate, interval.upper])
}

fn estimated_if_any(
    comparison: &PlannedComparison,
) -> Option<quietbeam_analysis::methods::interval::Interval> {
    comparison.endpoints[0].as_intended.adjusted.standardised.estimated().map(|found| found.difference)
}

/// The ratio of failures, where its limits are numbers with a logarithm.
fn adjusted_ratio(comparison: &PlannedComparison) -> Option<[f64; 3]> {
    let found = comparison.endpoints[0].as_intended.adjusted.standardised.estimated()?;
    let limits = ratio(&Estimate::Estimated(*found.ratio.estimated()?));
    limits.iter().all(|limit| *limit > 0.0 && limit.is_finite()).then_some(limits)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// No order of cases changes a byte; each interval contains its estimate; and with the
    /// arms exchanged each limit changes side and sign.
    #[test]
    fn order_does_not_matter_and_arms_are_treated_alike(drawn in prop::collection::vec(any_row(), 0..200), turn in 0..200_usize) {
        let base = base();
        let plan = read(plan());
        let mut rows: Vec<CaseRow> = drawn.into_iter().map(|drawn| row(&base, drawn)).collect();
        let first = carry_out(&rows.iter().cloned().collect(), &plan);
        rows.reverse();
        let middle = turn.min(rows.len());
        rows.rotate_left(middle);
        let again = carry_out(&rows.iter().cloned().collect(), &plan);
        prop_assert_eq!(serde_json::to_string(&first).unwrap(), serde_json::to_string(&again).unwrap());
        for case in &mut rows {
            case.intended = match case.intended {
                Strategy::Zero => Strategy::Conventional,
                Strategy::Conventional => Strategy::Zero,
                Strategy::NearZero => Strategy::NearZero,
            };
        }
        let exchanged = carry_out(&rows.into_iter().collect(), &plan);
        match (swapped(&first), swapped(&exchanged)) {
            (Some([lower, estimate, upper]), Some([other_lower, other_estimate, other_upper])) => {
                prop_assert!(lower <= estimate && estimate <= upper);
                let [one, other] = [&first, &exchanged].map(adjusted_ratio);
                prop_assert_eq!(one.is_some(), other.is_some());
                if let (Some([low, ratio, high]), Some([other_low, other, other_high])) = (one, other) {
                    prop_assert!(low <= ratio && ratio <= high, "{low} {ratio} {high}");
                    for (one, other) in [(low, other_high), (ratio, other), (high, other_low)] {
                        prop_assert!((one.ln() + other.ln()).abs() < 1e-5 * (1.0 + one.ln().abs()), "{one} {other}");
                    }
                }
                prop_assert!((estimate + other_estimate).abs() < 1e-6 && (lower + other_upper).abs() < 1e-6 && (upper + other_lower).abs() < 1e-6);
            }
            (one, other) => prop_assert_eq!(one.is_some(), other.is_some()),
        }
    }
}
