//! Quartiles of dose tell how many doses lie below them, and are attacked as that.

use crate::summaries::{at, base, count, design, made};
use proptest::prelude::*;
use quietbeam_analysis::study::cohort::{CaseRow, Cohort};
use quietbeam_analysis::study::summary::{SafetySummary, SummaryError, TableCell, attack_again};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{FluoroUsed, Strategy as Intended};
use serde_json::json;

const ROW: &str = "air_kerma_mgy.conventional";

fn exposed(base: &CaseRow, centre: usize, air_kerma_mgy: f64) -> CaseRow {
    CaseRow {
        centre: CentreCode::from_random(centre as u8),
        intended: Intended::Conventional,
        fluoro_used: FluoroUsed::PlannedUsed,
        air_kerma_mgy: Some(air_kerma_mgy),
        kap_gy_cm2: None,
        ..base.clone()
    }
}

/// So many cases with X-ray a centre, of 10, 11, 12 … mGy, a tenth more from centre to centre.
fn doses(by_centre: [usize; 5]) -> Vec<CaseRow> {
    let base = base();
    let centres = by_centre.into_iter().enumerate();
    let cases = centres.flat_map(|(centre, cases)| (0..cases).map(move |at| (centre, at)));
    cases.map(|(centre, at)| exposed(&base, centre, 10.0 + at as f64 + 0.1 * centre as f64)).collect()
}

fn summary(rows: &[CaseRow]) -> SafetySummary {
    made(rows, &design(json!({ "tables": ["dose"] })))
}

/// The number of doses, and their quartiles as they are printed.
fn printed(by_centre: [usize; 5]) -> (Option<u64>, [String; 3]) {
    let mut summary = summary(&doses(by_centre));
    let cases = count(&summary, "dose", ROW, "cases");
    (
        cases,
        ["lower_quartile", "median", "upper_quartile"]
            .map(|column| at(&mut summary, "dose", ROW, column).text()),
    )
}

fn hidden() -> [String; 3] {
    ["not shown"; 3].map(str::to_owned)
}

/// Quartiles of ten doses a centre from numpy 2 (`percentile`, which is type 7): 12.2, 14.7 and 17.2.
#[test]
fn quartiles_of_enough_doses_are_printed() {
    assert_eq!(printed([10; 5]), (Some(50), ["12", "15", "17"].map(str::to_owned)));
}

/// Of 40 doses at most ten lie below the lower quartile, since (40 − 1) ÷ 4 is 9.75: as few as no count
/// may tell. The number of doses itself is shown.
#[test]
fn quartiles_with_few_doses_beyond_are_not() {
    assert_eq!(printed([8; 5]), (Some(40), hidden()));
}

/// Two centres have 60 of 72: they would know of the twelve others how many lie below.
#[test]
fn nor_quartiles_from_which_two_centres_read_the_others() {
    assert_eq!(printed([30, 30, 4, 4, 4]), (Some(72), hidden()));
}

/// The lower quartile of 40 doses is 11.85 mGy (numpy 2, `percentile`, which is type 7).
#[test]
fn a_quartile_told_all_the_same_is_refused_and_another_number_is_none() {
    let rows = doses([8; 5]);
    let cohort: Cohort = rows.iter().cloned().collect();
    let mut told = summary(&rows);
    for row in [ROW, "air_kerma_mgy.all"] {
        *at(&mut told, "dose", row, "lower_quartile") = TableCell::Quantity(12.0);
    }
    match attack_again(&cohort, &told, &[]) {
        Err(SummaryError::Refused(learnt)) => {
            let words = learnt.refused().next().unwrap().to_string();
            assert!(
                words.contains("air kerma below 1.150e1") && words.contains("a median or another rank"),
                "{words}"
            );
        }
        other => panic!("{other:?}"),
    }
    *at(&mut told, "dose", ROW, "lower_quartile") = TableCell::Quantity(13.0);
    assert!(matches!(attack_again(&cohort, &told, &[]), Err(SummaryError::EarlierDiffers { .. })));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever the doses, what is said of their ranks is true of them: the attack refuses what is not.
    #[test]
    fn what_quartiles_tell_is_true(doses in prop::collection::vec((0..5_usize, 0..3_i32, 1..1_000_u32), 40..200)) {
        let base = base();
        let dose = |(power, digits): (i32, u32)| f64::from(digits) / 100.0 * 10_f64.powi(power);
        let rows: Vec<CaseRow> = doses
            .into_iter()
            .map(|(centre, power, digits)| exposed(&base, centre, dose((power, digits))))
            .collect();
        summary(&rows);
    }
}
