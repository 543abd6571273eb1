//! How complete a case is, field by field: what applies to it, and what of that is filled in.

use crate::case::{CASE_GROUPS, CaseForm, Group, complication_variables, follow_up_variables};
use crate::dictionary::{Need, Variable};
use crate::entries::Entries;
use crate::finding::Part;
use crate::reported::MissingCode;
use crate::vocabulary::{Coded, Completeness, FluoroUsed};

/// One field that applies to the case.
#[derive(Clone, Copy)]
pub struct FieldStand {
    /// The variable.
    pub variable: &'static Variable,
    /// The part of the record it stands in.
    pub part: Part,
    /// Whether it says more than "not recorded".
    pub filled: bool,
}

/// The fields of one section that apply to the case.
pub struct SectionStand {
    /// The section's key.
    pub key: &'static str,
    /// Its heading.
    pub label: &'static str,
    /// Its fields in the order of the work.
    pub fields: Vec<FieldStand>,
}

impl SectionStand {
    /// How many fields are filled in.
    #[must_use]
    pub fn filled(&self) -> usize {
        self.fields.iter().filter(|field| field.filled).count()
    }
}

/// The sections of a case in the order of the work, complications and follow-up last. An
/// optional field counts only where something stands in it.
#[must_use]
pub fn sections(form: &CaseForm) -> Vec<SectionStand> {
    let used = form.case.given("fluoro_used").and_then(FluoroUsed::from_code);
    let beam_off = used.is_some_and(|used| !used.beam_on());
    let own = CASE_GROUPS.iter().map(|Group { key, label, variables }| SectionStand {
        key,
        label,
        // The zeros of a beam that was never on are set by the registry, not filled in.
        fields: if beam_off && *key == "exposure" {
            Vec::new()
        } else {
            stands(variables.iter(), Part::Case, &form.case)
        },
    });
    let complications = form.complications.iter().enumerate().flat_map(|(position, entries)| {
        stands(complication_variables().into_iter(), Part::Complication(position), entries)
    });
    let complications =
        SectionStand { key: "complications", label: "Complications", fields: complications.collect() };
    let nothing = Entries::default();
    let seen = form.follow_up.as_ref().unwrap_or(&nothing);
    let follow_up = SectionStand {
        key: "follow_up",
        label: "Follow-up",
        fields: stands(follow_up_variables().into_iter(), Part::FollowUp, seen),
    };
    own.chain([complications, follow_up]).collect()
}

/// Whether anything that applies to a case is still empty.
#[must_use]
pub fn completeness(form: &CaseForm) -> Completeness {
    let sections = sections(form);
    match sections.iter().all(|section| section.filled() == section.fields.len()) {
        true => Completeness::Complete,
        false => Completeness::SomethingLeft,
    }
}

fn stands(
    variables: impl Iterator<Item = &'static Variable>,
    part: Part,
    entries: &Entries,
) -> Vec<FieldStand> {
    let stand = |variable: &'static Variable| {
        let given = entries.given(variable.key);
        let missing = given.filter(|_| variable.missing_allowed).and_then(MissingCode::from_code);
        let filled = given.is_some() && missing != Some(MissingCode::NotRecorded);
        let applies = match variable.need {
            Need::Always => true,
            Need::When(condition) => condition.holds(entries),
            Need::Optional => filled && missing != Some(MissingCode::NotApplicable),
        };
        applies.then_some(FieldStand { variable, part, filled })
    };
    variables.filter_map(stand).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::case::sample;
    use serde_json::Value;

    fn of(case: &Value) -> Vec<SectionStand> {
        sections(&CaseForm::from_json(serde_json::from_str(&case.to_string()).unwrap()))
    }

    fn empty_keys(sections: &[SectionStand]) -> Vec<&'static str> {
        let fields = sections.iter().flat_map(|section| &section.fields);
        fields.filter(|field| !field.filled).map(|field| field.variable.key).collect()
    }

    #[test]
    fn without_a_beam_no_dose_is_missed() {
        let sections = of(&sample::zero_fluoroscopy_case());
        let exposure = sections.iter().find(|section| section.key == "exposure").unwrap();
        assert!(exposure.fields.is_empty());
        let with_beam = of(&sample::conventional_case());
        assert!(with_beam.iter().any(|section| section.key == "exposure" && section.filled() > 0));
    }

    #[test]
    fn not_recorded_is_empty_and_a_stated_reason_is_not() {
        let case = |air_kerma: &str| {
            let mut case = sample::conventional_case();
            case["air_kerma"] = Value::from(air_kerma);
            empty_keys(&of(&case))
        };
        assert!(case("nr").contains(&"air_kerma"));
        assert!(!case("unk").contains(&"air_kerma"));
    }

    #[test]
    fn a_case_without_its_follow_up_has_something_left() {
        let complete = |case: &Value| {
            completeness(&CaseForm::from_json(serde_json::from_str(&case.to_string()).unwrap()))
        };
        let whole = sample::zero_fluoroscopy_case();
        assert_eq!(complete(&whole), Completeness::Complete);
        let awaited = sample::with(whole, serde_json::json!({ "follow_up": null }));
        assert_eq!(complete(&awaited), Completeness::SomethingLeft);
    }

    #[test]
    fn a_blank_form_has_its_required_fields_and_no_more() {
        let blank = sections(&CaseForm::default());
        assert!(
            blank
                .iter()
                .flat_map(|section| &section.fields)
                .all(|field| { !field.filled && matches!(field.variable.need, Need::Always) })
        );
        assert!(blank.iter().all(|section| section.filled() == 0));
    }
}
