#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use super::*;

fn check(text: &str, expected: Result<&str, ValueProblem>) {
    let found = Quarter::parse(text).map(|quarter| quarter.to_string());
    assert_eq!(found, expected.map(str::to_owned), "{text:?}");
}

#[test]
fn a_quarter_is_a_year_and_a_figure_from_one_to_four() {
    check("2025Q3", Ok("2025Q3"));
    check("2025q3", Ok("2025Q3"));
    check(" 2025Q3 ", Ok("2025Q3"));
    check("2010Q1", Ok("2010Q1"));
    check("2099Q4", Ok("2099Q4"));
    for early in ["2009Q4", "1999Q1", "0000Q1"] {
        check(early, Err(ValueProblem::QuarterTooEarly));
    }
    for wrong in [
        "", "2025", "Q3", "2025Q", "2025Q0", "2025Q5", "2025Q33", "2025Q03", "25Q3", "02025Q3", "2100Q1",
        "2025-Q3", "2025 Q3", "Q3 2025", "2025Q3Q4", "2025Q³", "2025Q٣", "+025Q1", "2025Q+", "-2025Q3",
        "2025M7", "2025-03",
    ] {
        check(wrong, Err(ValueProblem::NotQuarter));
    }
}

#[test]
fn a_full_date_is_refused_as_what_it_is() {
    for date in ["2025-03-14", "14.03.2025", "03/14/2025", "14/3/25", "14 March 2025", "20250314"] {
        check(date, Err(ValueProblem::FullDate));
    }
}

#[test]
fn quarters_follow_each_other_and_sort_by_time() {
    let quarter = |text: &str| Quarter::parse(text).unwrap();
    assert_eq!(quarter("2025Q3").next(), quarter("2025Q4"));
    assert_eq!(quarter("2025Q4").next(), quarter("2026Q1"));
    assert!(quarter("2025Q4") < quarter("2026Q1"));
    assert!(quarter("2026Q1") < quarter("2026Q2"));
    assert_eq!(Quarter::new(2025, 0), None);
    assert_eq!(Quarter::new(2009, 4), None);
    assert_eq!(Quarter::new(2010, 1), Some(Quarter::FIRST));
    assert_eq!((quarter("2025Q3").year(), quarter("2025Q3").quarter()), (2025, 3));
}
