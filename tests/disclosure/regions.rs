//! Regions: a line of the table for each, hidden where too few centres stand behind it, and safe
//! when a centre moves from one to another.

use crate::around::{Published, amid};
use crate::summaries::{count, design, network, tell};
use quietbeam_analysis::study::cohort::CaseRow;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::summary_design::SummaryDesign;
use serde_json::json;

const REGION: &str = "region";

fn strict() -> SummaryDesign {
    design(json!({ "tables": [REGION] }))
}

/// Ten centres of 48 cases each.
pub(crate) fn rows() -> Vec<CaseRow> {
    let mut rows = network(24, 0);
    let others: Vec<CaseRow> = rows
        .iter()
        .map(|case| {
            let number = (0..5).find(|number| CentreCode::from_random(*number) == case.centre).unwrap();
            CaseRow { centre: CentreCode::from_random(number + 5), ..case.clone() }
        })
        .collect();
    rows.extend(others);
    rows
}

const FOUR_AND_SIX: [(u8, &str); 10] = [
    (0, "North"),
    (1, "North"),
    (2, "North"),
    (3, "North"),
    (4, "South"),
    (5, "South"),
    (6, "South"),
    (7, "South"),
    (8, "South"),
    (9, "South"),
];

/// 4 × 48 and 6 × 48.
#[test]
fn each_region_has_its_line() {
    let cohort = amid(&rows(), "spring", &[], &FOUR_AND_SIX);
    let summary = Published::default().compose(&cohort, &strict());
    let cases = |row: &str| count(&summary, REGION, row, "cases");
    assert_eq!(["region.North", "region.South", "all"].map(cases), [192, 288, 480].map(Some));
    let json = serde_json::to_string(&summary).unwrap();
    assert!(!json.contains("S01") && !json.contains(&CentreCode::from_random(0).to_string()));
    assert!(summary.notes.iter().any(|note| note.contains("fewer than 3 centres")));
}

#[test]
fn a_region_of_two_centres_is_hidden_and_does_not_come_out_of_the_others() {
    let mut regions = FOUR_AND_SIX;
    (regions[8].1, regions[9].1) = ("West", "West");
    let cohort = amid(&rows(), "spring", &[], &regions);
    let mut summary = Published::default().compose(&cohort, &strict());
    assert_eq!(count(&summary, REGION, "region.West", "cases"), None);
    let hidden = ["region.North", "region.South", "all"]
        .into_iter()
        .filter(|row| count(&summary, REGION, row, "cases").is_none())
        .count();
    assert!(hidden > 0, "or the total would tell");
    for (row, cases) in [("region.North", 192), ("region.South", 192), ("all", 480)] {
        tell(&mut summary, (REGION, row, "cases"), cases);
    }
    let refused = Published::default().refusal(&cohort, &summary).unwrap();
    assert!(refused.contains("region: West"), "{refused}");
}

/// Centres without a region make a line of their own.
#[test]
fn no_region_is_one_too() {
    let cohort = amid(&rows(), "spring", &[], &FOUR_AND_SIX[..4]);
    let summary = Published::default().compose(&cohort, &strict());
    let table = summary.tables.iter().find(|table| table.key == REGION).unwrap();
    let keys: Vec<&str> = table.rows.iter().map(|row| row.key.as_str()).collect();
    assert_eq!(keys, ["region.North", "not_stated", "all"]);
}

/// A centre moved from South to North: what either gained or lost is that centre's 48 cases.
#[test]
fn a_centre_that_moved_is_not_found_by_subtraction() {
    let cohort = amid(&rows(), "spring", &[], &FOUR_AND_SIX);
    let mut published = Published::default();
    published.publish(&cohort, published.compose(&cohort, &strict()));
    let mut regions = FOUR_AND_SIX;
    regions[9].1 = "North";
    let later = amid(&rows(), "summer", &[], &regions);
    let alone = Published::default().compose(&later, &strict());
    assert_eq!(count(&alone, REGION, "region.North", "cases"), Some(240), "harmless alone");
    let refused = published.refusal(&later, &alone).unwrap();
    assert!(refused.contains("centres that moved or stayed alike"), "{refused}");
    let composed = published.compose(&later, &strict());
    let shown = |row: &str| count(&composed, REGION, row, "cases");
    assert_eq!(["region.North", "region.South"].map(shown), [None, None]);
    // Nobody moved: the same again may be told.
    let again = published.compose(&amid(&rows(), "summer", &[], &FOUR_AND_SIX), &strict());
    assert_eq!(count(&again, REGION, "region.North", "cases"), Some(192));
}
