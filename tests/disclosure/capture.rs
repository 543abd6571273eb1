//! Eligible procedures beside those sent in: what a selective centre left out must be told, and not
//! of few patients. The counts are worked out by hand.

use crate::around::{Published, amid, line};
use crate::regions::rows;
use crate::summaries::{at, count, design, tell};
use quietbeam_analysis::study::cohort::Cohort;
use quietbeam_analysis::study::screening_log::LogCounts;
use quietbeam_analysis::study::summary::{SafetySummary, beside};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::summary_design::SummaryDesign;
use serde_json::json;

const CAPTURE: &str = "capture";
const COLUMNS: [&str; 5] = ["eligible", "sent_in", "not_sent_in", "cases", "without_log"];

fn strict() -> SummaryDesign {
    design(json!({ "tables": [CAPTURE] }))
}

fn two_tier() -> SummaryDesign {
    design(json!({ "tables": [CAPTURE], "profile": "two_tier", "profile_reason": "rare harms must be told" }))
}

fn cohort(log: &[LogCounts]) -> Cohort {
    amid(&rows(), "spring", log, &[])
}

/// Ten centres with 48 cases each, all of one quarter and one group of procedures.
fn made(log: &[LogCounts], design: &SummaryDesign) -> SafetySummary {
    Published::default().compose(&cohort(log), design)
}

/// The signed log of each, with so many eligible procedures.
fn logs(eligible: u32) -> Vec<LogCounts> {
    (0..10).map(|centre| line(centre, eligible, 48)).collect()
}

fn all(summary: &SafetySummary) -> [Option<u64>; 5] {
    COLUMNS.map(|column| count(summary, CAPTURE, "all", column))
}

/// 10 × 52 eligible, 10 × 48 sent in.
#[test]
fn eligible_procedures_stand_beside_those_sent_in() {
    let mut summary = made(&logs(52), &strict());
    assert_eq!(all(&summary), [520, 480, 40, 480, 0].map(Some));
    assert_eq!(at(&mut summary, CAPTURE, "all", "sent_in").text(), "480 (92.3 %)");
    let said = summary.capture_in_words().unwrap();
    assert_eq!(said, "Of 520 eligible procedures in signed screening logs, 480 (92.3 %) were sent in.");
    assert!(summary.notes.iter().any(|note| note.contains("perhaps only the good ones")));
}

/// A log that is not signed, or does not hold all cases sent in, tells nothing of its quarter: four of
/// ten.
#[test]
fn a_quarter_whose_log_does_not_account_for_it_stands_apart() {
    let unsigned = |line: &LogCounts| LogCounts { signed: false, ..line.clone() };
    let signed = logs(52);
    let others: [Vec<LogCounts>; 3] = [
        signed[6..].iter().map(unsigned).collect(),
        (6..10).map(|centre| line(centre, 47, 47)).collect(),
        vec![],
    ];
    for others in others {
        let log = [signed[..6].to_vec(), others].concat();
        assert_eq!(all(&made(&log, &strict())), [312, 288, 24, 480, 192].map(Some));
    }
    let none = made(&[], &strict());
    assert_eq!(all(&none), [0, 0, 0, 480, 480].map(Some));
    assert_eq!(none.capture_in_words(), None);
}

/// Whoever sent nothing at all counts most. What one centre alone did not send in is its own.
#[test]
fn a_centre_that_sent_nothing_in_counts_among_the_eligible() {
    let with = |centres: std::ops::Range<u8>| -> Vec<LogCounts> {
        logs(48).into_iter().chain(centres.map(|centre| line(centre, 200, 0))).collect()
    };
    let summary = made(&with(20..21), &strict());
    assert_eq!(all(&summary), [None, Some(480), None, Some(480), Some(0)]);
    assert_eq!(summary.centres.to_string(), "10", "only those with cases took part");
    assert_eq!(all(&made(&with(20..23), &strict())), [1_080, 480, 600, 480, 0].map(Some));
}

/// Five not sent in are five patients.
#[test]
fn a_few_procedures_that_were_not_sent_in_are_hidden_like_any_count() {
    let log = [(0..5).map(|centre| line(centre, 49, 48)).collect(), logs(48)[5..].to_vec()].concat();
    let mut summary = made(&log, &strict());
    assert_eq!(all(&summary), [None, Some(480), None, Some(480), Some(0)]);
    assert_eq!(summary.capture_in_words(), None);
    // Nor do two tiers tell it: all cases are of one group, whose own five they would be.
    assert_eq!(count(&made(&log, &two_tier()), CAPTURE, "all", "not_sent_in"), None);
    // With the eligible told, it is refused.
    tell(&mut summary, (CAPTURE, "all", "eligible"), 485);
    let refused = Published::default().refusal(&cohort(&log), &summary).unwrap();
    assert!(refused.contains("eligible procedures not sent in"), "{refused}");
}

/// A later summary for which three quarters more were signed, of two eligible procedures each.
#[test]
fn a_log_signed_later_tells_no_few_procedures() {
    let mut published = Published::default();
    let before = cohort(&logs(52));
    published.publish(&before, published.compose(&before, &strict()));
    let log: Vec<LogCounts> = logs(52).into_iter().chain((20..23).map(|centre| line(centre, 2, 0))).collect();
    let now = amid(&rows(), "summer", &log, &[]);
    let alone = Published::default().compose(&now, &strict());
    assert_eq!(count(&alone, CAPTURE, "all", "eligible"), Some(526), "harmless alone");
    let refused = published.refusal(&now, &alone).unwrap();
    assert!(refused.contains("what was added to eligible procedures"), "{refused}");
    assert_eq!(count(&published.compose(&now, &strict()), CAPTURE, "all", "eligible"), None);
}

#[test]
fn a_centre_reads_its_own_capture_beside() {
    let summary = made(&logs(52), &strict());
    let own: Vec<_> = rows().into_iter().filter(|case| case.centre == CentreCode::from_random(2)).collect();
    let own = beside(&amid(&own, "spring", &logs(52)[2..3], &[]), &summary).unwrap();
    let table = own.iter().find(|table| table.published.key == CAPTURE).unwrap();
    let last: Vec<String> = table.own.last().unwrap().iter().map(|cell| cell.unwrap().text()).collect();
    assert_eq!(last, ["52", "48 (92 %)", "4", "48", "0"]);
}
