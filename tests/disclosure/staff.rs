//! What badges of staff read: a reading of one nurse of a small centre is that person's.

use crate::summaries::{at, base, count, design, made};
use proptest::prelude::*;
use quietbeam_analysis::study::cohort::{CaseRow, Cohort};
use quietbeam_analysis::study::staff::{Badges, LIMITS, NO_JUDGEMENT};
use quietbeam_analysis::study::summary::{
    Asking, Earlier, SafetySummary, SummaryError, TableCell, attack_again, summarise,
};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::{BadgePosition, FluoroUsed, Strategy as Intended};
use serde_json::json;

const STAFF_DOSE: &str = "staff_dose";
const NURSE: &str = "nurse.over_apron";

fn exposed(base: &CaseRow, centre: usize, position: Option<BadgePosition>) -> CaseRow {
    let mut case = CaseRow {
        centre: CentreCode::from_random(centre as u8),
        intended: Intended::Conventional,
        fluoro_used: FluoroUsed::PlannedUsed,
        air_kerma_mgy: Some(50.0),
        ..base.clone()
    };
    case.badges = Badges::new([None; 4], position);
    case
}

/// So many cases a centre in which the nurse's badge over the apron read 10, 11, 12 … µSv, a tenth more from
/// centre to centre, and twenty a centre without a reading.
fn readings(by_centre: [usize; 5]) -> Vec<CaseRow> {
    let base = base();
    let mut rows = Vec::new();
    for (centre, readings) in by_centre.into_iter().enumerate() {
        let case = exposed(&base, centre, Some(BadgePosition::OverApron));
        rows.extend(vec![case.clone(); 20]);
        for at in 0..readings {
            let mut case = case.clone();
            let reading = Some(10.0 + at as f32 + 0.1 * centre as f32);
            case.badges = Badges::new([None, None, reading, None], case.badges.position());
            rows.push(case);
        }
    }
    rows
}

fn summary(rows: &[CaseRow]) -> SafetySummary {
    made(rows, &design(json!({ "tables": [STAFF_DOSE] })))
}

/// The cases with a reading, and the quartiles as they are printed.
fn printed(summary: &mut SafetySummary, row: &str) -> (Option<u64>, [String; 3]) {
    let quartiles = ["lower_quartile", "median", "upper_quartile"];
    (
        count(summary, STAFF_DOSE, row, "cases"),
        quartiles.map(|column| at(summary, STAFF_DOSE, row, column).text()),
    )
}

fn hidden() -> [String; 3] {
    ["not shown"; 3].map(str::to_owned)
}

/// Of no reading there is no quartile.
fn of_none() -> [String; 3] {
    ["–"; 3].map(str::to_owned)
}

/// Quartiles of ten readings a centre from numpy 2 (`percentile`, which is type 7): 12.2, 14.7 and 17.2.
#[test]
fn enough_readings_of_a_role_have_their_quartiles() {
    let mut summary = summary(&readings([10; 5]));
    assert_eq!(printed(&mut summary, NURSE), (Some(50), ["12", "15", "17"].map(str::to_owned)));
    assert_eq!(printed(&mut summary, "operator.over_apron"), (Some(0), of_none()));
    // Published limits stand beside it, and that they judge nobody.
    let notes = summary.notes.join("\n");
    assert!(LIMITS.iter().all(|limit| notes.contains(limit.what) && notes.contains(limit.source)), "{notes}");
    assert!(notes.ends_with(NO_JUDGEMENT), "{notes}");
}

#[test]
fn badges_over_and_under_an_apron_are_never_put_together() {
    let mut rows = readings([10; 5]);
    for case in rows.iter_mut().step_by(2) {
        case.badges = Badges::new(case.badges.readings(), Some(BadgePosition::UnderApron));
    }
    let mut summary = summary(&rows);
    let apart = ["nurse.over_apron", "nurse.under_apron"].map(|row| printed(&mut summary, row).0);
    assert_eq!(apart, [Some(25), Some(25)]);
}

/// Cases without X-ray have no dose to tell of, whatever stands in them.
#[test]
fn a_reading_without_x_ray_is_not_counted() {
    let mut rows = readings([10; 5]);
    for case in &mut rows {
        (case.fluoro_used, case.intended) = (FluoroUsed::None, Intended::Zero);
    }
    assert_eq!(printed(&mut summary(&rows), NURSE), (Some(0), of_none()));
}

#[test]
fn readings_of_two_centres_are_of_too_few() {
    assert_eq!(printed(&mut summary(&readings([40, 40, 0, 0, 0])), NURSE), (None, hidden()));
}

/// The second largest centre knows its own 6 and reads the largest one's 90 to within 10 per cent.
#[test]
fn nor_may_one_centre_have_nearly_all() {
    assert_eq!(printed(&mut summary(&readings([90, 6, 3, 3, 0])), NURSE), (None, hidden()));
}

/// Two tiers tell counts of a large network that nearly all are one centre's, but no dose that is: 60 readings
/// of the three smaller centres are less than a tenth of the largest one's 900.
#[test]
fn two_tiers_tell_no_dose_that_is_nearly_one_centres() {
    let two_tier =
        json!({ "tables": [STAFF_DOSE], "profile": "two_tier", "profile_reason": "rare harms must be told" });
    let mut dominated = made(&readings([900, 40, 20, 20, 20]), &design(two_tier.clone()));
    assert_eq!(printed(&mut dominated, NURSE), (Some(1_000), hidden()));
    let mut even = made(&readings([240, 200, 200, 180, 180]), &design(two_tier));
    let (read, quartiles) = printed(&mut even, NURSE);
    assert_eq!(read, Some(1_000));
    assert_ne!(quartiles, hidden());
}

/// The lower quartile of 40 readings of 8 a centre is 11.85 µSv (numpy 2, `percentile`, which is type 7):
/// at most ten of them lie below it.
#[test]
fn the_attack_knows_what_a_printed_quartile_tells() {
    let rows = readings([8; 5]);
    let cohort: Cohort = rows.iter().cloned().collect();
    let mut told = summary(&rows);
    assert_eq!(printed(&mut told, NURSE), (Some(40), hidden()));
    *at(&mut told, STAFF_DOSE, NURSE, "lower_quartile") = TableCell::Quantity(12.0);
    match attack_again(&cohort, &told, &[]) {
        Err(SummaryError::Refused(learnt)) => {
            let words = learnt.refused().next().unwrap().to_string();
            assert!(words.contains("badge reading (Nurse, over the apron) below 1.150e1"), "{words}");
        }
        other => panic!("{other:?}"),
    }
}

/// A summary made before the table was known has no such key, and reads as it did.
#[test]
fn it_comes_after_a_summary_without_it() {
    let rows = readings([10; 5]);
    let cohort: Cohort = rows.iter().cloned().collect();
    let before = made(&rows, &design(json!({ "tables": ["staff"] })));
    let before: SafetySummary = serde_json::from_str(&serde_json::to_string(&before).unwrap()).unwrap();
    let earlier = [Earlier { name: "summary 1".to_owned(), cohort: &cohort, summary: &before }];
    let with_doses = design(json!({ "tables": ["staff", STAFF_DOSE] }));
    let mut composed = summarise(Asking::of(&cohort, &with_doses), &earlier).unwrap();
    assert_eq!(printed(&mut composed.summary, NURSE).0, Some(50));
    let earlier =
        [earlier, [Earlier { name: "summary 2".to_owned(), cohort: &cohort, summary: &composed.summary }]];
    let earlier: Vec<Earlier<'_>> = earlier.into_iter().flatten().collect();
    assert!(attack_again(&cohort, &composed.summary, &earlier).is_ok());
}

/// Centre and badge place; whether the beam was on; what the four badges read.
type Drawn = ((usize, Option<bool>), bool, [Option<u16>; 4]);

fn any_case() -> impl Strategy<Value = Drawn> {
    let reading = || prop::option::weighted(0.7, 0..60_u16);
    let badges = [reading(), reading(), reading(), reading()];
    ((0..5_usize, prop::option::weighted(0.9, any::<bool>())), prop::bool::weighted(0.8), badges)
}

fn drawn(base: &CaseRow, ((centre, over), beam_on, readings): Drawn) -> CaseRow {
    let place = |over| if over { BadgePosition::OverApron } else { BadgePosition::UnderApron };
    let mut case = exposed(base, centre, over.map(place));
    if !beam_on {
        case.fluoro_used = FluoroUsed::None;
    }
    let readings = readings.map(|reading| reading.map(|usv| f32::from(usv) / 4.0));
    case.badges = Badges::new(readings, case.badges.position());
    case
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// No row counts more cases than had X-ray, nor do rows of different places together, and whatever
    /// quartiles tell is true: the attack refuses what is not.
    #[test]
    fn readings_are_of_cases_with_x_ray(cases in prop::collection::vec(any_case(), 60..250)) {
        let base = base();
        let rows: Vec<CaseRow> = cases.into_iter().map(|case| drawn(&base, case)).collect();
        let summary = summary(&rows);
        let with_x_ray = rows.iter().filter(|case| case.beam_on()).count() as u64;
        for role in ["operator", "second", "nurse", "anaesthesia"] {
            let rows = ["over_apron", "under_apron", "not_stated"].map(|place| format!("{role}.{place}"));
            let read: u64 = rows.iter().filter_map(|row| count(&summary, STAFF_DOSE, row, "cases")).sum();
            prop_assert!(read <= with_x_ray, "{role}: {read} of {with_x_ray}");
        }
    }
}
