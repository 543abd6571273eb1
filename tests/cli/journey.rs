//! From an empty folder to a published summary, step by step as the README tells.

use std::fs;
use std::path::Path;

use quietbeam::demo::Scenario;
use quietbeam_schema::ids::CaseCode;

use crate::said::{centre_added, refused, said};

struct Place(tempfile::TempDir);

impl Place {
    fn path(&self, name: &str) -> String {
        self.0.path().join(name).to_str().unwrap().to_owned()
    }

    fn write(&self, name: &str, text: &str) -> String {
        let path = self.path(name);
        fs::write(&path, text).unwrap();
        path
    }

    /// Runs a command on this place's registry.
    fn said(&self, words: &[&str]) -> String {
        let data = self.path("data");
        let words: Vec<&str> = words.iter().copied().chain(["--data", data.as_str()]).collect();
        said(&words)
    }

    fn refused(&self, words: &[&str]) -> String {
        let data = self.path("data");
        let words: Vec<&str> = words.iter().copied().chain(["--data", data.as_str()]).collect();
        refused(&words)
    }
}

fn member(place: &Place, role: &str, name: &str, password: &str) {
    place.said(&[
        "member",
        "add",
        "--role",
        role,
        "--sign-in",
        name,
        "--name",
        "A Person",
        "--password-file",
        password,
    ]);
}

/// One centre with its codes and its three files.
fn centre_with_files(place: &Place) -> String {
    let code = centre_added(|words| place.said(words));
    let network = Scenario::generate(3, 200);
    let sender = &network.centres[0];
    let number = sender.case_rows().to_string();
    let codes: Vec<CaseCode> = place
        .said(&["centre", "codes", "--centre", &code, "--number", &number])
        .lines()
        .map(|line| line.parse().unwrap())
        .collect();
    let files = sender.files(&codes);
    place.write("cases.csv", &files.cases);
    place.write("complications.csv", &files.complications);
    place.write("follow_ups.csv", &files.follow_ups);
    code
}

/// The first member must be an administrator with a long password; then the others.
fn staffed(place: &Place) -> String {
    let password = place.write("password", "a calm sentence of one's own\n");
    let short = place.write("short", "short\n");
    let add = |role: &str, file: &str| {
        let words = [
            "member",
            "add",
            "--role",
            role,
            "--sign-in",
            "first",
            "--name",
            "A Person",
            "--password-file",
            file,
        ];
        place.refused(&words)
    };
    assert_eq!(add("society", &password), "the first member must be an administrator");
    let sentence = add("administrator", &short);
    assert!(sentence.contains("at least 15 characters"), "{sentence}");
    for (role, name) in
        [("administrator", "first"), ("society", "author"), ("society", "publisher"), ("monitor", "monitor")]
    {
        member(place, role, name, &password);
    }
    assert_eq!(place.said(&["member", "list"]).lines().count(), 4);
    password
}

#[test]
fn from_an_empty_folder_to_a_published_summary() {
    let place = Place(tempfile::tempdir().unwrap());
    let password = staffed(&place);
    let centre = centre_with_files(&place);
    let (cases, events, seen) =
        (place.path("cases.csv"), place.path("complications.csv"), place.path("follow_ups.csv"));
    let files = ["--cases", &cases, "--complications", &events, "--follow-ups", &seen];
    let import = |more: &[&str]| -> Vec<String> {
        ["import", "--centre", &centre]
            .iter()
            .chain(files.iter())
            .chain(more)
            .map(ToString::to_string)
            .collect()
    };
    let run = |words: &[String]| place.said(&words.iter().map(String::as_str).collect::<Vec<_>>());
    assert!(said(&["check", &cases, &events, &seen]).contains("0 refused"));
    assert!(run(&import(&["--dry-run"])).contains("Would store: "));
    assert!(run(&import(&[])).contains("Stored: "));
    assert!(run(&import(&[])).contains("were imported before"));

    let taken = place.said(&["cut", "take", "--name", "spring"]);
    assert!(taken.contains("spring") && taken.contains("hash "), "{taken}");
    let compared = place.said(&["compare", "--cut", "spring"]);
    for part in [
        "WITHOUT A PLAN",
        "ACUTE SUCCESS, margin 3 points",
        "Cases were not randomised",
        "Data cut \"spring\"",
    ] {
        assert!(compared.contains(part), "{part} is missing:\n{compared}");
    }
    publish(&place, &password);
}

fn publish(place: &Place, password: &str) {
    let by = |name: &'static str| ["--as", name, "--password-file", password];
    let with = |words: &[&str], name: &'static str| -> Vec<String> {
        words.iter().chain(by(name).iter()).map(ToString::to_string).collect()
    };
    let run = |words: Vec<String>| place.said(&words.iter().map(String::as_str).collect::<Vec<_>>());
    let fail = |words: Vec<String>| place.refused(&words.iter().map(String::as_str).collect::<Vec<_>>());
    let draft: serde_json::Value =
        serde_json::from_str(&run(with(&["summary", "draft", "--cut", "spring", "--json"], "author")))
            .unwrap();
    let (id, hash) = (draft["id"].as_str().unwrap(), draft["approval_hash"].as_str().unwrap());
    assert!(fail(with(&["summary", "publish", id], "publisher")).contains("draft"));
    assert!(fail(with(&["summary", "approve", id, "--hash", hash], "author")).contains("may not"));
    run(with(&["summary", "approve", id, "--hash", hash], "monitor"));
    let sentence = fail(with(&["summary", "publish", id], "author"));
    assert!(sentence.contains("publish"), "who composed does not publish: {sentence}");
    assert!(
        fail(with(&["summary", "publish", id], "monitor")).contains("may not"),
        "who approved does not publish"
    );
    assert!(run(with(&["summary", "publish", id], "publisher")).contains("safety summary 1"));
    let shown = place.said(&["summary", "show", "1"]);
    let shown: serde_json::Value = serde_json::from_str(&shown).unwrap();
    assert_eq!(shown["disclosure"]["threshold"], 11);
    // One centre alone: nothing but zeros may be shown.
    assert!(only_hidden_or_zero(&shown["lines"]), "{}", shown["lines"]);
    run(with(&["summary", "withdraw", id, "--reason", "a file was imported twice"], "publisher"));
    assert!(place.refused(&["summary", "show", "1"]).contains("a file was imported twice"));
}

/// Whether no count but zero is shown anywhere.
fn only_hidden_or_zero(value: &serde_json::Value) -> bool {
    match value {
        serde_json::Value::Object(fields) => fields
            .iter()
            .all(|(key, value)| if key == "shown" { value == 0 } else { only_hidden_or_zero(value) }),
        serde_json::Value::Array(items) => items.iter().all(only_hidden_or_zero),
        _ => true,
    }
}

#[test]
fn a_registry_keeps_its_token_key_and_database_to_its_owner() {
    use std::os::unix::fs::PermissionsExt;
    let place = Place(tempfile::tempdir().unwrap());
    place.said(&["centre", "list"]);
    let mode = fs::metadata(Path::new(&place.path("data"))).unwrap().permissions().mode();
    assert_eq!(mode & 0o077, 0, "others can look into the data folder");
}
