//! What commands say: help, codebook, refusals.

use quietbeam::cli::{Failure, run_words};
use serde_json::Value;

/// Runs a command and gives back what it printed.
pub(crate) fn said(words: &[&str]) -> String {
    let mut out = Vec::new();
    run_words(words, &mut out).unwrap_or_else(|failure| panic!("{words:?}: {failure}"));
    String::from_utf8(out).unwrap()
}

/// Runs a command that must be refused, and gives back its sentence.
pub(crate) fn refused(words: &[&str]) -> String {
    match run_words(words, &mut Vec::new()) {
        Err(Failure::Refused(sentence)) => sentence,
        Err(Failure::Broken(sentence)) => panic!("{words:?} is broken, not refused: {sentence}"),
        Ok(()) => panic!("{words:?} must be refused"),
    }
}

/// Adds a centre to a registry through its commands, and gives back its code.
pub(crate) fn centre_added(said: impl Fn(&[&str]) -> String) -> String {
    said(&["centre", "add", "--name", "Harbour Rhythm Unit", "--kind", "community", "--volume", "200_499"]);
    let centres: Value = serde_json::from_str(&said(&["centre", "list", "--json"])).unwrap();
    centres[0]["code"].as_str().unwrap().to_owned()
}

#[test]
fn every_command_has_help_with_an_example() {
    let commands = [
        "serve",
        "demo",
        "import",
        "cut",
        "compare",
        "summary",
        "member",
        "centre",
        "dictionary",
        "check",
        "dose-report",
        "calculate",
        "plan",
        "export",
        "simulate",
    ];
    let all = said(&["--help"]);
    for command in commands {
        assert!(all.contains(command), "{command} is missing from the list");
        let help = said(&[command, "--help"]);
        assert!(help.contains("Example: quietbeam "), "{command}: {help}");
    }
    assert!(all.contains("Exit codes:"), "{all}");
}

#[test]
fn an_unknown_word_is_refused_with_the_usage() {
    assert!(refused(&["compute"]).contains("unrecognized subcommand"));
    assert!(
        refused(&["compare", "--margin", "3"]).contains("--success-margin")
            || refused(&["compare", "--margin", "3"]).contains("unexpected argument")
    );
}

#[test]
fn the_codebook_is_the_same_in_three_forms() {
    let markdown = said(&["dictionary"]);
    let rows = said(&["dictionary", "--format", "csv"]);
    let json: serde_json::Value = serde_json::from_str(&said(&["dictionary", "--json"])).unwrap();
    let mut variables = 0;
    for group in json["groups"].as_array().unwrap() {
        for variable in group["variables"].as_array().unwrap() {
            let key = variable["key"].as_str().unwrap();
            assert!(markdown.contains(&format!("### `{key}` ")), "{key} is not in the Markdown");
            assert!(rows.contains(&format!(",{key},")), "{key} is not in the rows");
            variables += 1;
        }
    }
    assert_eq!(csv::Reader::from_reader(rows.as_bytes()).records().count(), variables);
    for rule in json["rules"].as_array().unwrap() {
        assert!(markdown.contains(rule["id"].as_str().unwrap()));
    }
}

#[test]
fn a_margin_in_points_is_refused_with_the_mend() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().to_str().unwrap();
    assert_eq!(
        refused(&["compare", "--data", data, "--success-margin", "3"]),
        "success_margin is 3, which as a proportion is 300 %; if you mean 3 points, write 0.03"
    );
}

#[test]
fn a_comparison_needs_a_cut_and_a_cut_needs_a_case() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().to_str().unwrap();
    assert_eq!(
        refused(&["compare", "--data", data]),
        "there is no data cut yet; take one with: quietbeam cut take --name NAME"
    );
    assert_eq!(
        refused(&["cut", "take", "--data", data, "--name", "first"]),
        "there is no case to cut; submit or import cases first"
    );
    assert!(said(&["cut", "list", "--data", data]).contains("There is no cut yet"));
}

#[test]
fn postgresql_with_tls_asks_for_the_build_that_has_it() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().to_str().unwrap();
    let address = "postgres://registry@db.example/registry?sslmode=require";
    let outcome = run_words(&["cut", "list", "--data", data, "--database", address], &mut Vec::new());
    let sentence = outcome.unwrap_err().to_string();
    assert!(sentence.contains("postgres-tls"), "{sentence}");
}
