//! Two people changed the same draft: which fields differ, and the form that stands once
//! somebody chose for each of them.

use std::collections::BTreeMap;

use crate::case::{CaseForm, variables_of};
use crate::dictionary::Variable;
use crate::entries::Entries;
use crate::entry::EntryField;
use crate::finding::{Part, Place};
use crate::value::Kind;

/// Whose value stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The one that is sent now.
    Here,
    /// The one that somebody else saved.
    There,
}

/// What was chosen, field by field.
pub type Choices = BTreeMap<Place, Side>;

/// The fields in which two forms differ, a quantity together with its unit.
#[must_use]
pub fn differences(here: &CaseForm, there: &CaseForm) -> Vec<EntryField> {
    let differ = |part: Part, variable: &Variable| {
        let of =
            |form: &CaseForm| form.part(part).map(|entries| stands(variable, entries)).unwrap_or_default();
        of(here) != of(there)
    };
    let parts = here.parts_beside(there).into_iter();
    parts
        .flat_map(|part| variables_of(part).into_iter().map(move |variable| EntryField { variable, part }))
        .filter(|field| differ(field.part, field.variable))
        .collect()
}

/// What stands in the columns of a field. A unit beside no number says nothing, and the order
/// of several codes neither.
fn stands(variable: &Variable, entries: &Entries) -> Vec<String> {
    let Some(value) = entries.given(variable.key) else { return Vec::new() };
    let mut found: Vec<String> = match variable.kind {
        Kind::Codes(_) => value.split(';').map(|code| code.trim().to_owned()).collect(),
        _ => vec![value.to_owned()],
    };
    found.sort();
    let unit = variable.unit_key().and_then(|key| entries.given(&key).map(str::to_owned));
    found.into_iter().chain(unit).collect()
}

/// The form that stands.
///
/// # Errors
/// The fields that differ and for which nothing was chosen.
pub fn merged(here: &CaseForm, there: &CaseForm, choices: &Choices) -> Result<CaseForm, Vec<EntryField>> {
    let mut form = here.clone();
    form.complications.resize(here.complications.len().max(there.complications.len()), Entries::default());
    let mut open = Vec::new();
    for field in differences(here, there) {
        match choices.get(&Place::new(field.part, field.variable.key)) {
            None => open.push(field),
            Some(Side::Here) => {}
            Some(Side::There) => take(&mut form, there, field),
        }
    }
    if !open.is_empty() {
        return Err(open);
    }
    form.complications.retain(|entries| !entries.is_blank());
    form.follow_up = form.follow_up.filter(|entries| !entries.is_blank());
    Ok(form)
}

fn take(form: &mut CaseForm, from: &CaseForm, EntryField { variable, part }: EntryField) {
    if part == Part::FollowUp {
        form.follow_up.get_or_insert_default();
    }
    let Some(entries) = form.part_mut(part) else { return };
    for key in variable.columns() {
        match from.part(part).and_then(|theirs| theirs.given(&key)) {
            Some(text) => entries.put(key, text),
            None => entries.remove(&key),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::case::sample;
    use serde_json::{Value, json};

    fn form(case: &Value) -> CaseForm {
        CaseForm::from_json(serde_json::from_str(&case.to_string()).unwrap())
    }

    fn keys(fields: &[EntryField]) -> Vec<String> {
        fields.iter().map(|field| Place::new(field.part, field.variable.key).pointer()).collect()
    }

    #[test]
    fn nothing_is_chosen_for_the_person() {
        let here = form(&sample::with(sample::conventional_case(), json!({ "bmi": 31.5, "kap": 2.5 })));
        let mut there =
            form(&sample::with(sample::conventional_case(), json!({ "kap": 2.5, "kap_unit": "Gy.cm2" })));
        there.follow_up.as_mut().unwrap().put("fu30_day", "35");
        let open = differences(&here, &there);
        assert_eq!(keys(&open), ["/bmi", "/kap", "/follow_up/fu30_day"]);
        assert_eq!(keys(&merged(&here, &there, &Choices::new()).err().unwrap()), keys(&open));
        let choose = |side: Side| {
            open.iter().map(|field| (Place::new(field.part, field.variable.key), side)).collect::<Choices>()
        };
        assert!(differences(&merged(&here, &there, &choose(Side::There)).unwrap(), &there).is_empty());
        let mut choices = choose(Side::Here);
        assert!(differences(&merged(&here, &there, &choices).unwrap(), &here).is_empty());
        choices.remove(&Place::new(Part::Case, "kap"));
        assert_eq!(keys(&merged(&here, &there, &choices).err().unwrap()), ["/kap"]);
    }

    #[test]
    fn a_complication_of_theirs_comes_whole_or_not_at_all() {
        let (here, there) = (form(&sample::zero_fluoroscopy_case()), form(&sample::case_with_tamponade()));
        let choose = |side: Side| {
            let fields = differences(&here, &there);
            fields.iter().map(|field| (Place::new(field.part, field.variable.key), side)).collect::<Choices>()
        };
        assert_eq!(merged(&here, &there, &choose(Side::There)).unwrap().complications.len(), 1);
        assert!(merged(&here, &there, &choose(Side::Here)).unwrap().complications.is_empty());
    }

    #[test]
    fn a_unit_alone_and_another_order_are_no_difference() {
        let mut here = form(&json!({ "energy": ["rf", "cryo"] }));
        let there = form(&json!({ "energy": ["cryo", "rf"], "kap_unit": "Gy.cm2" }));
        here.case.put("air_kerma_unit", "mGy");
        assert!(differences(&here, &there).is_empty());
    }
}
