//! Rows of one's own numbers through the methods.

use std::fs;
use std::path::PathBuf;

use crate::said::{refused, said};

/// A folder with one file of rows.
struct Rows {
    folder: tempfile::TempDir,
}

impl Rows {
    fn of(text: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("rows.csv"), text).unwrap();
        Self { folder }
    }

    fn input(&self) -> String {
        self.folder.path().join("rows.csv").to_str().unwrap().to_owned()
    }

    fn output(&self) -> PathBuf {
        self.folder.path().join("out.csv")
    }

    fn put(&self, method: &str, more: &[&str]) -> String {
        let input = self.input();
        said(&[&["calculate", method, "--input", &input], more].concat())
    }

    fn refused(&self, method: &str, more: &[&str]) -> String {
        let input = self.input();
        refused(&[&["calculate", method, "--input", &input], more].concat())
    }
}

#[test]
fn every_row_has_its_result_and_keeps_what_tells_it_apart() {
    let rows = Rows::of("\u{feff}centre,N,x\r\nA,120,3\r\n\"B, east\",45,0\r\n,,\r\n");
    let lines = rows.put("wilson", &["--level", "0.9"]);
    let lines: Vec<&str> = lines.lines().collect();
    assert_eq!(lines[0], "centre,N,x,level,estimate,lower,upper,method,reason");
    assert!(lines[1].starts_with("A,120,3,0.9,0.025,0."), "{}", lines[1]);
    assert!(lines[2].starts_with("\"B, east\",45,0,0.9,0,0,0."), "{}", lines[2]);
    assert!(lines[2].ends_with(",wilson,") && lines.len() == 3, "{lines:?}");
}

#[test]
fn numbers_are_written_with_all_their_digits() {
    // Wilson for 81 of 263: 0.2553 to 0.3662 (Newcombe, Stat Med 1998;17:857-872, table I; from memory).
    let rows = Rows::of("x,n\n81,263\n");
    let result = rows.put("wilson", &[]);
    let cells: Vec<&str> = result.lines().nth(1).unwrap().split(',').collect();
    let (lower, upper): (f64, f64) = (cells[4].parse().unwrap(), cells[5].parse().unwrap());
    assert_eq!(format!("{lower:.4} {upper:.4}"), "0.2553 0.3662");
    assert!(cells[4].len() >= 16 && cells[5].len() >= 16, "{result}");
}

#[test]
fn the_rows_of_a_set_have_one_result_and_keep_what_they_agree_on() {
    let rows = Rows::of(
        "set_id,outcome_name,centre,stratum,x1,n1,x2,n2\n\
         early,success,A,1,28,99,34,104\nearly,success,B,2,26,47,23,92\n\
         late,success,A,1,0,0,3,10\n",
    );
    let result = rows.put("mantel_haenszel_sato", &[]);
    let lines: Vec<&str> = result.lines().collect();
    assert_eq!(lines[0], "set_id,outcome_name,centre,level,estimate,lower,upper,method,reason");
    assert!(lines[1].starts_with("early,success,,0.95,0."), "{}", lines[1]);
    assert_eq!(lines[2], "late,success,A,0.95,,,,mantel_haenszel_sato,no stratum has cases in both arms");
    assert_eq!(lines.len(), 3);
}

#[test]
fn what_cannot_be_estimated_is_a_row_and_stops_nothing() {
    let rows = Rows::of("x1,n1,x2,n2\n0,10,3,12\n1,10,3,12\n");
    let result = rows.put("katz", &[]);
    let lines: Vec<&str> = result.lines().collect();
    assert_eq!(lines[1], "0,10,3,12,0.95,,,,katz,the first arm has no events");
    assert!(lines[2].starts_with("1,10,3,12,0.95,0.4,"), "{}", lines[2]);
    let rows = Rows::of("x1,n1,x2,n2\n0,10,0,12\n3,10,0,12\n");
    let result = rows.put("koopman", &[]);
    assert!(result.contains(",,0,Inf,koopman,no estimate: both sides of the ratio are 0"), "{result}");
    assert!(result.contains(",Inf,koopman,\n") && result.contains(",0.95,Inf,"), "{result}");
    assert!(!result.to_lowercase().contains("nan"));
}

#[test]
fn every_wrong_row_is_named_with_column_value_and_mend() {
    let rows = Rows::of("x,n\n1,10\n3,2\nNaN,4\n-1,5\n0.5,3\n,3\n1,2,3\n1,0\ninf,1\n1e+01,1E2\n");
    let told = rows.refused("wilson", &[]);
    for part in [
        "line 3, column x: 3 events cannot come from 2 cases; perhaps two columns are swapped",
        "line 4, column x: \"NaN\" is not a whole number",
        "line 5, column x: \"-1\" is not a whole number",
        "line 6, column x: \"0.5\" is not a whole number",
        "line 7, column x: nothing stands there",
        "line 8: the row has 3 fields where the header has 2",
        "line 9, column n: a count of events needs at least one case",
        "line 10, column x: \"inf\" is not a whole number",
    ] {
        assert!(told.contains(part), "{part}\n{told}");
    }
    // As R writes a hundred thousand.
    assert!(!told.contains("line 11"), "{told}");
}

#[test]
fn no_more_than_twenty_wrong_rows_are_told() {
    let rows = Rows::of(&format!("x,n\n{}", "-1,2\n".repeat(500)));
    let told = rows.refused("wilson", &[]);
    assert!(told.contains("line 21,") && !told.contains("line 22,"), "{told}");
    assert!(told.contains("there may be more"), "{told}");
}

#[test]
fn the_output_file_is_whole_or_is_not_there() {
    let rows = Rows::of("x,n\n1,10\n2,20\n");
    let output = rows.output();
    let output = output.to_str().unwrap();
    let printed = rows.put("wilson", &["--output", output]);
    assert_eq!(printed, format!("{output}: 2 results from 2 rows\n"));
    let before = fs::read_to_string(output).unwrap();
    assert_eq!(before, rows.put("wilson", &[]));
    // A wrong row far below leaves the old file, and no other.
    fs::write(rows.input(), format!("x,n\n{}9,3\n", "1,10\n".repeat(50_000))).unwrap();
    rows.refused("wilson", &["--output", output]);
    assert_eq!(fs::read_to_string(output).unwrap(), before);
    assert_eq!(fs::read_dir(rows.folder.path()).unwrap().count(), 2);
}

#[test]
fn a_header_that_does_not_suit_is_refused_with_the_mend() {
    let check = |header: &str, method: &str, more: &[&str], part: &str| {
        let told = Rows::of(&format!("{header}\n1,2,3,4\n")).refused(method, more);
        assert!(told.contains(part), "{header}: {told}");
    };
    check("x,y,z,w", "wilson", &[], "the column n is missing; wilson reads x, n, level");
    check("a,b,c,d", "katz", &[], "the columns x1, n1, x2, n2 are missing");
    check("x,n,X,w", "wilson", &[], "the column x stands twice");
    check("x,n,,w", "wilson", &[], "column 3 of the header has no name");
    check("x;n", "wilson", &[], "The columns are separated by semicolons");
    check("x\tn", "wilson", &[], "The columns are separated by tabs");
    check(
        "x,n,level,w",
        "wilson",
        &["--level", "0.9"],
        "level is given both beside the rows and as a column",
    );
    check("x,n,y,w", "wilson", &["--with", "day=3"], "day is no parameter of wilson; it takes level");
    check("x,n,y,w", "wilson", &["--with", "x=3"], "x is no parameter of wilson");
    assert!(Rows::of("").refused("wilson", &[]).contains("the input is empty"));
    assert!(Rows::of("x,n\n").refused("wilson", &[]).contains("a header and no rows"));
    assert!(Rows::of("x,n\n1,\"2\n").refused("wilson", &[]).contains("quotation mark is opened"));
    let told = Rows::of("x,n\n1,2\n").refused("wilson", &["--with", "level"]);
    assert!(told.contains("write COLUMN=VALUE"), "{told}");
}

#[test]
fn a_parameter_out_of_range_is_refused_with_the_mend() {
    let check = |text: &str, method: &str, more: &[&str], part: &str| {
        let told = Rows::of(text).refused(method, more);
        assert!(told.contains(part), "{told}");
    };
    for level in ["95", "0.05", "1", "NaN", "", "much"] {
        check("x,n\n1,9\n1,9\n", "wilson", &["--level", level], "the value given for level: ");
    }
    check("x,n,level\n1,9,95\n", "wilson", &[], "line 2, column level: a confidence level of 95");
    let arms = "x1,n1,x2,n2\n1,9,2,9\n";
    check(arms, "wald_difference_test", &["--with", "null=-3"], "a null difference of -3");
    check(arms, "wald_log_ratio_test", &["--with", "null=0"], "a null ratio of 0");
    let outcome = ["--with", "outcome=success", "--with", "margin=0.1"];
    check(arms, "mee_non_inferiority", &outcome, "\"success\" is not benefit (more is better) or harm");
    let margin = ["--with", "outcome=harm", "--with", "margin=-0.1"];
    check(arms, "mee_non_inferiority", &margin, "without a sign");
    let ratio = ["--with", "outcome=harm", "--with", "margin=0.5"];
    check(arms, "katz_non_inferiority", &ratio, "a benefit takes less than 1, a harm more");
}

#[test]
fn a_set_that_does_not_stand_together_is_told() {
    let head = "set_id,stratum,x1,n1,x2,n2\n";
    let check = |rows: &str, method: &str, more: &[&str], part: &str| {
        let told = Rows::of(&format!("{head}{rows}")).refused(method, more);
        assert!(told.contains(part), "{told}");
    };
    let back = "a,1,1,9,2,9\nb,1,1,9,2,9\na,2,1,9,2,9\n";
    check(back, "breslow_day", &[], "line 4, column set_id: \"a\" comes back after another set");
    let twice = "a,1,1,9,2,9\na,1,1,9,2,9\n";
    check(twice, "breslow_day", &[], "line 3, column stratum: \"1\" stands twice in this set, on line 2 too");
    check(",1,1,9,2,9\n", "breslow_day", &[], "line 2, column set_id: nothing stands there");
    let level = Rows::of("set_id,level,x1,n1,x2,n2\na,0.9,1,9,2,9\na,0.95,1,9,2,9\n");
    let told = level.refused("mantel_haenszel_sato", &[]);
    assert!(told.contains("line 3, column level: \"0.95\" differs from \"0.9\" on line 2"), "{told}");
    let mixed = Rows::of("group,dose\n1,3\n2,4\n0,5\n").refused("rank_sum", &[]);
    assert!(
        mixed.contains("line 4, column group: \"2\" and \"0\" both stand for the second group"),
        "{mixed}"
    );
    let zero = Rows::of("group,dose\n1,3\n2,0\n").refused("geometric_mean_ratio_welch", &[]);
    assert!(zero.contains("line 3, column dose: \"0\" has no logarithm"), "{zero}");
}

#[test]
fn rows_without_a_set_are_one_set() {
    let rows = Rows::of("group,dose\n1,3.5\n2,4\n1,2\n2,9\n");
    let result = rows.put("rank_sum_exact", &[]);
    assert_eq!(result.lines().next().unwrap(), "pairs_won,p_less,p_greater,p_two_sided,method,reason");
    assert_eq!(result.lines().count(), 2);
    let medians = rows.put("median", &[]);
    assert_eq!(medians, "group,estimate,method,reason\n1,2.75,median,\n2,6.5,median,\n");
}

#[test]
fn an_unknown_method_gets_the_nearest_name_and_a_missing_file_is_broken() {
    let rows = Rows::of("x,n\n1,2\n");
    let told = rows.refused("clopper_person", &[]);
    assert!(told.contains("did you mean clopper_pearson?"), "{told}");
    let nowhere = ["calculate", "wilson", "--input", "nowhere/rows.csv"];
    let outcome = quietbeam::cli::run_words(&nowhere, &mut Vec::new());
    assert!(
        matches!(outcome, Err(quietbeam::cli::Failure::Broken(text)) if text.contains("nowhere/rows.csv cannot be read"))
    );
    let input = rows.input();
    let nowhere = ["calculate", "wilson", "--input", &input, "--output", "nowhere/out.csv"];
    let outcome = quietbeam::cli::run_words(&nowhere, &mut Vec::new());
    assert!(
        matches!(outcome, Err(quietbeam::cli::Failure::Broken(text)) if text.contains("cannot be written"))
    );
}

#[test]
fn the_list_tells_columns_and_sources_to_people_and_programs() {
    let list = said(&["calculate", "list"]);
    let json: serde_json::Value = serde_json::from_str(&said(&["calculate", "list", "--json"])).unwrap();
    for calculation in json.as_array().unwrap() {
        let name = calculation["name"].as_str().unwrap();
        assert!(list.contains(&format!("\n{name}: ")) || list.starts_with(&format!("{name}: ")), "{name}");
        assert!(!calculation["source"].as_str().unwrap().is_empty(), "{name}");
        let outputs = calculation["outputs"].as_array().unwrap();
        assert!(outputs.iter().any(|output| output["name"] == "reason"), "{name}");
        let one = said(&["calculate", "list", name]);
        for column in calculation["inputs"].as_array().unwrap() {
            assert!(one.contains(column["takes"].as_str().unwrap()), "{name}: {column}");
        }
    }
    assert!(refused(&["calculate", "list", "wilsen"]).contains("did you mean wilson?"));
    assert!(refused(&["calculate", "wilson"]).contains("--input"));
}

#[test]
fn covariates_are_named_beside_the_rows() {
    let rows = Rows::of("event,age,centre\n1,60,A\n0,70,B\n0,50,A\n1,55,B\n0,65,A\n1,72,B\n0,58,B\n1,49,A\n");
    let check = |more: &[&str], part: &str| {
        let told = rows.refused("logistic_regression", more);
        assert!(told.contains(part), "{told}");
    };
    check(&["--with", "variance=model"], "the column terms is missing");
    check(&["--with", "variance=model", "--with", "terms=age weight"], "the column weight is missing");
    check(&["--with", "variance=hc9", "--with", "terms=age"], "\"hc9\" is not model, hc0, hc1");
    check(
        &["--with", "variance=model", "--with", "terms= "],
        "the value given for terms: nothing stands there",
    );
    let no_centre = Rows::of("event,age\n1,60\n0,70\n0,50\n1,40\n");
    let cr2 = ["--with", "variance=cr2", "--with", "terms=age"];
    let told = no_centre.refused("logistic_regression", &cr2);
    assert!(told.contains("\"cr2\" needs the column centre"), "{told}");
    let fitted = rows.put("logistic_regression", &["--with", "variance=model", "--with", "terms=age centre"]);
    let terms: Vec<&str> = fitted.lines().map(|line| line.split(',').nth(3).unwrap()).collect();
    assert_eq!(terms, ["term", "intercept", "age", "centre B"], "{fitted}");
}
