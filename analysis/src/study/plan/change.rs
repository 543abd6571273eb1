//! Two versions of a plan, side by side.

use super::AnalysisPlan;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;

/// A place in which two versions differ.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// The JSON pointer of the place.
    pub pointer: String,
    /// What stood there; `None` where nothing did.
    pub before: Option<Value>,
    /// What stands there now; `None` where nothing does.
    pub after: Option<Value>,
}

/// Where two plans differ, in the order of the pointers. A list of codes counts as one place.
pub fn changes(before: &AnalysisPlan, after: &AnalysisPlan) -> Vec<Change> {
    let (mut old, new) = (places(before), places(after));
    let mut found: Vec<Change> = new
        .into_iter()
        .map(|(pointer, value)| Change { before: old.remove(&pointer), after: Some(value), pointer })
        .filter(|change| change.before != change.after)
        .collect();
    found.extend(old.into_iter().map(|(pointer, value)| Change {
        pointer,
        before: Some(value),
        after: None,
    }));
    found.sort_by(|one, other| one.pointer.cmp(&other.pointer));
    found
}

fn places(plan: &AnalysisPlan) -> BTreeMap<String, Value> {
    let mut places = BTreeMap::new();
    // A plan is words and finite numbers, which JSON can always write.
    collect("", serde_json::to_value(plan).unwrap_or_default(), &mut places);
    places
}

fn collect(pointer: &str, value: Value, places: &mut BTreeMap<String, Value>) {
    match value {
        Value::Object(fields) => {
            for (key, value) in fields {
                collect(&format!("{pointer}/{key}"), value, places);
            }
        }
        Value::Array(items) if items.iter().any(Value::is_object) => {
            for (at, value) in items.into_iter().enumerate() {
                collect(&format!("{pointer}/{at}"), value, places);
            }
        }
        value => {
            places.insert(pointer.to_owned(), value);
        }
    }
}
