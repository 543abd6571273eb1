//! The fields that another answer would make relevant, laid by in the page for its script, so
//! that they come and go at once. Without script nobody sees them, and the next save asks.

use maud::{Markup, html};
use quietbeam_schema::dictionary::{Condition, Need};
use quietbeam_schema::entries::Entries;
use quietbeam_schema::entry::{EntryField, EntrySection};
use quietbeam_schema::finding::Part;
use serde_json::{Value, json};

use super::field::{Beside, field_row};
use super::posted::name_of;
use crate::pages::components::State;

/// The fields of one part of a section that depend on an answer, each with its condition and
/// with the fields before which it stands.
pub(super) fn later(section: &EntrySection, part: Part, entries: &Entries, beside: &Beside<'_>) -> Markup {
    let fields: Vec<&EntryField> = section.possible.iter().filter(|field| field.part == part).collect();
    let id = |field: &EntryField| name_of(field.part, field.variable.key);
    html! {
        @for (at, field) in fields.iter().enumerate() {
            @if let Need::When(condition) = field.variable.need {
                @let following: Vec<String> = fields[at + 1..].iter().map(|next| id(next).as_str().to_owned()).collect();
                template data-later=(id(field)) data-part=(id(field).as_str().trim_end_matches(field.variable.key))
                    data-when=(written(condition).to_string()) data-before=(following.join(" ")) {
                    @if !condition.holds(entries) { (field_row(**field, entries, State::Empty, beside.clone())) }
                }
            }
        }
    }
}

/// The condition as the script reads it.
fn written(condition: &Condition) -> Value {
    let all = |conditions: &[Condition]| conditions.iter().map(written).collect::<Vec<_>>();
    match condition {
        Condition::Is(key, codes) => json!({ "is": [key, codes] }),
        Condition::IsNot(key, codes) => json!({ "is_not": [key, codes] }),
        Condition::AtLeast(key, least) => json!({ "at_least": [key, least] }),
        Condition::All(conditions) => json!({ "all": all(conditions) }),
        Condition::Any(conditions) => json!({ "any": all(conditions) }),
    }
}
