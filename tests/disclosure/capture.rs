//! Eligible procedures beside those sent in: what a selective centre left out must be told, and not
//! of few patients. The counts are worked out by hand.

use crate::around::{Published, amid, line};
use crate::summaries::{at, count, design, network, tell};
use quietbeam_analysis::study::report::LogCounts;
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

/// Five centres with 240 cases each, all of one quarter and one group of procedures.
fn made(log: &[LogCounts], design: &SummaryDesign) -> SafetySummary {
    Published::default().compose(&amid(&network(120, 0), "spring", log, &[]), design)
}

fn all(summary: &SafetySummary) -> [Option<u64>; 5] {
    COLUMNS.map(|column| count(summary, CAPTURE, "all", column))
}

/// 5 × 260 eligible, 5 × 240 sent in.
#[test]
fn eligible_procedures_stand_beside_those_sent_in() {
    let log: Vec<LogCounts> = (0..5).map(|centre| line(centre, 260, 240)).collect();
    let mut summary = made(&log, &strict());
    assert_eq!(all(&summary), [1_300, 1_200, 100, 1_200, 0].map(Some));
    assert_eq!(at(&mut summary, CAPTURE, "all", "sent_in").text(), "1,200 (92.3 %)");
    let said = summary.capture_in_words().unwrap();
    assert_eq!(said, "Of 1,300 eligible procedures in signed screening logs, 1,200 (92.3 %) were sent in.");
    assert!(summary.notes.iter().any(|note| note.contains("perhaps only the good ones")));
}

/// A log that is not signed, or does not hold all cases sent in, tells nothing of its quarter.
#[test]
fn a_quarter_whose_log_does_not_account_for_it_stands_apart() {
    let log: Vec<LogCounts> = (0..5).map(|centre| line(centre, 260, 240)).collect();
    let unsigned = LogCounts { signed: false, ..log[4].clone() };
    for other in [Some(unsigned), Some(line(4, 239, 239)), None] {
        let log: Vec<LogCounts> = log[..4].iter().cloned().chain(other).collect();
        assert_eq!(all(&made(&log, &strict())), [1_040, 960, 80, 1_200, 240].map(Some));
    }
    let none = made(&[], &strict());
    assert_eq!(all(&none), [0, 0, 0, 1_200, 1_200].map(Some));
    assert_eq!(none.capture_in_words(), None);
}

/// Whoever sent nothing at all counts most.
#[test]
fn a_centre_that_sent_nothing_in_counts_among_the_eligible() {
    let mut log: Vec<LogCounts> = (0..5).map(|centre| line(centre, 240, 240)).collect();
    log.push(line(9, 300, 0));
    let summary = made(&log, &strict());
    assert_eq!(count(&summary, CAPTURE, "all", "cases"), Some(1_200));
    // What was not sent in is one centre's: nobody may work it out, least of all that centre's neighbours.
    assert_eq!(count(&summary, CAPTURE, "all", "not_sent_in"), None);
    assert_eq!(summary.centres.to_string(), "5", "only those with cases took part");
    let more: Vec<LogCounts> = log.iter().cloned().chain([line(10, 200, 0), line(11, 250, 0)]).collect();
    assert_eq!(all(&made(&more, &strict())), [1_950, 1_200, 750, 1_200, 0].map(Some));
}

/// Five not sent in are five patients; of a large network as a whole they may be told.
#[test]
fn a_few_procedures_that_were_not_sent_in_are_hidden_like_any_count() {
    let log: Vec<LogCounts> = (0..5).map(|centre| line(centre, 241, 240)).collect();
    let mut summary = made(&log, &strict());
    assert_eq!(count(&summary, CAPTURE, "all", "not_sent_in"), None);
    assert!(["eligible", "sent_in"].iter().any(|column| count(&summary, CAPTURE, "all", column).is_none()));
    assert_eq!(summary.capture_in_words(), None);
    assert_eq!(all(&made(&log, &two_tier())), [1_205, 1_200, 5, 1_200, 0].map(Some));
    // Told all the same, it is refused.
    for (column, told) in
        [("eligible", 1_205), ("sent_in", 1_200), ("not_sent_in", 5), ("cases", 1_200), ("without_log", 0)]
    {
        tell(&mut summary, (CAPTURE, "all", column), told);
    }
    let cohort = amid(&network(120, 0), "spring", &log, &[]);
    let refused = Published::default().refusal(&cohort, &summary).unwrap();
    assert!(refused.contains("without eligible procedures sent in"), "{refused}");
}

/// One summary, and a later one for which a single quarter more was signed: six eligible procedures.
#[test]
fn a_log_signed_later_tells_no_few_procedures() {
    let mut log: Vec<LogCounts> = (0..5).map(|centre| line(centre, 260, 240)).collect();
    let mut published = Published::default();
    let before = amid(&network(120, 0), "spring", &log, &[]);
    published.publish(&before, published.compose(&before, &strict()));
    // Three more centres, of two eligible procedures each and none sent in.
    log.extend((10..13).map(|centre| line(centre, 2, 0)));
    let now = amid(&network(120, 0), "summer", &log, &[]);
    let alone = Published::default().compose(&now, &strict());
    assert_eq!(count(&alone, CAPTURE, "all", "eligible"), Some(1_306), "harmless alone");
    let refused = published.refusal(&now, &alone).unwrap();
    assert!(refused.contains("what was added to eligible procedures"), "{refused}");
    assert_eq!(count(&published.compose(&now, &strict()), CAPTURE, "all", "eligible"), None);
}

/// A rest that is not what the counts beside it leave is no summary of these cases.
#[test]
fn a_forged_rest_is_no_summary() {
    let log: Vec<LogCounts> = (0..5).map(|centre| line(centre, 260, 240)).collect();
    let mut forged = made(&log, &strict());
    tell(&mut forged, (CAPTURE, "all", "not_sent_in"), 10);
    let cohort = amid(&network(120, 0), "spring", &log, &[]);
    let error = quietbeam_analysis::study::summary::attack_again(&cohort, &forged, &[]).unwrap_err();
    assert!(error.to_string().contains("does not say what its cases say now"), "{error}");
}

#[test]
fn a_centre_reads_its_own_capture_beside() {
    let log: Vec<LogCounts> = (0..5).map(|centre| line(centre, 260, 240)).collect();
    let summary = made(&log, &strict());
    let rows: Vec<_> =
        network(120, 0).into_iter().filter(|case| case.centre == CentreCode::from_random(2)).collect();
    let own = beside(&amid(&rows, "spring", &log[2..3], &[]), &summary).unwrap();
    let table = own.iter().find(|table| table.published.key == CAPTURE).unwrap();
    let last: Vec<String> = table.own.last().unwrap().iter().map(|cell| cell.unwrap().text()).collect();
    assert_eq!(last, ["260", "240 (92.3 %)", "20", "240", "0"]);
}
