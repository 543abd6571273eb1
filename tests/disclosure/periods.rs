//! Summaries of different quarters: what one leaves of another is the counts of a stretch of time,
//! whether two summaries leave it or several together.

use crate::around::{Published, amid};
use crate::summaries::{base, count, design, harmed, hide, tell};
use proptest::prelude::*;
use quietbeam_analysis::study::cohort::{CaseRow, Cohort};
use quietbeam_analysis::study::published::Published as Told;
use quietbeam_analysis::study::summary::SafetySummary;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::summary_design::SummaryDesign;
use quietbeam_schema::vocabulary::ComplicationClass;
use serde_json::json;

/// From one quarter of 2025 to another.
fn quarters(first: u8, last: u8) -> SummaryDesign {
    design(json!({ "first_quarter": format!("2025Q{first}"), "last_quarter": format!("2025Q{last}") }))
}

/// Five centres; for each quarter of 2025 so many cases, and so many of them with major harm.
fn rows(of_quarters: &[(usize, usize)]) -> Vec<CaseRow> {
    let mut rows = Vec::new();
    for (quarter, (cases, major)) in of_quarters.iter().enumerate() {
        for number in 0..*cases {
            let period = Quarter::new(2025, quarter as u8 + 1).unwrap();
            let plain = CaseRow { centre: CentreCode::from_random((number % 5) as u8), period, ..base() };
            rows.push(if number < *major { harmed(&plain, ComplicationClass::Vascular) } else { plain });
        }
    }
    rows
}

fn cut(of_quarters: &[(usize, usize)], name: &str) -> Cohort {
    amid(&rows(of_quarters), name, &[], &[])
}

fn all(summary: &SafetySummary) -> [Option<u64>; 2] {
    let line = summary.lines.last().unwrap();
    [line.cases, line.major.count].map(|count| match count {
        Told::Shown(count) => Some(count),
        Told::Hidden => None,
    })
}

#[test]
fn only_the_quarters_that_were_asked_for_are_counted() {
    let cohort = cut(&[(100, 20), (110, 20), (120, 20), (130, 20)], "winter");
    let of = |first, last| all(&Published::default().compose(&cohort, &quarters(first, last)));
    assert_eq!(of(2, 3), [Some(230), Some(40)]);
    assert_eq!(of(4, 4), [Some(130), Some(20)]);
    assert_eq!(of(1, 4), [Some(460), Some(80)]);
}

/// Two releases of one cut whose periods differ by a quarter with five cases.
#[test]
fn one_small_quarter_more_is_refused() {
    let cohort = cut(&[(200, 20), (200, 20), (200, 20), (5, 0)], "winter");
    for (one, other) in [((1, 3), (1, 4)), ((1, 4), (1, 3))] {
        let mut published = Published::default();
        let first = published.compose(&cohort, &quarters(one.0, one.1));
        let second = published.compose(&cohort, &quarters(other.0, other.1));
        assert!(all(&first)[0].is_some() && all(&second)[0].is_some(), "each is harmless alone");
        published.publish(&cohort, first);
        let refused = published.refusal(&cohort, &second).unwrap();
        assert!(refused.contains("what was added to cases") || refused.contains("2025Q4"), "{refused}");
        assert_eq!(all(&published.compose(&cohort, &quarters(other.0, other.1)))[0], None);
    }
}

/// Three quarters with 14, 14 and 5 events: 33 of all and 14 of one leave 19, which is nothing small;
/// with 14 of another they leave 5 of the third, which no summary ever was of.
#[test]
fn what_several_summaries_leave_together_is_found() {
    let cohort = cut(&[(100, 14), (100, 14), (100, 5)], "winter");
    let periods = [(1, 3), (1, 1), (2, 2)];
    for order in [[0, 1, 2], [0, 2, 1], [1, 2, 0], [2, 1, 0]] {
        let mut published = Published::default();
        for at in order.iter().take(2) {
            let (first, last) = periods[*at];
            let summary = published.compose(&cohort, &quarters(first, last));
            assert!(all(&summary)[1].is_some(), "two of them leave nothing small: {order:?}");
            published.publish(&cohort, summary);
        }
        let (first, last) = periods[order[2]];
        let alone = Published::default().compose(&cohort, &quarters(first, last));
        let refused = published.refusal(&cohort, &alone).unwrap();
        assert!(
            refused.contains("major complications") && refused.contains("2025Q3"),
            "{order:?}: {refused}"
        );
        let composed = published.compose(&cohort, &quarters(first, last));
        assert_eq!(all(&composed), [all(&alone)[0], None], "the cases themselves may be told");
    }
}

/// The same cut in two summaries counts the same in both, and everyone knows it: one shows what the
/// other hides.
#[test]
fn two_summaries_of_one_cut_are_read_together() {
    let mut rows = rows(&[(600, 30)]);
    rows.iter_mut().rev().take(3).for_each(|case| *case = harmed(case, ComplicationClass::Embolic));
    let cohort = amid(&rows, "winter", &[], &[]);
    let chosen = design(json!({ "tables": ["complication_class"] }));
    let class = |row| ("complication_class", row, "major");
    let [mut one, mut other] = [0, 1].map(|_| Published::default().compose(&cohort, &chosen));
    let major = |summary: &mut SafetySummary, told: Told| {
        for line in summary.lines.iter_mut().filter(|line| line.cases == Told::Shown(600)) {
            (line.major.count, line.major.share_of_cases) = (told, None);
        }
    };
    major(&mut one, Told::Hidden);
    hide(&mut one, class("any"));
    tell(&mut one, class("vascular"), 30);
    major(&mut other, Told::Shown(33));
    tell(&mut other, class("any"), 33);
    hide(&mut other, class("vascular"));
    let alone = Published::default();
    assert_eq!([&one, &other].map(|summary| alone.refusal(&cohort, summary)), [None, None]);
    let mut published = Published::default();
    published.publish(&cohort, other);
    let refused = published.refusal(&cohort, &one).unwrap();
    assert!(refused.contains("Embolic (Major)") || refused.contains("without Vascular"), "{refused}");
    assert_eq!(count(&one, "complication_class", "embolic", "major"), None, "it looks safe");
}

/// The earlier summary told of vascular complications and hid all of them together; the new one has no
/// such table, and would tell all: what it leaves is three embolic ones.
#[test]
fn a_summary_without_the_table_that_it_completes_hides_what_would() {
    let mut rows = rows(&[(600, 30)]);
    rows.iter_mut().rev().take(3).for_each(|case| *case = harmed(case, ComplicationClass::Embolic));
    let cohort = amid(&rows, "winter", &[], &[]);
    let mut published = Published::default();
    let mut first = published.compose(&cohort, &design(json!({ "tables": ["complication_class"] })));
    for line in first.lines.iter_mut().filter(|line| line.cases == Told::Shown(600)) {
        (line.major.count, line.major.share_of_cases) = (Told::Hidden, None);
    }
    hide(&mut first, ("complication_class", "any", "major"));
    tell(&mut first, ("complication_class", "vascular", "major"), 30);
    published.publish(&cohort, first);
    let alone = Published::default().compose(&cohort, &SummaryDesign::default());
    assert_eq!(all(&alone), [Some(600), Some(33)]);
    let refused = published.refusal(&cohort, &alone).unwrap();
    assert!(refused.contains("Embolic (Major)") || refused.contains("without Vascular"), "{refused}");
    assert_eq!(all(&published.compose(&cohort, &SummaryDesign::default())), [Some(600), None]);
}

/// Every vector of events by quarter that agrees with the totals told of some periods.
fn possible(told: &[((usize, usize), u64)], quarters: usize, most: u64) -> Vec<Vec<u64>> {
    let mut found = vec![vec![]];
    for _ in 0..quarters {
        found = found
            .into_iter()
            .flat_map(|so_far: Vec<u64>| {
                (0..=most).map(move |next| so_far.iter().copied().chain([next]).collect::<Vec<u64>>())
            })
            .filter(|events| {
                told.iter().all(|((first, last), total)| {
                    let sum = |to: usize| events[(*first).min(to)..to].iter().sum::<u64>();
                    let ended = *last <= events.len();
                    if ended { sum(*last) == *total } else { sum(events.len()) <= *total }
                })
            })
            .collect();
    }
    found
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Whatever periods are published one after the other, listing every way in which the events could
    /// have fallen shows that no quarter's 1 to 10 events can be told from the totals.
    #[test]
    fn no_series_of_periods_tells_a_small_quarter(
        events in prop::collection::vec(0..30_usize, 3),
        periods in prop::collection::vec((0..3_usize, 1..4_usize), 1..4),
    ) {
        let of_quarters: Vec<(usize, usize)> = events.iter().map(|events| (60, *events)).collect();
        let cohort = cut(&of_quarters, "winter");
        let mut published = Published::default();
        let mut told = Vec::new();
        for (first, length) in periods {
            let last = (first + length).min(3);
            let summary = published.compose(&cohort, &quarters(first as u8 + 1, last as u8));
            told.extend(all(&summary)[1].map(|total| ((first, last), total)));
            published.publish(&cohort, summary);
        }
        let worlds = possible(&told, 3, 100);
        for (quarter, events) in events.iter().enumerate().filter(|(_, events)| (1..11).contains(*events)) {
            let of = || worlds.iter().map(|world| world[quarter]);
            let (low, high) = (of().min().unwrap(), of().max().unwrap());
            prop_assert!(high >= 11 && high - low >= 5, "{events} in quarter {quarter}: {low} to {high}, {told:?}");
        }
    }
}
