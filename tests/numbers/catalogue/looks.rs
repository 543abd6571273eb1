//! Interim looks and run lengths through the catalogue.

use quietbeam_analysis::calculate::{Sheet, find};

use super::{Answered, SOURCE, compare, one, put};
use crate::group_sequential::plans;
use crate::reference::{Comparison, Row, Tolerance, rows};

/// What the catalogue says about the looks of a plan: spending first, then the boundaries it gives.
fn look_by_look(plan: &[Row]) -> Vec<Answered> {
    let two_sided = plan[0].text("sides") == "two";
    let alpha: f64 = plan[0].number("alpha");
    let alpha = (if two_sided { alpha / 2.0 } else { alpha }).to_string();
    let fractions: Vec<Vec<&str>> = plan.iter().map(|row| vec![row.text("fraction")]).collect();
    let alone = |name: &str| put(name, &["fraction"], &fractions, &[("alpha", &alpha)]);
    let sides = if two_sided { "two_sided" } else { "one_sided" };
    let spent = match plan[0].text("method") {
        "constant_pocock" => return alone(&format!("pocock_{sides}_boundaries")),
        "constant_obf" => return alone(&format!("obrien_fleming_{sides}_boundaries")),
        "ld_obf" => alone("obrien_fleming_type_spending"),
        "ld_pocock" => alone("pocock_type_spending"),
        _ => {
            let given = [("alpha", alpha.as_str()), ("exponent", "2")];
            put("power_family_spending", &["fraction"], &fractions, &given)
        }
    };
    let rows: Vec<Vec<&str>> =
        spent.iter().map(|look| vec![look["fraction"].as_str(), look["spent"].as_str()]).collect();
    put(&format!("{sides}_boundaries"), &["fraction", "spent"], &rows, &[])
}

#[test]
fn boundaries() {
    let mut comparison = Comparison::new("boundaries", SOURCE);
    for plan in &plans() {
        let answered = look_by_look(plan);
        assert_eq!(answered.len(), plan.len());
        for (row, look) in plan.iter().zip(&answered) {
            assert_eq!(look["look"], row.text("look"));
            let pairs = [("z", "boundary"), ("nominal_p", "nominal_p"), ("fraction", "fraction")];
            compare(&mut comparison, row, look, &pairs, Tolerance::Absolute(1e-9));
        }
    }
    comparison.finish(1_000);
}

#[test]
fn inflation() {
    let mut comparison = Comparison::new("inflation by the catalogue", SOURCE);
    for row in &rows("group_sequential_inflation.csv") {
        let looks = row.text("fractions").split(' ').zip(row.text("spent").split(' '));
        let looks: Vec<Vec<&str>> = looks.map(|(fraction, spent)| vec![fraction, spent]).collect();
        let power = [("power", row.text("power"))];
        let answered = put("group_sequential_inflation", &["fraction", "spent"], &looks, &power);
        let pairs = [("inflation", "inflation")];
        compare(&mut comparison, row, &answered[0], &pairs, Tolerance::Absolute(1e-9));
    }
    comparison.finish(190);
}

#[test]
fn a_look_without_a_boundary_says_why_and_a_wrong_one_is_named() {
    let rows = [vec!["0.5", "0"], vec!["1", "0.025"]];
    let answered = put("two_sided_boundaries", &["fraction", "spent"], &rows, &[]);
    assert_eq!((answered[0]["z"].as_str(), answered[1]["reason"].as_str()), ("", ""));
    assert!(answered[0]["reason"].contains("nothing to spend"), "{answered:?}");
    let given = [("alpha".to_owned(), "0.025".to_owned())];
    let mut sheet = Sheet::new(find("pocock_type_spending").unwrap(), &["fraction"], &given).unwrap();
    for (line, fraction) in [(2, "0.5"), (3, "0.4"), (4, "1")] {
        assert!(sheet.take(line, &[fraction]).unwrap().is_none());
    }
    let trouble = sheet.finish().err().unwrap().to_string();
    assert!(
        trouble.starts_with("line 3, column fraction: the information fraction 0.4 after 0.5"),
        "{trouble}"
    );
}

#[test]
fn run_lengths() {
    let mut comparison = Comparison::new("run lengths", SOURCE);
    for row in rows("run_length.csv").iter().filter(|row| row.text("route") == "lattice") {
        let chart =
            ["expected", "odds_ratio", "threshold", "actual"].map(|column| (column, row.text(column)));
        let average = one("average_run_length", &chart);
        compare(&mut comparison, row, &average, &[("estimate", "average")], Tolerance::Relative(1e-10));
        let cells = [chart.as_slice(), &[("n", row.text("cases"))]].concat();
        let within = one("signal_within", &cells);
        compare(&mut comparison, row, &within, &[("estimate", "within")], Tolerance::Absolute(1e-12));
    }
    comparison.finish(160);
    let wanted = [("expected", "0.02"), ("odds_ratio", "2"), ("run_length", "1000")];
    let planned = one("threshold_for_run_length", &wanted);
    let chart = [("expected", "0.02"), ("odds_ratio", "2"), ("threshold", planned["threshold"].as_str())];
    let reached = one("average_run_length", &chart);
    assert_eq!(reached["estimate"], planned["in_control_run_length"]);
    assert!(reached["estimate"].parse::<f64>().unwrap() >= 1_000.0);
}
