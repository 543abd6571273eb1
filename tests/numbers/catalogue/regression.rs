//! Regressions through the catalogue: the person names the covariates.

use super::{Answered, SOURCE, compare, one, put};
use crate::reference::{Comparison, Row, Tolerance, rows};
use crate::regression_sets::{COLUMNS, ESTIMABLE};

/// R stops when the deviance changes by less than 1e-8 of itself.
const NEAR: Tolerance = Tolerance::Relative(1e-7);

/// The cases of the sets with a finite maximum, all at once.
pub(super) fn regress(name: &str, treatment: &str, given: &[(&str, &str)]) -> Vec<Answered> {
    let all = rows("covariates.csv");
    let columns = ["set_id", "y", "t", "site", "x1", "x2", "x3", "x4", "x5", "x6"];
    let header = ["set_id", "event", treatment, "centre", "x1", "x2", "x3", "x4", "x5", "x6"];
    let own = all.iter().filter(|row| ESTIMABLE.contains(&row.text("set_id")));
    let cells: Vec<Vec<&str>> =
        own.map(|row| columns.iter().map(|column| row.text(column)).collect()).collect();
    put(name, &header, &cells, given)
}

pub(super) fn of<'a>(results: &'a [Answered], row: &Row, key: &str, value: &str) -> &'a Answered {
    let fits = |one: &&Answered| one["set_id"] == row.text("set_id") && one[key] == value;
    results.iter().find(fits).unwrap_or_else(|| panic!("no {value} for {}", row.name()))
}

#[test]
fn coefficients() {
    let mut comparison = Comparison::new("coefficients", SOURCE);
    let expected = rows("logistic.csv");
    let terms = ("terms", COLUMNS.join(" "));
    let terms = (terms.0, terms.1.as_str());
    for kind in ["model", "hc0", "hc1", "cr0", "cr1", "cr1s"] {
        let results = regress("logistic_regression", "t", &[terms, ("variance", kind)]);
        for row in expected.iter().filter(|row| ESTIMABLE.contains(&row.text("set_id"))) {
            let answered = of(&results, row, "term", row.text("term"));
            let se = format!("se_{kind}");
            compare(&mut comparison, row, answered, &[("estimate", "coef"), ("se", &se)], NEAR);
        }
    }
    let firth = regress("firth_regression", "t", &[terms]);
    for row in expected.iter().filter(|row| ESTIMABLE.contains(&row.text("set_id"))) {
        let pairs = [("estimate", "firth_coef"), ("se", "firth_se")];
        compare(
            &mut comparison,
            row,
            of(&firth, row, "term", row.text("term")),
            &pairs,
            Tolerance::Relative(1e-6),
        );
    }
    comparison.finish(440);
}

#[test]
fn standardised_effects() {
    let mut comparison = Comparison::new("standardised effects", SOURCE);
    let terms = COLUMNS[1..].join("+");
    for kind in ["model", "hc0", "cr0", "cr1"] {
        let given = [("terms", terms.as_str()), ("variance", kind)];
        let run = |name| regress(name, "group", &given);
        let (fixed, sampled) = (run("standardised_covariates_fixed"), run("standardised_covariates_sampled"));
        for row in &rows("standardised_effects.csv") {
            if row.text("variance") != kind || !ESTIMABLE.contains(&row.text("set_id")) {
                continue;
            }
            let results = if row.text("covariates") == "fixed" { &fixed } else { &sampled };
            let pairs: &[(&str, &str)] = match row.text("effect") {
                // Shown as ratios: the standard error is that of the logarithm.
                "log_ratio" | "log_odds_ratio" => &[("se", "se")],
                _ => &[("estimate", "estimate"), ("se", "se")],
            };
            let effect = match row.text("effect") {
                "risk0" => "risk2",
                effect => effect.trim_start_matches("log_"),
            };
            let answered = of(results, row, "effect", effect);
            compare(&mut comparison, row, answered, pairs, NEAR);
            if effect.ends_with("ratio") {
                let ratio = answered["estimate"].parse::<f64>().unwrap();
                comparison.value(&row.name(), ratio.ln(), row.number("estimate"), NEAR);
            }
        }
    }
    comparison.finish(170);
}

#[test]
fn the_centres_are_covariates_of_their_own() {
    let terms = "t x1 x2 x3 x4 x5 x6 centre";
    let results = regress("logistic_regression", "t", &[("terms", terms), ("variance", "cr2")]);
    let lalonde: Vec<&Answered> = results.iter().filter(|one| one["set_id"] == "lalonde").collect();
    assert!(lalonde.iter().filter(|one| one["term"].starts_with("centre ")).count() >= 3, "{lalonde:?}");
    let mut comparison = Comparison::new("CR2, centres in the model", SOURCE);
    for row in rows("cluster_variance.csv").iter().filter(|row| row.text("set_id") == "lalonde") {
        let in_model = row.text("centres_in_model") == "1" && row.text("root") == "weighted";
        if in_model && row.text("term") == "t" {
            let answered = of(&results, row, "term", "t");
            compare(&mut comparison, row, answered, &[("se", "se"), ("df", "df")], Tolerance::Relative(1e-7));
        }
    }
    comparison.finish(2);
}

#[test]
fn a_separating_covariate_is_named() {
    let header = ["event", "quiet", "loud"];
    let cells = [["1", "0", "3"], ["0", "1", "2"], ["1", "0", "1"], ["0", "0", "3"]].map(Vec::from);
    let given = [("terms", "loud quiet")];
    assert_eq!(put("separating_column", &header, &cells, &given)[0]["term"], "quiet");
    let refused = &put("logistic_regression", &header, &cells, &[given[0], ("variance", "model")])[0];
    assert!(refused["term"].is_empty() && !refused["reason"].is_empty(), "{refused:?}");
}

#[test]
fn cox() {
    let all = rows("follow_up.csv");
    let mut comparison = Comparison::new("Cox", SOURCE);
    let columns = ["set_id", "time", "status", "group", "age", "x2", "site", "stratum"];
    let cells: Vec<Vec<&str>> =
        all.iter().map(|row| columns.iter().map(|column| row.text(column)).collect()).collect();
    let run = |centre: &'static str, stratum: &'static str| {
        let header = ["set_id", "time", "status", "group", "age", "x2", centre, stratum];
        put("cox_regression", &header, &cells, &[("terms", "group age x2")])
    };
    let (by_centre, by_case, in_strata) =
        (run("centre", "other"), run("site", "other"), run("centre", "stratum"));
    let near = Tolerance::Absolute(1e-9);
    for row in &rows("cox.csv") {
        let term = row.text("term");
        let pairs = [("log_hazard_ratio", "coef"), ("se", "se_centre"), ("model_se", "se_model")];
        compare(&mut comparison, row, of(&by_centre, row, "term", term), &pairs, near);
        compare(&mut comparison, row, of(&by_case, row, "term", term), &[("se", "se_case")], near);
        let pairs = [("log_hazard_ratio", "coef_stratified"), ("model_se", "se_stratified")];
        compare(&mut comparison, row, of(&in_strata, row, "term", term), &pairs, near);
        let pairs = [("proportionality", "proportionality"), ("proportionality_p", "proportionality_p")];
        compare(&mut comparison, row, of(&by_centre, row, "term", term), &pairs, Tolerance::Absolute(1e-6));
    }
    comparison.finish(90);
}

#[test]
fn a_row_method_takes_no_covariates() {
    assert_eq!(one("wilson", &[("x", "1"), ("n", "2"), ("terms", "x1")])["terms"], "x1");
}
