//! The house rules that no lint holds: sizes, the direction of imports, where
//! the outside world may be touched, and what may never be written down.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// The project's root folder.
fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned()
}

/// Every file below a folder with one of the endings, with its text.
fn files(folder: &str, endings: &[&str]) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut waiting = vec![root().join(folder)];
    while let Some(folder) = waiting.pop() {
        for entry in fs::read_dir(&folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display())) {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if path.is_dir() {
                if name != "target" && name != ".git" {
                    waiting.push(path);
                }
            } else if endings.iter().any(|ending| name.ends_with(ending)) {
                let text = fs::read_to_string(&path).unwrap_or_default();
                found.push((path.strip_prefix(root()).unwrap().to_string_lossy().into_owned(), text));
            }
        }
    }
    assert!(!found.is_empty(), "no {endings:?} below {folder}: the check would pass on nothing");
    found.sort();
    found
}

/// The text before the file's own test module.
fn shipped(text: &str) -> &str {
    text.split("#[cfg(test)]\nmod tests {").next().unwrap()
}

fn refuse(offenders: Vec<String>, rule: &str) {
    assert!(offenders.is_empty(), "{rule}\n{}", offenders.join("\n"));
}

/// Lines of `folder` that contain one of the words, outside comments.
fn mentions(folder: &str, words: &[&str], allowed: &[&str]) -> Vec<String> {
    let mut found = Vec::new();
    for (path, text) in files(folder, &[".rs"]) {
        if path.ends_with("/tests.rs") || allowed.iter().any(|prefix| path.starts_with(prefix)) {
            continue;
        }
        for (number, line) in shipped(&text).lines().enumerate() {
            let code = line.trim_start();
            if !code.starts_with("//") && words.iter().any(|word| code.contains(word)) {
                found.push(format!("{path}:{}: {code}", number + 1));
            }
        }
    }
    found
}

#[test]
fn no_file_is_longer_than_500_lines() {
    let long = files(".", &[".rs", ".css", ".js"])
        .into_iter()
        .map(|(path, text)| (path, shipped(&text).lines().count()))
        .filter(|(_, lines)| *lines > 500)
        .map(|(path, lines)| format!("{path}: {lines}"))
        .collect();
    refuse(long, "A file has one job and at most 500 lines; split these:");
}

#[test]
fn the_core_touches_nothing_outside() {
    let outside = [
        "std::fs",
        "TcpStream",
        "std::env",
        "std::process",
        "std::time",
        "rand::",
        "diesel",
        "actix",
        "chrono::",
        "tracing::",
    ];
    let mut found = mentions("schema/src", &outside, &[]);
    found.extend(mentions("analysis/src", &outside, &[]));
    refuse(found, "schema and analysis are pure: no input or output, clock, randomness, SQL or HTTP:");
}

#[test]
fn imports_point_one_way() {
    let mut found = mentions("schema/src", &["quietbeam_analysis", "quietbeam::"], &[]);
    found.extend(mentions("analysis/src", &["quietbeam::"], &[]));
    found.extend(mentions("analysis/src/methods", &["quietbeam_schema", "crate::study"], &[]));
    refuse(found, "schema knows nobody, methods know no registry, analysis knows no backend:");
}

#[test]
fn the_database_is_spoken_to_in_the_store_alone() {
    refuse(
        mentions("backend/src", &["diesel"], &["backend/src/store/"]),
        "diesel lives in backend/src/store and nowhere else:",
    );
}

#[test]
fn the_clock_and_chance_come_from_one_place() {
    let words =
        ["SystemTime::now", "Utc::now", "Local::now", "getrandom::", "OsRng", "rand::rng(", "thread_rng"];
    refuse(
        mentions("backend/src", &words, &["backend/src/clock.rs"]),
        "the wall clock and the random source are read in backend/src/clock.rs alone:",
    );
}

/// The API's document knows a body or an answer by its name alone, and of two the later one takes
/// the place of the other.
#[test]
fn no_two_bodies_or_answers_of_the_api_share_a_name() {
    let mut names = BTreeMap::<String, Vec<String>>::new();
    for (path, text) in files("backend/src/api", &[".rs"]) {
        let described = text
            .split("#[derive(")
            .skip(1)
            .filter(|rest| rest.lines().next().is_some_and(|derived| derived.contains("ToSchema")));
        for rest in described {
            let named = rest.split("struct ").nth(1).or_else(|| rest.split("enum ").nth(1)).unwrap();
            let name: String = named.chars().take_while(|c| c.is_alphanumeric()).collect();
            names.entry(name).or_default().push(path.clone());
        }
    }
    assert!(names.len() > 30, "only {} are found", names.len());
    let twice = names.into_iter().filter(|(_, paths)| paths.len() > 1);
    refuse(
        twice.map(|(name, paths)| format!("{name}: {}", paths.join(", "))).collect(),
        "a name stands for two bodies or answers",
    );
}

#[test]
fn nothing_is_left_undone_in_the_code() {
    let marks = [
        ["to", "do!("].concat(),
        ["unimple", "mented!("].concat(),
        ["FIX", "ME"].concat(),
        ["#[ig", "nore"].concat(),
    ];
    let marks: Vec<&str> = marks.iter().map(String::as_str).collect();
    refuse(mentions(".", &marks, &[]), "finish it, or take it out and say so:");
}

#[test]
fn the_top_folder_holds_what_it_should() {
    let expected = [
        "Cargo.lock",
        "Cargo.toml",
        "DEVELOPERS.md",
        "LICENSE",
        "README.md",
        "analysis",
        "backend",
        "clippy.toml",
        "deny.toml",
        "deploy",
        // Left by the demo and by the other commands when they are run here; never committed.
        "quietbeam-data",
        "quietbeam-demo",
        "rustfmt.toml",
        "schema",
        "target",
        "tests",
    ];
    let found = fs::read_dir(root())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|name| !name.starts_with('.') && !expected.contains(&name.as_str()))
        .collect();
    refuse(found, "these do not belong at the top:");
}
