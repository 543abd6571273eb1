//! Every method names a source that REFERENCES.md defines, and a file that exists.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use crate::reference::folder;

fn analysis() -> PathBuf {
    folder().join("../../analysis")
}

fn sources(folder: &Path, found: &mut Vec<(PathBuf, String)>) {
    for entry in fs::read_dir(folder).expect("a source folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push((path.clone(), fs::read_to_string(&path).expect("a source file")));
        }
    }
}

pub(crate) fn methods() -> Vec<(PathBuf, String)> {
    let mut found = Vec::new();
    sources(&analysis().join("src/methods"), &mut found);
    found
}

/// Keys in square brackets of one line.
pub(crate) fn keys(line: &str) -> impl Iterator<Item = &str> {
    line.split('[').skip(1).filter_map(|rest| Some(rest.split_once(']')?.0))
}

#[test]
fn every_source_key_is_used_and_defined() {
    let text = fs::read_to_string(analysis().join("REFERENCES.md")).expect("REFERENCES.md");
    let defined: BTreeSet<String> = text
        .lines()
        .filter_map(|line| Some(line.strip_prefix("- **[")?.split_once(']')?.0.to_owned()))
        .collect();
    let used: BTreeSet<String> = methods()
        .iter()
        .flat_map(|(_, source)| source.lines())
        .filter_map(|line| line.trim_start().strip_prefix("/// Source: "))
        .flat_map(|line| keys(line).map(str::to_owned).collect::<Vec<_>>())
        .collect();
    assert!(!used.is_empty());
    let undefined: Vec<_> = used.difference(&defined).collect();
    let unused: Vec<_> = defined.difference(&used).collect();
    assert!(undefined.is_empty(), "used but not in REFERENCES.md: {undefined:?}");
    assert!(unused.is_empty(), "in REFERENCES.md but not used: {unused:?}");
}

#[test]
fn the_five_lines_of_a_method_come_together_and_in_order() {
    let labels = ["Formula", "Units", "Edges", "Source", "Checked"];
    let mut seen = 0;
    for (path, source) in methods() {
        let found: Vec<&str> = source
            .lines()
            .filter_map(|line| line.trim_start().strip_prefix("/// "))
            .filter_map(|line| labels.into_iter().find(|l| line.starts_with(&format!("{l}:"))))
            .collect();
        for group in found.chunks(5) {
            assert_eq!(group, labels, "{}", path.display());
            seen += 1;
        }
    }
    assert!(seen >= 15, "only {seen} documented methods found");
}

#[test]
fn every_checked_file_exists() {
    for (path, source) in methods() {
        let named = source.split(|c: char| !(c.is_alphanumeric() || "/._".contains(c)));
        for file in named.filter(|word| word.starts_with("tests/numbers/")) {
            let file = file.trim_end_matches('.');
            assert!(folder().join("../..").join(file).exists(), "{}: {file}", path.display());
        }
    }
}
