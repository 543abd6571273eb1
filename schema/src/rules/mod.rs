//! Rules between fields, a file a topic. Each has an id, the fields it looks at,
//! its weight, and a sentence that tells the person how to mend what it found.

mod complication;
mod follow_up;
mod patient;
mod procedure;
mod radiation;
mod result;
mod strategy;
#[cfg(test)]
mod tests;

use crate::case::{CaseRecord, Complication, FollowUp, variables_of};
use crate::dictionary::column;
use crate::finding::{Finding, Part, Place, Weight};
use crate::period::Quarter;
use crate::quantity::{Measure, Quantity};
use crate::reported::Reported;
use crate::value::Whole;

/// One rule about a part of the record of type `T`.
pub struct Rule<T: 'static> {
    /// The rule's id, kept for ever: data queries refer to it.
    pub id: &'static str,
    /// Must what it finds be mended, or answered?
    pub weight: Weight,
    /// The fields it concerns, the one to mend first; also those of the case where it is about a
    /// complication or the follow-up. It is asked once all of them are there, so what it reads
    /// beside them must not be able to silence it.
    pub keys: &'static [&'static str],
    /// What is wrong, or `None`.
    check: fn(&T, &CaseRecord) -> Option<String>,
}

/// A rule that refuses.
const fn hard<T>(
    id: &'static str,
    keys: &'static [&'static str],
    check: fn(&T, &CaseRecord) -> Option<String>,
) -> Rule<T> {
    Rule { id, weight: Weight::Hard, keys, check }
}

/// A rule that asks.
const fn query<T>(
    id: &'static str,
    keys: &'static [&'static str],
    check: fn(&T, &CaseRecord) -> Option<String>,
) -> Rule<T> {
    Rule { id, weight: Weight::Query, keys, check }
}

/// The rules about a case's own fields, by topic.
pub const CASE_RULES: [&[Rule<CaseRecord>]; 5] =
    [strategy::RULES, radiation::RULES, patient::RULES, procedure::RULES, result::RULES];

/// The rules about one complication.
pub const COMPLICATION_RULES: &[Rule<Complication>] = complication::RULES;

/// The rules about the follow-up.
pub const FOLLOW_UP_RULES: &[Rule<FollowUp>] = follow_up::RULES;

/// The ids of the rules that the reading of single fields applies.
pub const FIELD_RULES: [&str; 11] = [
    "required",
    "value",
    "unit_required",
    "unusual_value",
    "applies_here",
    "json_type",
    "unknown_field",
    "identifier_field",
    "case_code",
    "beam_off_means_zero",
    "too_many_complications",
];

/// The id of the rule that no case lies in the future.
pub const PERIOD_NOT_IN_FUTURE: &str = "period_not_in_future";

/// Applies every rule that looks at one case. `today` is the current quarter.
pub fn check(record: &CaseRecord, today: Quarter, findings: &mut Vec<Finding>) {
    if record.identity().period > today {
        findings.push(Finding::at(
            Place::new(Part::Case, "period"),
            PERIOD_NOT_IN_FUTURE,
            Weight::Hard,
            format!("The quarter {} has not begun; the current one is {today}.", record.identity().period),
        ));
    }
    for rule in CASE_RULES.iter().copied().flatten() {
        apply(rule, record, record, Part::Case, findings);
    }
    for (position, complication) in record.complications().iter().enumerate() {
        for rule in COMPLICATION_RULES {
            apply(rule, complication, record, Part::Complication(position), findings);
        }
    }
    if let Some(follow_up) = record.follow_up() {
        for rule in FOLLOW_UP_RULES {
            apply(rule, follow_up, record, Part::FollowUp, findings);
        }
    }
}

fn apply<T>(rule: &Rule<T>, about: &T, record: &CaseRecord, part: Part, findings: &mut Vec<Finding>) {
    if let Some(sentence) = (rule.check)(about, record) {
        findings.push(Finding {
            rule: rule.id,
            weight: rule.weight,
            places: rule.keys.iter().map(|key| place(part, key)).collect(),
            sentence,
        });
    }
}

/// Where a field of a rule stands: in the part that the rule is about, or else in the case.
fn place(part: Part, key: &'static str) -> Place {
    let own = column(&variables_of(part), key).is_some();
    Place::new(if own { part } else { Part::Case }, key)
}

/// The number in a reported whole number.
fn whole<const MIN: i64, const MAX: i64>(reported: &Reported<Whole<MIN, MAX>>) -> Option<i64> {
    reported.value().map(|value| value.get())
}

/// The canonical value of a reported quantity.
fn canonical<M: Measure>(reported: &Reported<Quantity<M>>) -> Option<f64> {
    reported.value().map(Quantity::canonical)
}
