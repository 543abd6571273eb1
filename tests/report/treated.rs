//! Who was treated.

use crate::cases::{base, in_order, intend, network, of, planned};
use quietbeam_analysis::study::estimate::Estimate;
use quietbeam_analysis::study::report::{Facts, ReportCase, Spread, report};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::value::FieldValue;
use quietbeam_schema::vocabulary::{Coded, Covariate, OperatorPriorZf, Sex, Strategy, StructuralDisease};
use serde_json::json;

fn levels(spread: &Spread) -> Vec<(String, u32, u32)> {
    let Spread::Levels(levels) = spread else { panic!("{spread:?}") };
    let told = levels
        .iter()
        .map(|level| (level.label.clone(), level.arms.zero_fluoroscopy.cases, level.arms.conventional.cases));
    told.collect()
}

fn spread_over(mut cases: Vec<ReportCase>) -> Vec<ReportCase> {
    for (place, case) in cases.iter_mut().enumerate() {
        case.row.before.bmi = (place % 7 != 0).then_some(22.0 + (place % 13) as f64);
        case.row.before.sex = Some(Sex::all()[place % 2]);
        case.row.period = Quarter::new(2025, 1 + (place % 4) as u8).unwrap();
    }
    cases
}

#[test]
fn the_table_counts_every_case_once() {
    let cases = spread_over(network());
    let treated = of(cases.clone()).who_was_treated;
    let codes: Vec<&str> = treated.baseline.iter().map(|line| line.code).collect();
    let mut expected = vec!["structural_hd"];
    expected.extend(Covariate::all().iter().map(|one| one.code()).filter(|code| *code != "structural_hd"));
    expected.extend(["op_experience_band", "device_in_situ"]);
    assert_eq!(codes, expected, "the plan's covariates come first");
    assert_eq!(treated.baseline.iter().filter(|line| line.planned).count(), 1);
    assert_eq!(
        levels(&treated.baseline[0].spread),
        [("None".to_owned(), 180, 700), ("Ischaemic".to_owned(), 1_700, 300)]
    );
    let bmi = treated.baseline.iter().find(|line| line.code == "bmi").unwrap();
    let Spread::Numbers { arms, balance } = &bmi.spread else { panic!("{bmi:?}") };
    for (arm, zero) in [(arms.zero_fluoroscopy, true), (arms.conventional, false)] {
        let own = cases.iter().filter(|case| (case.row.intended == Strategy::Zero) == zero);
        let values: Vec<f64> = own.filter_map(|case| case.row.before.bmi).collect();
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (n - 1.0);
        assert_eq!(arm.recorded as usize, values.len());
        assert!((arm.mean.unwrap() - mean).abs() < 1e-9);
        assert!((arm.standard_deviation.unwrap() - variance.sqrt()).abs() < 1e-9);
    }
    assert_eq!(bmi.missing.zero_fluoroscopy + bmi.missing.conventional, 412, "every seventh of 2,880");
    // By its formula, from the printed moments.
    let (one, two) = (arms.zero_fluoroscopy, arms.conventional);
    let pooled =
        ((one.standard_deviation.unwrap().powi(2) + two.standard_deviation.unwrap().powi(2)) / 2.0).sqrt();
    let Estimate::Estimated(before) = balance.before else { panic!("{balance:?}") };
    assert!((before - (one.mean.unwrap() - two.mean.unwrap()) / pooled).abs() < 1e-9);
    let quarters: u32 = treated
        .quarters
        .iter()
        .map(|quarter| quarter.as_intended.zero_fluoroscopy + quarter.as_intended.conventional)
        .sum();
    assert_eq!((treated.quarters.len(), quarters), (4, 2_880));
}

/// By hand: 1700/1880 and 300/1000 diseased, so the spread is √((0.0865 + 0.21)/2).
/// After overlap weights by a logistic model each of its terms has the same mean in both arms:
/// theorem 3 of Li, Morgan and Zaslavsky, J Am Stat Assoc 2018;113:390.
#[test]
fn overlap_weights_make_what_the_model_holds_alike() {
    let treated = of(spread_over(network())).who_was_treated;
    let disease = &treated.baseline[0];
    let (first, second): (f64, f64) = (1_700.0 / 1_880.0, 300.0 / 1_000.0);
    let expected = (first - second) / ((first * (1.0 - first) + second * (1.0 - second)) / 2.0).sqrt();
    assert!((disease.largest_before.unwrap() - expected).abs() < 1e-9);
    assert!(disease.largest_after.unwrap() < 1e-6, "{disease:?}");
    assert!(
        treated.baseline_in_words.contains("by more than 0.1 before weighting"),
        "{}",
        treated.baseline_in_words
    );
    let overlap = treated.overlap.estimated().unwrap();
    assert_eq!((overlap.first.cases, overlap.second.cases), (1_880, 1_000));
    assert_eq!(overlap.first.by_class.iter().sum::<usize>(), 1_880);
    // Two centres by two states: four chances of 80/480, 100/400, 400/440 and 1300/1560 at most,
    // each of which both arms have.
    assert_eq!(overlap.first.outside_shared_range + overlap.second.outside_shared_range, 0);
}

#[test]
fn complete_cases_only_leave_the_weighting_but_not_the_table() {
    let mut cases = spread_over(network());
    cases.iter_mut().step_by(10).for_each(|case| case.row.before.structural = None);
    let plan = planned(&[("/missing_covariates", json!("complete_cases"))]);
    let treated = report(cases, &plan, &Facts::default()).who_was_treated;
    let disease = &treated.baseline[0];
    assert_eq!(disease.missing.zero_fluoroscopy + disease.missing.conventional, 288);
    assert!(disease.largest_after.unwrap() < 1e-6, "{disease:?}");
    let overlap = treated.overlap.estimated().unwrap();
    assert_eq!(overlap.first.cases + overlap.second.cases, 2_592);
}

#[test]
fn arms_that_do_not_overlap_are_told_so() {
    let mut cases = spread_over(network());
    for case in &mut cases {
        let zero = case.row.intended == Strategy::Zero;
        case.row.before.structural =
            Some(if zero { StructuralDisease::Valve } else { StructuralDisease::None });
    }
    let treated = of(cases).who_was_treated;
    assert!(treated.overlap.estimated().is_none());
    assert!(treated.overlap_in_words.ends_with("the arms do not overlap."), "{}", treated.overlap_in_words);
    assert!(treated.baseline.iter().all(|line| line.largest_after.is_none()));
    assert!(treated.baseline_in_words.ends_with("there are no weights that make them alike."));
}

/// Two operators of one centre and one of another with the same code, counted by hand.
#[test]
fn a_case_stands_where_its_operator_stood() {
    let made = |centre: u8, operator: Option<&str>, prior, zero| {
        let mut case = base();
        case.row.centre = CentreCode::from_random(centre);
        case.course.operator = operator.map(|code| FieldValue::parse(code).unwrap());
        case.course.earlier_zero = prior;
        intend(&mut case, zero, !zero);
        case
    };
    let repeat = |case: ReportCase, times| std::iter::repeat_n(case, times);
    let learner = made(1, Some("O01"), Some(OperatorPriorZf::Zero), true);
    let trained = made(1, Some("O02"), Some(OperatorPriorZf::From25To99), true);
    let elsewhere = made(2, Some("O01"), None, true);
    let mut cases: Vec<ReportCase> = repeat(learner, 30)
        .chain(repeat(trained, 30))
        .chain(repeat(elsewhere, 12))
        .chain(repeat(made(1, None, None, true), 3))
        .chain(repeat(made(1, Some("O01"), None, false), 40))
        .collect();
    // The learner's fifth case needed X-ray.
    intend(&mut cases[4], true, true);
    let learning = of(in_order(cases)).who_was_treated.learning;
    let counted: Vec<(u32, Option<u32>, u32, u32, u32)> = learning
        .bands
        .iter()
        .map(|band| (band.from, band.to, band.x_ray_after_all.of, band.x_ray_after_all.count, band.operators))
        .collect();
    assert_eq!(
        counted,
        [
            (1, Some(10), 20, 1, 2),
            (11, Some(25), 17, 0, 2),
            (26, Some(50), 30, 0, 2),
            (51, Some(100), 5, 0, 1),
            (101, None, 0, 0, 0)
        ]
    );
    assert_eq!(learning.without_operator, 3);
    assert_eq!(
        learning.in_words,
        "37/72 (51 %) of the zero-fluoroscopy cases were among an operator's first 25. 3 name no operator."
    );
}
