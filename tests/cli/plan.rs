//! A plan is written down, checked, registered, amended and carried out.

use std::fs;

use crate::said::{refused, said};

#[test]
fn the_example_is_a_plan_that_can_be_carried_out() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (file, data) = (path("plan.toml"), path("data"));
    let example = said(&["plan", "example"]);
    fs::write(&file, &example).unwrap();
    let checked = said(&["plan", "check", &file]);
    assert!(
        checked.contains("can be carried out") && checked.contains("Acute success with power 0.8"),
        "{checked}"
    );
    let registered = said(&["plan", "register", &file, "--data", &data]);
    assert!(
        registered.contains("Plan 1.1") && registered.contains("0 cases in its scope entered"),
        "{registered}"
    );

    fs::write(&file, example.replacen("margin = 0.03", "margin = 0.02", 1)).unwrap();
    let amended =
        said(&["plan", "amend", "1", &file, "--reason", "The group agreed on less.", "--data", &data]);
    assert!(amended.contains("Plan 1.2"), "{amended}");
    let shown = said(&["plan", "show", "1", "--data", &data]);
    assert!(shown.contains("/endpoints/0/margin: 0.03 became 0.02"), "{shown}");
    assert!(shown.contains("Amended: The group agreed on less."), "{shown}");
    let listed = said(&["plan", "list", "--data", &data]);
    assert!(listed.find("Plan 1.2").unwrap() < listed.find("Plan 1.1").unwrap(), "{listed}");
    // Written as JSON it is the same plan.
    let json = said(&["plan", "show", "1.2", "--json", "--data", &data]);
    fs::write(&file, json).unwrap();
    let same = refused(&["plan", "amend", "1", &file, "--reason", "The same once more.", "--data", &data]);
    assert!(same.contains("nothing differs"), "{same}");
}

#[test]
fn what_must_be_mended_in_a_plan_is_said_line_by_line() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("plan.toml").to_str().unwrap().to_owned();
    let example = said(&["plan", "example"]);
    let wrong = example.replacen("worse_when = \"lower\"", "worse_when = \"higher\"", 1).replacen(
        "level = 0.95",
        "level = 95",
        1,
    );
    fs::write(&file, wrong).unwrap();
    let sentence = refused(&["plan", "check", &file]);
    let lines: Vec<&str> = sentence.lines().collect();
    assert_eq!(lines.len(), 2, "{sentence}");
    assert!(
        lines[0].starts_with("level: is 95;") && lines[1].starts_with("endpoints.0.worse_when: "),
        "{sentence}"
    );
    fs::write(&file, example.replacen("title", "titel", 1)).unwrap();
    assert!(refused(&["plan", "check", &file]).contains("unknown field `titel`"));
    assert!(refused(&["compare", "--plan", "1", "--success-margin", "0.03"]).contains("cannot be used with"));
}
