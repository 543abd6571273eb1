//! Planning, belief and sensitivity through the catalogue.

use super::rows::margin;
use super::{INTERVAL, SOURCE, compare, one, put};
use crate::reference::{Comparison, Row, Tolerance, rows};

fn given<'r>(row: &'r Row, columns: &[&'static str]) -> Vec<(&'static str, &'r str)> {
    columns.iter().map(|column| (*column, row.text(column))).collect()
}

/// The plan of a row that states its margin as a difference with its sign.
fn plan(row: &Row) -> Vec<(&'static str, &str)> {
    let (outcome, size) = margin(row);
    let mut cells = given(row, &["p1", "p2", "alpha"]);
    cells.extend([("outcome", outcome), ("margin", size)]);
    cells
}

#[test]
fn sample_sizes() {
    let mut comparison = Comparison::new("sample sizes", SOURCE);
    let sizes = [("n1_unrounded", "n1_unrounded"), ("n1", "n1"), ("n2", "n2")];
    for row in &rows("sample_size.csv") {
        let mut cells = plan(row);
        cells.extend([("power", row.text("power")), ("allocation", row.text("theta"))]);
        let answered = one(&format!("{}_sample_size", row.text("method")), &cells);
        compare(&mut comparison, row, &answered, &sizes, Tolerance::Relative(1e-9));
    }
    for row in &rows("sample_size_ratio.csv") {
        let mut cells = given(row, &["p1", "p2", "alpha", "power"]);
        cells.extend([("outcome", "harm"), ("margin", row.text("null")), ("allocation", row.text("theta"))]);
        let score = one("farrington_manning_ratio_sample_size", &cells);
        compare(&mut comparison, row, &score, &sizes, Tolerance::Relative(1e-9));
        let log = one("wald_log_ratio_sample_size", &cells);
        let pairs = [("n1_unrounded", "n1_unrounded_log")];
        compare(&mut comparison, row, &log, &pairs, Tolerance::Relative(1e-9));
    }
    comparison.finish(450);
}

#[test]
fn powers() {
    let mut comparison = Comparison::new("power", SOURCE);
    let near = Tolerance::Absolute(1e-9);
    for row in &rows("planning.csv") {
        let mut cells = given(row, &["p1", "p2", "alpha", "outcome", "n1", "n2"]);
        cells.push(("margin", row.text("null").trim_start_matches('-')));
        let answered = one(&format!("{}_power", row.text("method")), &cells);
        compare(&mut comparison, row, &answered, &[("power", "power")], near);
    }
    for row in &rows("exact_power.csv") {
        let mut cells = plan(row);
        cells.extend(given(row, &["n1", "n2"]));
        let name = match row.text("test") {
            "fm" => "farrington_manning_exact_power",
            "mn" => "miettinen_nurminen_exact_power",
            _ => "wald_exact_power",
        };
        let pairs = [("power", "exact_power"), ("type_one_error", "exact_type_one_error")];
        compare(&mut comparison, row, &one(name, &cells), &pairs, near);
    }
    comparison.finish(380);
    let beyond = [("p1", "0.1"), ("p2", "0.05"), ("outcome", "harm"), ("margin", "0.01"), ("power", "0.9")];
    let answered = one("blackwelder_sample_size", &beyond);
    assert!(answered["n1"].is_empty() && answered["reason"].contains("acceptable side"), "{answered:?}");
}

#[test]
fn design_effects() {
    let mut comparison = Comparison::new("design effect", SOURCE);
    let near = Tolerance::Relative(1e-12);
    for row in &rows("design_effect.csv") {
        let sizes: Vec<&str> = row.text("sizes").split(' ').collect();
        let cells: Vec<Vec<&str>> = sizes.iter().map(|size| vec![*size]).collect();
        let beside = [("correlation", row.text("correlation"))];
        let set = |name| put(name, &["n"], &cells, &beside).remove(0);
        let pair = [("design_effect", "design_effect")];
        compare(&mut comparison, row, &set("unequal_centres_design_effect"), &pair, near);
        if sizes.iter().all(|size| *size == sizes[0]) {
            let equal = one("equal_centres_design_effect", &[("n", sizes[0]), beside[0]]);
            compare(&mut comparison, row, &equal, &pair, near);
        }
        compare(&mut comparison, row, &set("effective_sample_size"), &[("cases", "effective")], near);
        let centres = sizes.len().to_string();
        let fixed = [("n", row.text("independent")), ("centres", &centres), beside[0]];
        let over = one("cases_over_centres", &fixed);
        assert_eq!(over["cases"], row.text("over_centres"), "{}", row.name());
        assert_eq!(over["cases"].is_empty(), over["reason"].contains("are too few"));
    }
    comparison.finish(80);
}

#[test]
fn precision() {
    let mut comparison = Comparison::new("precision", SOURCE);
    let near = Tolerance::Relative(1e-9);
    let half_width = [("half_width", "half_width")];
    for row in &rows("precision.csv") {
        let beside = [("interval", row.text("method")), ("level", row.text("level"))];
        let wanted = ("half_width", row.text("wanted"));
        if row.text("method") == "newcombe" {
            let mut cells = given(row, &["p1", "p2", "n1", "n2"]);
            cells.extend(beside);
            compare(&mut comparison, row, &one("expected_difference_half_width", &cells), &half_width, near);
            if !wanted.1.is_empty() {
                let ratio = row.number::<f64>("n2") / row.number::<f64>("n1");
                let ratio = ratio.to_string();
                let mut cells = given(row, &["p1", "p2"]);
                cells.extend(beside.into_iter().chain([wanted, ("allocation", ratio.as_str())]));
                let found = one("cases_for_difference_half_width", &cells);
                compare(&mut comparison, row, &found, &[("n1", "fewest")], near);
            }
            continue;
        }
        let cells = [("n", row.text("n1")), ("p", row.text("p1")), beside[0], beside[1]];
        compare(&mut comparison, row, &one("expected_half_width", &cells), &half_width, near);
        if !wanted.1.is_empty() {
            let found = one("cases_for_half_width", &[wanted, ("p", row.text("p1")), beside[0], beside[1]]);
            compare(&mut comparison, row, &found, &[("cases", "fewest")], near);
        }
    }
    for row in &rows("precision_ratio.csv") {
        let mut cells = given(row, &["p1", "p2", "n1", "n2", "level"]);
        cells.push(("interval", row.text("method")));
        let pairs = [("factor", "factor"), ("unbounded", "unbounded")];
        compare(&mut comparison, row, &one("expected_ratio_reach", &cells), &pairs, near);
    }
    comparison.finish(64);
}

#[test]
fn posteriors() {
    let mut comparison = Comparison::new("posterior", SOURCE);
    let near = Tolerance::Absolute(1e-9);
    let arms = ["x1", "n1", "x2", "n2", "prior_a", "prior_b"];
    for row in &rows("posterior.csv") {
        let with = |more: &[(&'static str, &'static str)], margin: Option<&str>| {
            let mut cells: Vec<(&str, String)> = given(row, &arms)
                .into_iter()
                .chain(more.iter().copied())
                .map(|(a, b)| (a, b.to_owned()))
                .collect();
            cells.extend(margin.map(|margin| ("margin", row.text(margin).to_owned())));
            cells
        };
        let run = |name: &str, cells: Vec<(&str, String)>| {
            one(name, &cells.iter().map(|(a, b)| (*a, b.as_str())).collect::<Vec<_>>())
        };
        let met = |outcome, column| {
            let cells = with(&[("outcome", outcome)], Some("margin"));
            (run("probability_margin_met", cells), [("probability_met", column)])
        };
        for (answered, pair) in [met("harm", "below_margin"), met("benefit", "above_minus_margin")] {
            compare(&mut comparison, row, &answered, &pair, near);
        }
        let ratio = run("probability_ratio_margin_met", with(&[("outcome", "harm")], Some("ratio")));
        compare(&mut comparison, row, &ratio, &[("probability_met", "below_ratio")], near);
        let below = run("difference_posterior", with(&[("null", "0")], None));
        compare(&mut comparison, row, &below, &[("below", "first_lower")], near);
        let mut cells = with(&[], None);
        cells.push(("null", row.text("ratio").to_owned()));
        compare(&mut comparison, row, &run("ratio_posterior", cells), &[("below", "below_ratio")], near);
        for (probability, column) in [("0.025", "first_q025"), ("0.975", "first_q975")] {
            let mut cells = vec![("x", row.text("x1")), ("n", row.text("n1")), ("probability", probability)];
            cells.extend(given(row, &["prior_a", "prior_b"]));
            compare(&mut comparison, row, &one("beta_posterior", &cells), &[("quantile", column)], near);
        }
    }
    for row in &rows("posterior_interval.csv") {
        let mut cells = given(row, &arms);
        cells.push(("level", row.text("level")));
        let answered = one("difference_posterior_interval", &cells);
        compare(&mut comparison, row, &answered, &super::INTERVAL, Tolerance::Absolute(1e-8));
    }
    comparison.finish(380);
}

#[test]
fn missing_outcomes() {
    let mut comparison = Comparison::new("missing outcomes", SOURCE);
    let columns = ["x1", "seen1", "missing1", "x2", "seen2", "missing2", "outcome", "margin", "level"];
    for row in &rows("missing_outcomes.csv") {
        let mut cells = given(row, &columns);
        cells.push(("rule", row.text("method")));
        let (worst, best) = (one("worst_case", &cells), one("best_case", &cells));
        if row.text("method") == "newcombe" {
            let near = Tolerance::Absolute(1e-12);
            compare(
                &mut comparison,
                row,
                &worst,
                &[("lower", "worst_lower"), ("upper", "worst_upper")],
                near,
            );
            compare(&mut comparison, row, &best, &[("lower", "best_lower"), ("upper", "best_upper")], near);
        }
        let (header, line): (Vec<&str>, Vec<&str>) = cells.iter().copied().unzip();
        let border = put("tipping_border", &header, &[line], &[]);
        let all: u32 = row.number::<u32>("missing2") + 1;
        let shown = border.iter().map(|line| {
            let events = || line["missing_events2"].parse::<u32>().unwrap();
            match line["shown"].as_str() {
                "never" => 0,
                "always" => all,
                "at_least" => all - events(),
                _ => events() + 1,
            }
        });
        let shown: Vec<String> = shown.map(|count| count.to_string()).collect();
        assert_eq!(shown.join(" "), row.text("shown"), "{}", row.name());
    }
    comparison.finish(60);
}

#[test]
fn several_claims_and_unrecorded_causes() {
    let mut comparison = Comparison::new("claims, E-values", SOURCE);
    let all = rows("multiplicity.csv");
    let near = Tolerance::Relative(1e-12);
    let cells: Vec<Vec<&str>> =
        all.iter().map(|row| ["set_id", "position", "p"].map(|column| row.text(column)).to_vec()).collect();
    for name in ["holm", "fixed_sequence"] {
        let answered = put(name, &["set_id", "claim", "p"], &cells, &[]);
        assert_eq!(answered.len(), all.len());
        for (row, line) in all.iter().zip(&answered) {
            assert_eq!(line["claim"], row.text("position"));
            compare(&mut comparison, row, line, &[("adjusted_p", name)], near);
        }
    }
    for row in &rows("e_value.csv") {
        let cells =
            [("estimate", row.text("rr")), ("lower", row.text("lower")), ("upper", row.text("upper"))];
        let rare = one("e_value_of_risk_ratio", &cells);
        compare(&mut comparison, row, &rare, &[("e_value", "point"), ("e_value_of_limit", "limit")], near);
        let common = one("e_value_of_common_odds_ratio", &cells);
        compare(&mut comparison, row, &common, &[("e_value", "point_by_square_root")], near);
    }
    comparison.finish(450);
}

#[test]
fn evenness() {
    let mut comparison = Comparison::new("evenness of counts", SOURCE);
    let all = rows("evenness.csv");
    let cells: Vec<Vec<&str>> =
        all.iter().map(|row| ["set_id", "count"].map(|column| row.text(column)).to_vec()).collect();
    let (approximate, exact) = (
        put("even_chi_square", &["set_id", "count"], &cells, &[]),
        put("even_exact", &["set_id", "count"], &cells, &[]),
    );
    for (at, set) in all.chunk_by(|a, b| a.text("set_id") == b.text("set_id")).enumerate() {
        let pairs = [("statistic", "statistic"), ("p", "p")];
        compare(&mut comparison, &set[0], &approximate[at], &pairs, Tolerance::Absolute(1e-9));
        if !set[0].text("p_exact").is_empty() {
            compare(&mut comparison, &set[0], &exact[at], &[("p", "p_exact")], Tolerance::Absolute(1e-11));
        }
    }
    comparison.finish(60);
}

#[test]
fn agreement_of_judges() {
    let mut comparison = Comparison::new("cohen_kappa", SOURCE);
    let all = rows("kappa.csv");
    const HEADER: [&str; 5] = ["set_id", "first", "second", "count", "level"];
    let cells: Vec<Vec<&str>> =
        all.iter().map(|row| HEADER.map(|column| row.text(column)).to_vec()).collect();
    let found = put("cohen_kappa", &HEADER, &cells, &[]);
    for (at, set) in all.chunk_by(|a, b| a.text("set_id") == b.text("set_id")).enumerate() {
        compare(&mut comparison, &set[0], &found[at], &INTERVAL, Tolerance::Absolute(1e-12));
    }
    comparison.finish(45);
}
