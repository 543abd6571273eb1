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

#[test]
fn a_period_is_cut_into_pieces_that_hold_each_quarter_once() {
    let quarter = |text: &str| Quarter::parse(text).unwrap();
    let period = |first: &str, last: &str| Period {
        first: Quarter::parse(first).ok(),
        last: Quarter::parse(last).ok(),
    };
    let cuts = || ["2010Q1", "2024Q3", "2025Q1", "2024Q3", "2030Q1"].map(quarter);
    let written = |period: Period| -> Vec<String> {
        period.cut_before(cuts()).iter().map(ToString::to_string).collect()
    };
    assert_eq!(
        written(period("2024Q1", "2025Q4")),
        ["2024Q1 to 2024Q2", "2024Q3 to 2024Q4", "2025Q1 to 2025Q4"]
    );
    assert_eq!(written(period("2024Q3", "2024Q4")), ["2024Q3 to 2024Q4"], "an end is no cut");
    assert_eq!(
        written(period("", "")),
        ["2024Q2 and earlier", "2024Q3 to 2024Q4", "2025Q1 to 2029Q4", "2030Q1 and later"]
    );
    for whole in [period("", ""), period("2024Q1", ""), period("", "2025Q2"), period("2024Q2", "2025Q1")] {
        let mut at = quarter("2023Q1");
        while at < quarter("2031Q1") {
            let pieces = whole.cut_before(cuts());
            let holding = pieces.iter().filter(|piece| piece.holds(at)).count();
            assert_eq!(holding, usize::from(whole.holds(at)), "{whole}, {at}");
            assert!(pieces.iter().all(|piece| whole.encloses(*piece) && piece.within(whole) == *piece));
            at = at.next();
        }
    }
    assert!(!period("2024Q1", "2024Q4").encloses(period("", "2024Q4")));
    assert_eq!(Period::year(2024).within(period("2024Q3", "")), period("2024Q3", "2024Q4"));
    assert_eq!(quarter("2010Q1").previous(), None);
}
