//! Whole safety summaries, from cases to what is shown, by profile and in a series.

use crate::sample::zero_fluoroscopy_case;
use quietbeam_analysis::study::cohort::{CaseRow, Cohort};
use quietbeam_analysis::study::published::Published;
use quietbeam_analysis::study::summary::{
    Asking, Earlier, NamedTable, SafetySummary, SummaryError, TableBeside, TableCell, attack_again, beside,
    summarise,
};
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::entries::StrictJson;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::summary_design::SummaryDesign;
use quietbeam_schema::vocabulary::{
    AcuteSuccess, ComplicationClass, DetectedBy, FluoroUsed, HarmTier, ProcedureType, Strategy,
};
use serde_json::json;

/// The sample case, without X-ray and without harm.
pub(crate) fn base() -> CaseRow {
    let json: StrictJson = serde_json::from_value(zero_fluoroscopy_case()).unwrap();
    let Ok(checked) = CaseForm::from_json(json).check(Quarter::new(2026, 4).unwrap()) else {
        panic!("the sample case is refused")
    };
    CaseRow::read("S01".parse().unwrap(), &checked.record)
}

pub(crate) fn harmed(case: &CaseRow, class: ComplicationClass) -> CaseRow {
    let mut case = case.clone();
    case.major_within_30_days = Some(true);
    case.harms.major = 1;
    case.seen = case.seen.with(HarmTier::Major, class, Some(DetectedBy::ClinicalSign));
    case
}

/// Five centres, each with as many cases of both strategies, three vascular complications in each
/// arm of each centre, and some embolic ones without X-ray, one a centre.
pub(crate) fn network(cases_an_arm: usize, embolic: usize) -> Vec<CaseRow> {
    let base = base();
    let mut rows = Vec::new();
    for centre in 0..5_u8 {
        for intended in [Strategy::Zero, Strategy::Conventional] {
            let mut plain = CaseRow { centre: CentreCode::from_random(centre), intended, ..base.clone() };
            if intended == Strategy::Conventional {
                plain.fluoro_used = FluoroUsed::PlannedUsed;
                plain.air_kerma_mgy = Some(40.0 + f64::from(centre));
            }
            let mut arm = vec![plain.clone(); cases_an_arm];
            arm[..3].fill(harmed(&plain, ComplicationClass::Vascular));
            if intended == Strategy::Zero && usize::from(centre) < embolic {
                arm[3] = harmed(&plain, ComplicationClass::Embolic);
            }
            rows.extend(arm);
        }
    }
    rows
}

pub(crate) fn design(json: serde_json::Value) -> SummaryDesign {
    serde_json::from_value(json).unwrap()
}

fn strict(tables: &[&str]) -> SummaryDesign {
    design(json!({ "tables": tables }))
}

fn two_tier(tables: &[&str]) -> SummaryDesign {
    design(json!({ "tables": tables, "profile": "two_tier", "profile_reason": "rare harms must be told" }))
}

pub(crate) fn made(rows: &[CaseRow], design: &SummaryDesign) -> SafetySummary {
    let cohort: Cohort = rows.iter().cloned().collect();
    let composed = summarise(Asking::of(&cohort, design), &[]).unwrap();
    assert!(composed.learnt.passes());
    // Whoever approves it attacks it anew, and must find what its composer read.
    assert_eq!(attack_again(&cohort, &composed.summary, &[]).unwrap(), composed.learnt);
    composed.summary
}

pub(crate) fn table<'s>(summary: &'s SafetySummary, key: &str) -> &'s NamedTable {
    summary.tables.iter().find(|table| table.key == key).unwrap()
}

pub(crate) fn at<'s>(
    summary: &'s mut SafetySummary,
    key: &str,
    row: &str,
    column: &str,
) -> &'s mut TableCell {
    let table = summary.tables.iter_mut().find(|table| table.key == key).unwrap();
    let column = table.columns.iter().position(|named| named.key == column).unwrap();
    let row = table.rows.iter_mut().find(|named| named.key == row).unwrap();
    &mut row.cells[column]
}

pub(crate) fn count(summary: &SafetySummary, key: &str, row: &str, column: &str) -> Option<u64> {
    at(&mut summary.clone(), key, row, column).count()
}

/// Tells what a summary hides.
pub(crate) fn tell(summary: &mut SafetySummary, (key, row, column): (&str, &str, &str), count: u64) {
    match at(summary, key, row, column) {
        TableCell::Count(told) => *told = Published::Shown(count),
        TableCell::Part(part) => part.count = Published::Shown(count),
        other => panic!("no count there: {other:?}"),
    }
}

/// Hides what a summary tells.
pub(crate) fn hide(summary: &mut SafetySummary, (key, row, column): (&str, &str, &str)) {
    match at(summary, key, row, column) {
        TableCell::Count(told) => *told = Published::Hidden,
        TableCell::Part(part) => (part.count, part.share_of_cases) = (Published::Hidden, None),
        other => panic!("no count there: {other:?}"),
    }
}

/// Why a summary cannot be published beside others.
fn refusal(summary: &SafetySummary, rows: &[CaseRow], earlier: &[Earlier<'_>]) -> String {
    let cohort: Cohort = rows.iter().cloned().collect();
    match attack_again(&cohort, summary, earlier) {
        Err(SummaryError::Refused(learnt)) => {
            learnt.refused().map(|refused| refused.to_string()).collect::<Vec<_>>().join("\n")
        }
        other => panic!("{other:?}"),
    }
}

const CLASSES: &str = "complication_class";

/// The same 1,200 cases with 3 embolic and 30 vascular complications under both profiles.
#[test]
fn two_tiers_tell_rare_harms_of_a_large_network_and_strict_does_not() {
    let rows = network(120, 3);
    let [open, closed] = [two_tier(&[CLASSES]), strict(&[CLASSES])].map(|design| made(&rows, &design));
    let of = |summary: &SafetySummary, row: &str| count(summary, CLASSES, row, "major");
    assert_eq!(["embolic", "vascular", "any"].map(|row| of(&open, row)), [Some(3), Some(30), Some(33)]);
    assert_eq!(of(&closed, "embolic"), None);
    assert!(of(&closed, "vascular").is_none() || of(&closed, "any").is_none(), "33 less 30");
    // Nobody had a conduction block: both say so.
    assert_eq!([of(&open, "conduction"), of(&closed, "conduction")], [Some(0), Some(0)]);
    assert_eq!(
        (open.disclosure.profile.as_str(), closed.disclosure.profile.as_str()),
        ("two_tier", "strict")
    );
}

/// 960 cases are no large network: two tiers then hide what strict hides.
#[test]
fn two_tiers_show_no_more_of_a_small_network() {
    let rows = network(96, 3);
    let open = made(&rows, &two_tier(&[CLASSES]));
    assert_eq!(table(&open, CLASSES), table(&made(&rows, &strict(&[CLASSES])), CLASSES));
    assert_eq!(count(&open, CLASSES, "embolic", "major"), None);
}

const EVERY: [&str; 9] =
    [CLASSES, "detection_route", "year", "region", "dose", "staff", "staff_dose", "completeness", "capture"];

#[test]
fn every_table_together_passes_and_the_same_cases_give_the_same_bytes() {
    let mut rows = network(120, 3);
    for (number, case) in rows.iter_mut().enumerate() {
        case.period = Quarter::new(2024 + (number % 2) as u16, 1).unwrap();
    }
    let first = made(&rows, &strict(&EVERY));
    assert_eq!(first.all_tables().len(), 10);
    let json = serde_json::to_string(&first).unwrap();
    let read: SafetySummary = serde_json::from_str(&json).unwrap();
    assert_eq!((&read, serde_json::to_string(&read).unwrap()), (&first, json.clone()));
    rows.reverse();
    assert_eq!(serde_json::to_string(&made(&rows, &strict(&EVERY))).unwrap(), json);
    for cell in first.all_tables().iter().flat_map(|table| &table.rows).flat_map(|row| &row.cells) {
        assert!(cell.count().is_none_or(|count| count == 0 || count >= 11), "{cell:?}");
    }
    // 600 with X-ray, doses 40 to 44, 120 each: quartiles by hand 41, 42, 43.
    let dose = |column| at(&mut first.clone(), "dose", "air_kerma_mgy.conventional", column).text();
    assert_eq!(["cases", "lower_quartile", "median", "upper_quartile"].map(dose), ["600", "41", "42", "43"]);
    assert_eq!(count(&first, "year", "2024", "cases"), Some(600));
}

/// One centre's 240 cases of 1,200, in its places of every table; nothing of the others.
#[test]
fn a_centre_reads_its_own_counts_beside_the_published_ones() {
    let mut rows = network(120, 3);
    rows.iter_mut().for_each(|case| case.period = Quarter::new(2024, 1).unwrap());
    // The last centre began a year later.
    let last = CentreCode::from_random(4);
    rows.iter_mut()
        .filter(|case| case.centre == last)
        .for_each(|case| case.period = Quarter::new(2025, 1).unwrap());
    let summary = made(&rows, &two_tier(&EVERY));
    let of = |centre: CentreCode| {
        let own: Cohort = rows.iter().filter(|case| case.centre == centre).cloned().collect();
        beside(&own, &summary).unwrap()
    };
    let cell = |tables: &[TableBeside], key: &str, row: &str, column: &str| {
        let table = tables.iter().find(|table| table.published.key == key).unwrap();
        let row = table.published.rows.iter().position(|named| named.key == row).unwrap();
        let column = table.published.columns.iter().position(|named| named.key == column).unwrap();
        table.own[row][column].map(|cell| cell.text())
    };
    let some = |text: &str| Some(text.to_owned());
    let first = of(CentreCode::from_random(0));
    assert_eq!(first.iter().map(|table| table.published.clone()).collect::<Vec<_>>(), summary.all_tables());
    assert_eq!(cell(&first, "outcomes", "all.zero", "cases"), some("120"));
    // Three vascular in each arm and one embolic without X-ray; 4 of 120 is 3.33 per cent.
    assert_eq!(cell(&first, "outcomes", "all.zero", "major"), some("4 (3 %)"));
    assert_eq!(cell(&first, CLASSES, "embolic", "major"), some("1 (0.4 %)"), "1 of 240");
    assert_eq!(cell(&first, "dose", "air_kerma_mgy.conventional", "median"), some("40"));
    assert_eq!(cell(&first, "year", "2024", "cases"), some("240"));
    assert_eq!(cell(&first, "year", "2025", "cases"), None, "none of its cases");
    let late = of(last);
    assert_eq!(
        [cell(&late, "year", "2024", "cases"), cell(&late, "year", "2025", "cases")],
        [None, some("240")]
    );
    assert_eq!(cell(&late, CLASSES, "embolic", "major"), some("0"));
    // A centre without a case of the cut.
    assert_eq!(cell(&of(CentreCode::from_random(9)), "outcomes", "all.all", "cases"), some("0"));
}

/// 140 cases of seven centres, of which next to nothing can be shown: a summary that hides it all
/// tells nobody anything, and must not be refused.
#[test]
fn a_small_network_publishes_what_little_it_can() {
    const CASES: [[usize; 3]; 7] =
        [[5, 19, 12], [3, 13, 6], [3, 11, 6], [4, 16, 9], [1, 4, 3], [2, 8, 3], [1, 5, 3]];
    let kinds = [
        ProcedureType::AfParoxysmalFirst,
        ProcedureType::Avnrt,
        ProcedureType::CtiFlutter,
        ProcedureType::Pvc,
    ];
    let mut rows = Vec::new();
    for (centre, years) in CASES.iter().enumerate() {
        for (year, cases) in years.iter().enumerate() {
            for at in 0..*cases {
                let mut case = CaseRow { centre: CentreCode::from_random(centre as u8), ..base() };
                case.period = Quarter::new(2024 + year as u16, 1).unwrap();
                case.procedure = kinds[(at * at + centre) % kinds.len()];
                if at % 2 == 1 {
                    case.intended = Strategy::Conventional;
                    case.fluoro_used = FluoroUsed::PlannedUsed;
                    case.air_kerma_mgy = Some(40.0 + at as f64);
                }
                if at == 7 || at == 2 && centre == 3 {
                    case.acute_success = Some(AcuteSuccess::No);
                }
                rows.push(case);
            }
        }
    }
    made(&rows, &two_tier(&EVERY));
}

#[test]
fn only_the_years_that_were_asked_for_are_counted() {
    let mut rows = network(120, 0);
    rows[..300].iter_mut().for_each(|case| case.period = Quarter::new(2023, 2).unwrap());
    let chosen = design(json!({ "first_year": 2023, "last_year": 2023, "tables": ["year"] }));
    let summary = made(&rows, &chosen);
    assert_eq!((summary.first_year, summary.last_year), (Some(2023), Some(2023)));
    // Two centres alone: nothing of them.
    assert_eq!(summary.centres, Published::Hidden);
}

/// First release that looks safe: only the small count of a column is hidden.
#[test]
fn a_small_class_comes_out_of_the_others() {
    let rows = network(120, 3);
    let mut summary = made(&rows, &strict(&[CLASSES]));
    tell(&mut summary, (CLASSES, "vascular", "major"), 30);
    tell(&mut summary, (CLASSES, "any", "major"), 33);
    assert_eq!(count(&summary, CLASSES, "embolic", "major"), None, "it looks safe");
    let refused = refusal(&summary, &rows, &[]);
    // Every major case had a kind: what vascular leaves of 33 are the embolic ones.
    let three = "could work out “major complications, all cases, all strategies without Vascular (Major)";
    assert!(refused.contains(three), "{refused}");
}

/// Second: a year with few cases is hidden, and the years together are not.
#[test]
fn a_small_year_comes_out_of_all_years() {
    let mut rows = network(120, 0);
    for centre in 0..5 {
        rows[centre * 240 + 10].period = Quarter::new(2023, 1).unwrap();
    }
    let mut summary = made(&rows, &strict(&["year"]));
    assert_eq!(count(&summary, "year", "2023", "cases"), None);
    for (key, row, cases) in [("year", "all", 1_200), ("year", "2025", 1_195), ("year", "2024", 0)] {
        tell(&mut summary, (key, row, "cases"), cases);
    }
    let refused = refusal(&summary, &rows, &[]);
    assert!(refused.contains("could work out “cases, 2023, all strategies”"), "{refused}");
}

/// Third: harmless alone, and with an earlier one it tells of three patients. The requirement's own
/// figures: 31 events, then 34 with twenty more patients.
#[test]
fn a_nested_series_does_not_tell_what_was_added() {
    for (chosen, an_arm) in [(strict(&[]), 50), (two_tier(&[]), 120)] {
        let mut rows = network(an_arm, 1);
        let before: Cohort = rows.iter().cloned().collect();
        let first = summarise(Asking::of(&before, &chosen), &[]).unwrap().summary;
        let all = |summary: &SafetySummary| summary.lines.last().unwrap().major.count;
        assert_eq!(all(&first), Published::Shown(31));
        let plain = rows[20].clone();
        for number in 0..20 {
            let case = CaseRow { centre: CentreCode::from_random(number % 5), ..plain.clone() };
            rows.push(if number < 3 { harmed(&case, ComplicationClass::Vascular) } else { case });
        }
        let now: Cohort = rows.iter().cloned().collect();
        let alone = summarise(Asking::of(&now, &chosen), &[]).unwrap().summary;
        assert_eq!(all(&alone), Published::Shown(34), "harmless alone");
        let earlier = || Earlier { name: "safety summary 1".to_owned(), cohort: &before, summary: &first };
        let refused = refusal(&alone, &rows, &[earlier()]);
        assert!(refused.contains("what was added to major complications"), "{refused}");
        let composed = summarise(Asking::of(&now, &chosen), &[earlier()]).unwrap();
        assert_eq!(all(&composed.summary), Published::Hidden);
        assert!(attack_again(&now, &composed.summary, &[earlier()]).is_ok());
    }
}

#[test]
fn an_earlier_summary_that_says_otherwise_than_its_cases_is_named() {
    let rows = network(50, 0);
    let cohort: Cohort = rows.iter().cloned().collect();
    let mut forged = made(&rows, &strict(&[]));
    forged.lines.last_mut().unwrap().cases = Published::Shown(501);
    let earlier = Earlier { name: "safety summary 1".to_owned(), cohort: &cohort, summary: &forged };
    let error = summarise(Asking::of(&cohort, &strict(&[])), &[earlier]).unwrap_err();
    assert_eq!(error.to_string(), "safety summary 1 does not say what its cases say now");
}
