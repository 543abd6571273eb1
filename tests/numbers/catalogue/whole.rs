//! No method is missing from the catalogue, and every entry says what is so.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use quietbeam_analysis::calculate::{Calculation, Column, Need, Role, Shape, Sheet, catalogue};

use crate::bibliography::{keys, methods};
use crate::reference::folder;

/// Methods that stand in no catalogue, and why.
const LEFT_OUT: &[(&str, &str)] = &[
    ("fixed_sequence", "takes conclusions with their reasons; fixed_sequence_adjusted says it by p values"),
    ("reach", "looks at hidden cells of several tables, which no list of rows is"),
    ("decide", "stands in every calculation of non-inferiority, beside the interval that decides"),
    ("decide_ratio", "the same for ratios"),
    ("claim", "joins the conclusions of two populations, which are two rows"),
    ("protect", "hides cells of several tables that share their margins"),
    ("percentile_interval", "needs the statistic to resample, and a seed"),
    ("bca_interval", "the same"),
    ("attack", "reads a whole release, which is no sheet of columns"),
    ("finest", "chooses how a number of a release is shown"),
    (
        "log_ratio_covariates_sampled",
        "one effect of the entry that gives them all, with cases beside the model",
    ),
];

/// Methods whose entry is still to be written.
const NOT_YET: &[&str] = &[];

/// Names of public functions whose doc has the five lines, with the keys of their sources.
fn documented() -> BTreeMap<String, BTreeSet<String>> {
    let mut found = BTreeMap::new();
    for (_, source) in methods() {
        let mut sources = BTreeSet::new();
        for line in source.lines() {
            if let Some(line) = line.strip_prefix("/// Source: ") {
                sources = keys(line).map(str::to_owned).collect();
            }
            if let Some(rest) = line.strip_prefix("pub fn ") {
                let name = rest.split(['(', '<']).next().unwrap().to_owned();
                if !sources.is_empty() {
                    found.insert(name, std::mem::take(&mut sources));
                }
            }
        }
    }
    found
}

/// The text of every family, without its imports.
fn families() -> String {
    let folder = folder().join("../../analysis/src/calculate");
    let mut text = String::new();
    for entry in fs::read_dir(folder).expect("the catalogue") {
        let source = fs::read_to_string(entry.unwrap().path()).unwrap();
        let mut importing = false;
        for line in source.lines() {
            importing |= line.starts_with("use ");
            if !importing {
                text.push_str(line);
                text.push('\n');
            }
            importing &= !line.ends_with(';');
        }
    }
    text
}

fn names_in(text: &str) -> BTreeSet<&str> {
    text.split(|letter: char| !(letter.is_alphanumeric() || letter == '_')).collect()
}

#[test]
fn every_method_is_in_the_catalogue_or_says_why_not() {
    // A calculation may be called like a method without calling it.
    let text: String = families().split('"').step_by(2).collect();
    let named = names_in(&text);
    let documented = documented();
    assert!(documented.len() > 70, "{}", documented.len());
    let left_out: BTreeSet<&str> = LEFT_OUT.iter().map(|(name, _)| *name).collect();
    let known = |name: &str| named.contains(name) || left_out.contains(name) || NOT_YET.contains(&name);
    let missing: Vec<&String> = documented.keys().filter(|name| !known(name.as_str())).collect();
    assert!(missing.is_empty(), "no entry in analysis/src/calculate and no reason here: {missing:?}");
    for name in NOT_YET {
        assert!(
            documented.contains_key(*name) && !named.contains(*name),
            "{name} has its entry: take it out here"
        );
    }
    for (name, reason) in LEFT_OUT {
        assert!(documented.contains_key(*name), "{name} ({reason}) is no method any more");
    }
}

/// A source key stands in a name's entry because the method behind it stands on that source.
#[test]
fn an_entry_names_the_sources_of_its_method() {
    let text = families();
    let documented = documented();
    for calculation in catalogue() {
        let opening = format!("\"{}\"", calculation.name());
        let start = text.find(&opening).unwrap_or_else(|| panic!("{opening} is in no family"));
        let entry = &text[start..];
        let entry = &entry[..entry[1..].find("C::new(").map_or(entry.len(), |end| end + 1)];
        let sources: BTreeSet<&str> = names_in(entry)
            .into_iter()
            .filter_map(|name| documented.get(name))
            .flatten()
            .map(String::as_str)
            .collect();
        // Some entries call a function of their family, which calls the method.
        let all: BTreeSet<&str> = documented.values().flatten().map(String::as_str).collect();
        let allowed = if sources.is_empty() { &all } else { &sources };
        for source in calculation.source().split(", ") {
            assert!(allowed.contains(source), "{opening} names {source}, its method {allowed:?}");
        }
    }
}

#[test]
fn names_and_columns_are_told_apart() {
    let names: BTreeSet<&str> = catalogue().iter().map(Calculation::name).collect();
    assert_eq!(names.len(), catalogue().len(), "a name stands twice");
    for calculation in catalogue() {
        let name = calculation.name();
        assert!(
            name.chars()
                .all(|letter| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '_')
        );
        assert!(!calculation.summary().is_empty() && !calculation.summary().ends_with('.'), "{name}");
        let inputs: BTreeSet<&str> = calculation.inputs().iter().map(|column| column.name).collect();
        assert_eq!(inputs.len(), calculation.inputs().len(), "{name}");
        let outputs: BTreeSet<&str> = calculation.outputs().iter().map(|output| output.name).collect();
        assert_eq!(outputs.len(), calculation.outputs().len(), "{name}");
        // What is carried through would be hidden by a result of the same name.
        let carried = |column: &&Column| column.role == Role::Parameter || calculation.shape() == Shape::Row;
        for column in calculation.inputs().iter().filter(carried) {
            assert!(!outputs.contains(column.name), "{name}: {}", column.name);
        }
    }
}

/// What a calculation says it needs is what it needs.
#[test]
fn a_header_without_a_required_column_is_refused_and_one_with_all_is_not() {
    for calculation in catalogue() {
        let required = calculation.inputs().iter().filter(|column| column.need == Need::Required);
        // The names of covariates stand beside the rows, never in them.
        let given: Vec<(String, String)> = required
            .clone()
            .filter(|column| column.name == "terms")
            .map(|_| ("terms".to_owned(), "age".to_owned()))
            .collect();
        let needed: Vec<&str> =
            required.map(|column| column.name).filter(|name| *name != "terms").chain(["age"]).collect();
        assert!(Sheet::new(calculation, &needed, &given).is_ok(), "{}", calculation.name());
        let reads = |name: &&&str| calculation.inputs().iter().any(|column| column.name == **name);
        for missing in needed.iter().filter(reads) {
            let rest: Vec<&str> = needed.iter().filter(|name| *name != missing).copied().collect();
            let refused = Sheet::new(calculation, &rest, &given).err().map(|error| error.to_string());
            let refused = refused.unwrap_or_else(|| panic!("{} without {missing}", calculation.name()));
            assert!(refused.contains(&format!("the column {missing} is missing")), "{refused}");
        }
    }
}
