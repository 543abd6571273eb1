//! Calculations that take each row by itself.

use super::{INTERVAL, SOURCE, TEST, compare, put};
use crate::reference::{Comparison, Row, Tolerance, rows};

/// Rows of one reference file, each by itself.
fn row_by_row(
    (file, tag): (&'static str, &str),
    names: &[(&str, &'static str)],
    columns: &[&str],
    pairs: &[(&str, &str)],
    tolerance: Tolerance,
) {
    let all = rows(file);
    for (label, name) in names {
        let chosen: Vec<&Row> = all.iter().filter(|row| row.text(tag) == *label).collect();
        let cells: Vec<Vec<&str>> =
            chosen.iter().map(|row| columns.iter().map(|column| row.text(column)).collect()).collect();
        let mut comparison = Comparison::new(name, SOURCE);
        let results = put(name, columns, &cells, &[]);
        assert_eq!(results.len(), chosen.len(), "{name}");
        for (row, answered) in chosen.iter().zip(&results) {
            assert_eq!(answered["method"], *name);
            compare(&mut comparison, row, answered, pairs, tolerance);
        }
        comparison.finish(60);
    }
}

#[test]
fn one_proportion() {
    let names = [
        ("wilson", "wilson"),
        ("wilson_cc", "wilson_corrected"),
        ("clopper_pearson", "clopper_pearson"),
        ("midp", "mid_p"),
        ("jeffreys", "jeffreys"),
        ("agresti_coull", "agresti_coull"),
        ("wald", "wald"),
    ];
    let file = ("one_proportion.csv", "method");
    row_by_row(file, &names, &["x", "n", "level"], &INTERVAL, Tolerance::Relative(1e-8));
    let all = rows("rule_of_three.csv");
    let mut comparison = Comparison::new("rule_of_three", SOURCE);
    for row in &all {
        let answered = &put("rule_of_three", &["n"], &[vec![row.text("n")]], &[])[0];
        let near = Tolerance::Relative(1e-12);
        compare(&mut comparison, row, answered, &[("estimate", "three_over_n")], near);
    }
    comparison.finish(30);
}

const ARMS: [&str; 5] = ["x1", "n1", "x2", "n2", "level"];
const NULL: [&str; 5] = ["x1", "n1", "x2", "n2", "null"];

#[test]
fn differences() {
    let intervals = [
        ("newcombe", "newcombe"),
        ("newcombe_cc", "newcombe_corrected"),
        ("miettinen_nurminen", "miettinen_nurminen_difference"),
        ("mee", "mee"),
        ("agresti_caffo", "agresti_caffo"),
        ("wald", "wald_difference"),
    ];
    let near = Tolerance::Absolute(1e-9);
    row_by_row(("difference.csv", "method"), &intervals, &ARMS, &INTERVAL, near);
    let tests = [
        ("farrington_manning", "farrington_manning_difference_test"),
        ("miettinen_nurminen", "miettinen_nurminen_difference_test"),
        ("wald_blackwelder", "wald_difference_test"),
    ];
    row_by_row(("difference_tests.csv", "method"), &tests, &NULL, &TEST, near);
    let restricted = [("farrington_manning", "proportions_under_difference")];
    row_by_row(("difference_tests.csv", "method"), &restricted, &NULL, &RESTRICTED, near);
}

const RESTRICTED: [(&str, &str); 2] =
    [("restricted_p1", "restricted_p1"), ("restricted_p2", "restricted_p2")];

#[test]
fn ratios() {
    let intervals = [
        ("rr_katz", "katz"),
        ("rr_koopman", "koopman"),
        ("rr_miettinen_nurminen", "miettinen_nurminen_ratio"),
    ];
    row_by_row(("ratio.csv", "method"), &intervals, &ARMS, &INTERVAL, Tolerance::Relative(1e-8));
    let tests = [
        ("farrington_manning_ratio", "farrington_manning_ratio_test"),
        ("miettinen_nurminen_ratio", "miettinen_nurminen_ratio_test"),
        ("wald_log_ratio", "wald_log_ratio_test"),
        ("wald_linear_ratio", "wald_linear_ratio_test"),
    ];
    let near = Tolerance::Absolute(1e-9);
    row_by_row(("ratio_tests.csv", "method"), &tests, &NULL, &TEST, near);
    let restricted = [("farrington_manning_ratio", "proportions_under_ratio")];
    row_by_row(("ratio_tests.csv", "method"), &restricted, &NULL, &RESTRICTED, near);
    let odds = [
        ("or_woolf", "woolf"),
        ("or_haldane", "haldane_anscombe"),
        ("or_score", "score_odds_ratio"),
        ("or_score_mn", "miettinen_nurminen_odds_ratio"),
        ("or_exact_conditional", "exact_conditional_odds_ratio"),
    ];
    row_by_row(("odds_ratio.csv", "method"), &odds, &ARMS, &INTERVAL, Tolerance::Relative(1e-7));
}

#[test]
fn exact_tests() {
    let all = rows("exact_tests.csv");
    for name in ["fisher", "barnard_pooled", "barnard_unpooled", "boschloo"] {
        let mut comparison = Comparison::new("exact", SOURCE);
        for row in all.iter().filter(|row| row.text("test") == name) {
            let output = match row.text("alternative") {
                "less" => "p_less",
                "greater" => "p_greater",
                _ => "p_two_sided",
            };
            let cells = ["x1", "n1", "x2", "n2"].map(|column| row.text(column)).to_vec();
            let answered = &put(name, &["x1", "n1", "x2", "n2"], &[cells], &[])[0];
            compare(&mut comparison, row, answered, &[(output, "p")], Tolerance::Absolute(1e-6));
        }
        comparison.finish(80);
    }
}

/// The reference states the null difference; its sign says what kind of outcome it is.
pub(super) fn margin(row: &Row) -> (&'static str, &str) {
    match row.text("null").strip_prefix('-') {
        Some(size) => ("benefit", size),
        None => ("harm", row.text("null")),
    }
}

#[test]
fn non_inferiority() {
    let header = ["x1", "n1", "x2", "n2", "outcome", "margin"];
    let cells = |row: &Row| -> Vec<String> {
        let (outcome, size) = margin(row);
        let counts = ["x1", "n1", "x2", "n2"].map(|column| row.text(column));
        counts.into_iter().chain([outcome, size]).map(str::to_owned).collect()
    };
    let mut chan = Comparison::new("chan_non_inferiority", SOURCE);
    let mut mee = Comparison::new("mee_non_inferiority", SOURCE);
    for row in &rows("exact_non_inferiority.csv") {
        let cells = cells(row);
        let cells: Vec<Vec<&str>> = vec![cells.iter().map(String::as_str).collect()];
        let exact = &put("chan_non_inferiority", &header, &cells, &[])[0];
        compare(&mut chan, row, exact, &[("p", "p")], Tolerance::Absolute(1e-6));
        let score = &put("mee_non_inferiority", &header, &cells, &[("level", "0.9")])[0];
        compare(&mut mee, row, score, &[("p", "p_asymptotic")], Tolerance::Absolute(1e-9));
        // At 90 % the interval shows it exactly when the one-sided p is below 5 %.
        let shown = score["conclusion"] == "shown";
        assert_eq!(shown, row.number::<f64>("p_asymptotic") < 0.05, "{}", row.name());
    }
    chan.finish(35);
    mee.finish(35);
}
