//! The form on which a case is entered: its sections in the order in which the work happens,
//! and in each only the fields that what was answered so far makes relevant.

use serde::{Deserialize, Serialize};

use crate::case::{
    AcuteResult, CASE_CODE, CaseForm, Complication, Exposure, Guidance, Identity, Patient, Procedure,
    complication_variables, follow_up_variables,
};
use crate::dictionary::{Need, Reader, Section, Variable};
use crate::endpoint::harm_tier_of;
use crate::entries::Entries;
use crate::finding::{Finding, Part};
use crate::vocabulary::{Coded, FluoroUsed, HarmTier, ProcedureType};

/// One field of the form.
#[derive(Debug, Clone, Copy)]
pub struct EntryField {
    /// The variable.
    pub variable: &'static Variable,
    /// The part of the record it stands in.
    pub part: Part,
}

/// One section of the form.
pub struct EntrySection {
    /// The section's key.
    pub key: &'static str,
    /// Its heading.
    pub label: &'static str,
    /// Its fields in the order of the work; those of complications one complication after
    /// the other.
    pub fields: Vec<EntryField>,
    /// The same with every field that another answer would make relevant.
    pub possible: Vec<EntryField>,
}

impl EntrySection {
    fn new(key: &'static str, label: &'static str, possible: Vec<EntryField>, form: &CaseForm) -> Self {
        let nothing = Entries::default();
        let applies = |field: &&EntryField| match field.variable.need {
            Need::Always | Need::Optional => true,
            Need::When(condition) => condition.holds(form.part(field.part).unwrap_or(&nothing)),
        };
        Self { key, label, fields: possible.iter().filter(applies).copied().collect(), possible }
    }
}

/// What is decided before the case begins; the rest of the same group is known after it.
const BEFORE: [&str; 3] = ["strategy_intended", "intended_declared", "zf_declined_reason"];

/// The seven sections for what was answered so far.
#[must_use]
pub fn entry_sections(form: &CaseForm) -> Vec<EntrySection> {
    let before = |variable: &&Variable| BEFORE.contains(&variable.key);
    let (intent, room): (Vec<_>, Vec<_>) = Guidance::VARIABLES.iter().partition(before);
    let beam =
        form.case.given("fluoro_used").and_then(FluoroUsed::from_code).is_some_and(FluoroUsed::beam_on);
    // What the beam makes necessary is possible; what some centres add waits for the beam.
    let exposure =
        Exposure::VARIABLES.iter().filter(|variable| beam || matches!(variable.need, Need::When(_)));
    let used = room.iter().position(|variable| variable.key == "fluoro_used").map_or(0, |at| at + 1);
    let (fluoro_used, room) = room.split_at(used);
    let own = |key, label, variables: Vec<&'static Variable>| {
        EntrySection::new(key, label, of(Part::Case, variables), form)
    };
    let events = (0..form.complications.len())
        .flat_map(|position| of(Part::Complication(position), complication_variables()));
    vec![
        own(
            "before",
            "Before the case",
            intent.into_iter().chain(Identity::VARIABLES).chain([&CASE_CODE]).collect(),
        ),
        own("patient", "Patient", Patient::VARIABLES.iter().collect()),
        own("procedure", "Procedure", Procedure::VARIABLES.iter().collect()),
        own(
            "x_ray",
            "X-ray",
            fluoro_used.iter().copied().chain(exposure).chain(room.iter().copied()).collect(),
        ),
        own("result", "Result", AcuteResult::VARIABLES.iter().collect()),
        EntrySection::new("complications", "Complications", events.collect(), form),
        EntrySection::new("follow_up", "30 days", of(Part::FollowUp, follow_up_variables()), form),
    ]
}

fn of(part: Part, variables: Vec<&'static Variable>) -> Vec<EntryField> {
    variables.into_iter().map(|variable| EntryField { variable, part }).collect()
}

/// A complication as far as it can be read, with the tier that follows from it. `None` while
/// something that the tier needs is still to be entered.
#[must_use]
pub fn complication_so_far(form: &CaseForm, position: usize) -> Option<(Complication, Option<HarmTier>)> {
    let procedure = form.case.given("proc_primary").and_then(ProcedureType::from_code)?;
    let mut reader = Reader::new(Part::Complication(position), form.complications.get(position)?);
    let event = Complication::read(&mut reader)?;
    let tier = harm_tier_of(&event, procedure).used();
    Some((event, tier))
}

/// Why a value that a rule asks about is right, said while the case is entered. It answers the
/// rule's question once the case is sent in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Because {
    /// The rule.
    pub rule: String,
    /// The field as a JSON pointer.
    pub field: String,
    /// Why it is right.
    pub text: String,
}

impl Because {
    /// Whether this is said about what a rule found.
    #[must_use]
    pub fn is_about(&self, finding: &Finding) -> bool {
        // What is found about a unit is said at its quantity.
        let quantity = |pointer: &str| pointer.trim_end_matches("_unit").to_owned();
        let field = quantity(&self.field);
        self.rule == finding.rule
            && finding.places.first().is_some_and(|place| quantity(&place.pointer()) == field)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::case::sample;
    use serde_json::Value;
    use std::collections::BTreeSet;

    fn form(case: &Value) -> CaseForm {
        CaseForm::from_json(serde_json::from_str(&case.to_string()).unwrap())
    }

    fn keys(form: &CaseForm) -> Vec<&'static str> {
        entry_sections(form)
            .iter()
            .flat_map(|section| &section.fields)
            .map(|field| field.variable.key)
            .collect()
    }

    #[test]
    fn the_intended_strategy_is_asked_first_and_x_ray_only_where_it_was_used() {
        let blank = keys(&CaseForm::default());
        assert_eq!(blank[0], "strategy_intended");
        assert!(!blank.contains(&"air_kerma") && !blank.contains(&"veins_targeted"));
        assert!(!keys(&form(&sample::zero_fluoroscopy_case())).contains(&"air_kerma"));
        let conventional = keys(&form(&sample::conventional_case()));
        assert!(conventional.contains(&"air_kerma") && conventional.contains(&"veins_targeted"));
    }

    #[test]
    fn a_complication_has_its_tier_as_soon_as_it_can_be_read() {
        let mut entered = form(&sample::case_with_tamponade());
        let (event, tier) = complication_so_far(&entered, 0).unwrap();
        assert_eq!((event.ae_code.code(), tier), ("tamponade", Some(HarmTier::Major)));
        assert!(complication_so_far(&entered, 1).is_none());
        let kept = entered.clone();
        entered.case.remove("proc_primary");
        assert!(complication_so_far(&entered, 0).is_none());
        entered = kept;
        entered.complications[0].remove("outcome");
        assert!(complication_so_far(&entered, 0).is_none());
    }

    #[test]
    fn every_variable_has_its_place() {
        let mut whole = form(&sample::case_with_tamponade());
        whole.case.put("fluoro_used", "standby_used");
        let shown: BTreeSet<&str> = keys(&whole).into_iter().collect();
        for variable in crate::case::case_variables().into_iter().chain(complication_variables()) {
            if !matches!(variable.need, Need::When(_)) {
                assert!(shown.contains(variable.key), "{}", variable.key);
            }
        }
    }
}
