//! Calculations that take the rows of a set together.

use std::collections::BTreeSet;

use super::{Answered, INTERVAL, Pairs, SOURCE, compare, put};
use crate::reference::{Comparison, Row, Tolerance, rows};

/// Every set of a file, and what the file of results says about it.
fn set_by_set(
    name: &'static str,
    header: &[&str],
    file: &'static str,
    given: &[(&str, &str)],
) -> Vec<Answered> {
    let all = rows(file);
    let cells: Vec<Vec<&str>> =
        all.iter().map(|row| header.iter().map(|column| row.text(column)).collect()).collect();
    put(name, header, &cells, given)
}

/// The result for the set, and the group if one is named, of a reference row.
fn of<'a>(results: &'a [Answered], row: &Row, group: Option<&str>) -> &'a Answered {
    let fits = |one: &&Answered| {
        one["set_id"] == row.text("set_id") && group.is_none_or(|group| one["group"] == group)
    };
    results.iter().find(fits).unwrap_or_else(|| panic!("no result for {}", row.name()))
}

/// Values of a column of a file, each once.
fn distinct(file: &'static str, column: &str) -> BTreeSet<String> {
    rows(file).iter().map(|row| row.text(column).to_owned()).collect()
}

#[test]
fn strata() {
    let header = ["set_id", "stratum", "x1", "n1", "x2", "n2"];
    let intervals = [
        ("mh_rd_sato", "mantel_haenszel_sato", None),
        ("mh_rd_greenland_robins", "mantel_haenszel_greenland_robins", None),
        ("mh_or_rbg", "mantel_haenszel_odds_ratio", None),
        ("mh_rr_greenland_robins", "mantel_haenszel_risk_ratio", None),
        ("strat_mn_mh_weights", "stratified_miettinen_nurminen", None),
        ("strat_mee_mh_weights", "stratified_mee", None),
        ("strat_wilson_group1_mhw", "stratified_wilson", Some("1")),
        ("strat_wilson_group2_mhw", "stratified_wilson", Some("2")),
        ("strat_newcombe_yan_su", "stratified_newcombe_yan_su", None),
        ("strat_newcombe_mover_form", "stratified_newcombe_recovered", None),
    ];
    let expected = rows("stratified.csv");
    for (label, name, group) in intervals {
        let mut comparison = Comparison::new(name, SOURCE);
        for level in distinct("stratified.csv", "level").iter().filter(|level| !level.is_empty()) {
            let results = set_by_set(name, &header, "strata.csv", &[("level", level)]);
            let own = |row: &&Row| row.text("method") == label && row.text("level") == level;
            for row in expected.iter().filter(own) {
                let answered = of(&results, row, group);
                assert_eq!(&answered["level"], level);
                compare(&mut comparison, row, answered, &INTERVAL, Tolerance::Relative(1e-7));
            }
        }
        comparison.finish(60);
    }
    let tests = [
        ("cmh", "cochran_mantel_haenszel"),
        ("cmh_cc_R", "cochran_mantel_haenszel_corrected"),
        ("breslow_day", "breslow_day"),
        ("breslow_day_tarone", "breslow_day_tarone"),
    ];
    for (label, name) in tests {
        let mut comparison = Comparison::new(name, SOURCE);
        let results = set_by_set(name, &header, "strata.csv", &[]);
        for row in expected.iter().filter(|row| row.text("method") == label) {
            let pairs = [("statistic", "statistic"), ("df", "df"), ("p", "p")];
            compare(&mut comparison, row, of(&results, row, None), &pairs, Tolerance::Absolute(1e-9));
        }
        comparison.finish(60);
    }
    let mut comparison = Comparison::new("stratified_miettinen_nurminen_test", SOURCE);
    for method in distinct("stratified.csv", "method") {
        let Some(null) = method.strip_prefix("strat_mn_mh_z_null=") else { continue };
        let name = "stratified_miettinen_nurminen_test";
        let results = set_by_set(name, &header, "strata.csv", &[("null", null)]);
        for row in expected.iter().filter(|row| row.text("method") == method) {
            let pairs = [("z", "statistic"), ("p_less", "p")];
            compare(&mut comparison, row, of(&results, row, None), &pairs, Tolerance::Absolute(1e-9));
        }
    }
    comparison.finish(180);
}

#[test]
fn doses() {
    let header = ["set_id", "group", "dose"];
    let expected = rows("dose.csv");
    for level in distinct("dose.csv", "level").iter().filter(|level| !["", "NA"].contains(&level.as_str())) {
        let given = [("level", level.as_str())];
        let mut comparison = Comparison::new("doses", SOURCE);
        let exposed = set_by_set("geometric_mean_ratio_exposed", &header, "dose_values.csv", &given);
        let near = Tolerance::Relative(1e-9);
        for row in expected.iter().filter(|row| row.text("level") == level) {
            match row.text("method") {
                "gm_ratio_welch" | "positive_part_gm_ratio_welch" => {
                    let pairs = [("se", "se"), ("df", "df"), ("p", "p")];
                    compare(&mut comparison, row, of(&exposed, row, None), &INTERVAL, near);
                    compare(&mut comparison, row, of(&exposed, row, None), &pairs, near);
                }
                method if method.starts_with("geometric_mean_group") => {
                    let set = only("dose_values.csv", &header, row.text("set_id"));
                    let group = &method[method.len() - 1..];
                    let answered = put("geometric_mean", &header, &borrowed(&set), &given);
                    compare(&mut comparison, row, of(&answered, row, Some(group)), &INTERVAL, near);
                }
                _ => {}
            }
        }
        comparison.finish(90);
    }
    let mut comparison = Comparison::new("exposure", SOURCE);
    let exposure = set_by_set("exposure", &header, "dose_values.csv", &[]);
    for row in expected.iter().filter(|row| row.text("method").starts_with("zero")) {
        let answered = of(&exposure, row, Some(&row.text("method")[row.text("method").len() - 1..]));
        let none = answered["n"].parse::<f64>().unwrap() - answered["x"].parse::<f64>().unwrap();
        comparison.value(&row.name(), none, row.number("statistic"), Tolerance::Absolute(0.0));
    }
    comparison.finish(20);
}

/// The rows of one set of a file.
fn only(file: &'static str, header: &[&str], set: &str) -> Vec<Vec<String>> {
    rows(file)
        .iter()
        .filter(|row| row.text("set_id") == set)
        .map(|row| header.iter().map(|column| row.text(column).to_owned()).collect())
        .collect()
}

fn borrowed(rows: &[Vec<String>]) -> Vec<Vec<&str>> {
    rows.iter().map(|row| row.iter().map(String::as_str).collect()).collect()
}

#[test]
fn ranks_shifts_and_quantiles() {
    let header = ["set_id", "group", "dose"];
    let near = Tolerance::Relative(1e-9);
    let mut comparison = Comparison::new("ranks", SOURCE);
    let run = |name| set_by_set(name, &header, "dose_values.csv", &[]);
    let (plain, corrected) = (run("rank_sum"), run("rank_sum_corrected"));
    for row in &rows("rank.csv") {
        let output = match row.text("alternative") {
            "less" => "p_less",
            "greater" => "p_greater",
            _ => "p_two_sided",
        };
        let pairs = [("pairs_won", "pairs_won"), (output, "p")];
        let exact;
        let results = match row.text("method") {
            "ranksum_normal_cc" => &corrected,
            "ranksum_normal_nocc" => &plain,
            _ => {
                let set = only("dose_values.csv", &header, row.text("set_id"));
                exact = put("rank_sum_exact", &header, &borrowed(&set), &[]);
                &exact
            }
        };
        compare(&mut comparison, row, of(results, row, None), &pairs, near);
    }
    comparison.finish(200);
    let mut comparison = Comparison::new("shifts, medians, quantiles", SOURCE);
    let mut limits = |row: &Row, name: &'static str, group: Option<&str>| {
        let set = only("dose_values.csv", &header, row.text("set_id"));
        let answered = put(name, &header, &borrowed(&set), &[("level", row.text("level"))]);
        compare(&mut comparison, row, of(&answered, row, group), &INTERVAL, near);
    };
    for row in &rows("shift.csv") {
        let exact = row.text("method") == "hl_ci_exact_R";
        limits(row, if exact { "hodges_lehmann_exact" } else { "hodges_lehmann" }, None);
    }
    for row in &rows("median.csv") {
        limits(row, "median_order_statistics", Some(row.text("group")));
    }
    for row in &rows("quantiles.csv") {
        let name = if row.text("method") == "quantile_type6" { "quantile_type_6" } else { "quantile_type_7" };
        let set = only("dose_values.csv", &header, row.text("set_id"));
        let given = [("probability", row.text("probability"))];
        let answered = put(name, &header, &borrowed(&set), &given);
        let answered = of(&answered, row, Some(row.text("group")));
        compare(&mut comparison, row, answered, &[("estimate", "estimate")], near);
        if row.number::<f64>("probability") == 0.5 {
            let medians = put("median", &header, &borrowed(&set), &[]);
            let answered = of(&medians, row, Some(row.text("group")));
            compare(&mut comparison, row, answered, &[("estimate", "estimate")], near);
        }
    }
    comparison.finish(600);
}

#[test]
fn follow_up() {
    let header = ["set_id", "group", "time", "status"];
    let near = Tolerance::Absolute(1e-9);
    let mut comparison = Comparison::new("Kaplan-Meier", SOURCE);
    for row in &rows("survival.csv") {
        let name = match row.text("limits") {
            "plain" => "kaplan_meier_linear",
            "log" => "kaplan_meier_log",
            _ => "kaplan_meier_log_log",
        };
        let set = only("follow_up.csv", &header, row.text("set_id"));
        let given = [("level", row.text("level")), ("day", row.text("t"))];
        let answered = put(name, &header, &borrowed(&set), &given);
        let pairs = [("estimate", "survival"), ("lower", "lower"), ("upper", "upper")];
        compare(&mut comparison, row, of(&answered, row, Some(row.text("group"))), &pairs, near);
    }
    comparison.finish(800);
    let mut comparison = Comparison::new("survival tests", SOURCE);
    for row in &rows("survival_tests.csv") {
        let (test, end) = row.text("test").rsplit_once('_').unwrap_or((row.text("test"), ""));
        let null = format!("-{end}");
        let day = ("day", row.text("t"));
        let with_level = [day, ("level", end)];
        let (estimate, se) = (("estimate", "estimate"), ("se", "se"));
        let (name, given, pairs): (_, Pairs<'_>, Pairs<'_>) = match test {
            "km_diff_linear" => ("survival_difference", with_level.into(), INTERVAL.into()),
            "km_diff_mover_loglog" => ("survival_difference_recovered", with_level.into(), INTERVAL.into()),
            "km_diff_ni_margin" => {
                let pairs = vec![("z", "statistic"), ("p_greater", "p")];
                ("survival_difference_test", vec![day, ("null", null.as_str())], pairs)
            }
            "rmst" => ("restricted_mean", vec![day], vec![estimate, se]),
            "rmst_diff" => {
                let pairs = INTERVAL.into_iter().chain([se, ("p", "p")]).collect();
                ("restricted_mean_difference", with_level.into(), pairs)
            }
            _ => {
                let name = if row.text("test") == "logrank" { "log_rank" } else { "log_rank_stratified" };
                (name, vec![], vec![estimate, ("statistic", "statistic"), ("p", "p")])
            }
        };
        let header = ["set_id", "group", "time", "status", "stratum"];
        let set = only("follow_up.csv", &header, row.text("set_id"));
        let answered = put(name, &header, &borrowed(&set), &given);
        let group = (test == "rmst").then(|| &end[end.len() - 1..]);
        compare(&mut comparison, row, of(&answered, row, group), &pairs, near);
    }
    comparison.finish(250);
}

#[test]
fn balance() {
    let covariates = rows("covariates.csv");
    let mut comparison = Comparison::new("balance", SOURCE);
    for row in &rows("balance.csv") {
        let term = row.text("term");
        let own: Vec<&Row> =
            covariates.iter().filter(|case| case.text("set_id") == row.text("set_id")).collect();
        let arm = |treated| own.iter().filter(move |case| case.text("t") == treated);
        let values = ["1", "0"].into_iter().flat_map(arm).map(|case| case.number::<f64>(term));
        let answered = if values.clone().all(|value| value == 0.0 || value == 1.0) {
            let count = |treated| {
                let events = arm(treated).filter(|case| case.number::<f64>(term) == 1.0).count();
                [events.to_string(), arm(treated).count().to_string()]
            };
            let cells = [count("1"), count("0")].concat();
            let cells = vec![cells.iter().map(String::as_str).collect()];
            put("standardised_difference_of_proportions", &["x1", "n1", "x2", "n2"], &cells, &[])
        } else {
            let cells: Vec<Vec<&str>> =
                own.iter().map(|case| vec![case.text("t"), case.text(term)]).collect();
            put("standardised_difference_of_means", &["group", "dose"], &cells, &[])
        };
        compare(&mut comparison, row, &answered[0], &[("estimate", "estimate")], Tolerance::Relative(1e-10));
    }
    comparison.finish(20);
}
