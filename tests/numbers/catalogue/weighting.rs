//! Weighted comparisons through the catalogue.

use super::regression::{of, regress};
use super::{Answered, SOURCE, compare, put};
use crate::reference::{Comparison, Row, Tolerance, rows};

const NEAR: Tolerance = Tolerance::Relative(1e-7);
const TERMS: (&str, &str) = ("terms", "x1 x2 x3 x4 x5 x6");
const TARGETS: [(&str, &str); 3] = [("ate", "whole"), ("att", "first_arm"), ("ato", "overlap")];

#[test]
fn risks() {
    let mut comparison = Comparison::new("weighted risks", SOURCE);
    let expected = rows("weighting_centres.csv");
    // The calculator gives the ratio of the event, not that of its absence.
    let given = |row: &&Row| {
        row.text("model") == "covariates, given centres" && row.text("measure") != "log_ratio_of_absence"
    };
    let expected: Vec<&Row> = expected.iter().filter(given).collect();
    for (column, kind) in [("se_plain", "these_centres"), ("se_cr1", "cr1"), ("se_cr2", "cr2")] {
        for (reference, target) in [("whole", "whole"), ("first", "first_arm"), ("second", "second_arm")] {
            let results =
                regress("weighted_risks", "group", &[TERMS, ("variance", kind), ("target", target)]);
            for row in expected.iter().filter(|row| row.text("target") == reference) {
                let effect = row.text("measure").trim_start_matches("log_");
                let answered = of(&results, row, "effect", effect);
                compare(&mut comparison, row, answered, &[("se", column)], NEAR);
                let estimate: f64 = answered["estimate"].parse().unwrap();
                let estimate = if effect == "ratio" { estimate.ln() } else { estimate };
                comparison.value(&row.name(), estimate, row.number("estimate"), NEAR);
                if kind == "cr2" {
                    compare(&mut comparison, row, answered, &[("df", "df")], NEAR);
                }
            }
        }
    }
    for row in rows("weighting.csv").iter().filter(|row| row.text("method") == "ato_risk") {
        let given = [TERMS, ("variance", "these_centres"), ("target", "overlap")];
        let results = regress("weighted_risks", "group", &given);
        let risk = if row.text("term") == "risk0" { "risk2" } else { "risk1" };
        compare(&mut comparison, row, of(&results, row, "effect", risk), &[("estimate", "estimate")], NEAR);
    }
    comparison.finish(160);
}

#[test]
fn balance_and_positivity() {
    let mut comparison = Comparison::new("weighted balance and positivity", SOURCE);
    let near = Tolerance::Absolute(1e-9);
    for (reference, target) in TARGETS {
        let results = regress("weighted_balance", "group", &[TERMS, ("target", target)]);
        for row in &rows("weighting.csv") {
            let Some(kind) = row.text("method").strip_prefix(&format!("smd_{reference}_")) else { continue };
            let output = if kind == "unweighted_denominator" { "after" } else { "after_by_weighted_spread" };
            compare(
                &mut comparison,
                row,
                of(&results, row, "term", row.text("term")),
                &[(output, "estimate")],
                near,
            );
        }
        for row in &rows("balance.csv") {
            let answered = of(&results, row, "term", row.text("term"));
            compare(&mut comparison, row, answered, &[("before", "estimate")], near);
        }
        let bounds = [("low", "0.25"), ("high", "0.4")];
        let results = regress("positivity", "group", &[TERMS, ("target", target), bounds[0], bounds[1]]);
        let wanted = if target == "first_arm" { "first" } else { target };
        let of_target = |row: &&Row| row.text("target") == wanted && row.text("low") == "0.25";
        for row in rows("positivity.csv").iter().filter(of_target) {
            let arm = if row.text("arm") == "first" { "1" } else { "0" };
            let pairs = [
                ("cases", "cases"),
                ("smallest", "smallest"),
                ("largest", "largest"),
                ("below", "below"),
                ("above", "above"),
                ("outside_shared_range", "outside"),
                ("largest_weight_share", "share"),
                ("effective_sample_size", "ess"),
                ("overlap", "overlap"),
            ];
            compare(&mut comparison, row, of(&results, row, "group", arm), &pairs, NEAR);
        }
    }
    comparison.finish(400);
}

#[test]
fn a_weight_stands_beside_each_case() {
    let header = ["group", "age"];
    let cells: Vec<Vec<&str>> =
        [["1", "50"], ["0", "60"], ["1", "70"], ["0", "50"], ["1", "60"], ["0", "80"]]
            .map(Vec::from)
            .to_vec();
    let run = |target| put("propensity_weights", &header, &cells, &[("terms", "age"), ("target", target)]);
    let (overlap, whole) = (run("overlap"), run("whole"));
    assert_eq!((overlap.len(), overlap[5]["case"].as_str()), (6, "6"));
    let number = |row: &Answered, column: &str| row[column].parse::<f64>().unwrap();
    for (row, cell) in overlap.iter().zip(&cells) {
        let (score, weight) = (number(row, "propensity"), number(row, "weight"));
        let expected = if cell[0] == "1" { 1.0 - score } else { score };
        assert!((weight - expected).abs() < 1e-15, "{row:?}");
    }
    for (row, cell) in whole.iter().zip(&cells) {
        let (score, weight) = (number(row, "propensity"), number(row, "weight"));
        let own = if cell[0] == "1" { score } else { 1.0 - score };
        assert!((weight * own - 1.0).abs() < 1e-14, "{row:?}");
    }
    let report = put("positivity", &["group", "age"], &cells, &[("terms", "age"), ("target", "overlap")]);
    assert_eq!(report[0]["cases"], "3");
    let divided: Vec<Vec<&str>> =
        [["1", "50"], ["0", "60"], ["1", "51"], ["0", "61"]].map(Vec::from).to_vec();
    let refused =
        &put("propensity_weights", &header, &divided, &[("terms", "age"), ("target", "overlap")])[0];
    assert!(refused["weight"].is_empty() && refused["reason"].contains("overlap"), "{refused:?}");
}
