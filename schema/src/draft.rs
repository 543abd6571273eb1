//! A case that is being entered: what of it can be kept, and what is said about it before it
//! is finished.

use std::collections::BTreeSet;

use crate::case::{
    CaseForm, CaseRecord, MAX_COMPLICATIONS, case_variables, complication_variables, follow_up_variables,
    variables_of,
};
use crate::dictionary::Variable;
use crate::entries::Entries;
use crate::entry::entry_sections;
use crate::finding::{Finding, Part, Place, Weight};
use crate::period::Quarter;
use crate::reported::MissingCode;
use crate::rules::{self, FIELD_RULES};
use crate::value::{FieldValue, Kind};

/// What the form says so far.
pub struct DraftCheck {
    /// The form with what the record could hold, value by value: whatever was refused may be
    /// the name of a person in the wrong box, and is not kept even for a while.
    pub kept: CaseForm,
    /// Everything that was found.
    pub findings: Vec<Finding>,
}

/// Checks a form that need not be finished.
#[must_use]
pub fn check_draft(form: &CaseForm, today: Quarter) -> DraftCheck {
    let mut kept = only_relevant(form);
    let mut findings = match kept.check(today) {
        Ok(checked) => checked.queries,
        Err(findings) => findings,
    };
    for finding in findings.iter().filter(|finding| refuses_a_value(finding)) {
        for place in &finding.places {
            if let Some(entries) = kept.part_mut(place.part) {
                entries.remove(&place.key);
                entries.remove(field_key(place));
            }
        }
    }
    if findings.iter().any(keeps_from_reading) {
        findings.extend(between_fields(&kept, today));
    }
    DraftCheck { kept, findings }
}

/// Whether the record could not be read, so that no rule between fields was asked.
fn keeps_from_reading(finding: &Finding) -> bool {
    finding.weight == Weight::Hard && FIELD_RULES.contains(&finding.rule)
}

/// What the rules between fields find in a form that is not finished: a rule speaks once
/// nothing that it concerns is still to be entered. The rest is supposed, and whatever touches
/// a supposition is not told.
fn between_fields(kept: &CaseForm, today: Quarter) -> Vec<Finding> {
    let mut awaited = BTreeSet::new();
    let mut findings = Vec::new();
    if let Some(record) = supposed(kept, &mut awaited) {
        rules::check(&record, today, &mut findings);
    }
    if kept.complications.is_empty() {
        awaited.insert(Place::new(Part::Case, "complications"));
    }
    let awaits = |place: &Place| awaited.contains(&Place::new(place.part, field_key(place)));
    findings.retain(|finding| !finding.places.iter().any(awaits));
    findings
}

/// The key of the field at a place: a unit belongs to its quantity.
fn field_key(place: &Place) -> &str {
    place.key.strip_suffix("_unit").unwrap_or(&place.key)
}

/// The record as it would be with something in every field that is still to be entered.
fn supposed(kept: &CaseForm, awaited: &mut BTreeSet<Place>) -> Option<CaseRecord> {
    let mut form = kept.clone();
    loop {
        let mut findings = Vec::new();
        let record = form.read(&mut findings);
        let missing: Vec<Place> =
            findings.into_iter().filter(keeps_from_reading).flat_map(|finding| finding.places).collect();
        if missing.is_empty() {
            return record;
        }
        for place in missing {
            let variable = variables_of(place.part).into_iter().find(|variable| variable.key == place.key)?;
            form.part_mut(place.part)?.put(variable.key, anything(variable)?);
            // A field that was filled in and is asked for again will not be readable at all.
            if !awaited.insert(place) {
                return None;
            }
        }
    }
}

/// Something that can be read in a field: that it was not recorded, or the first that fits.
fn anything(variable: &Variable) -> Option<String> {
    match variable.kind {
        _ if variable.missing_allowed => Some(MissingCode::NotRecorded.code().to_owned()),
        Kind::Code(list) => list.codes.first().map(|code| code.code.to_owned()),
        Kind::Quarter => Some(Quarter::FIRST.text()),
        _ => None,
    }
}

/// Whether one value by itself is refused; rules between fields concern values that are each
/// possible.
#[must_use]
pub fn refuses_a_value(finding: &Finding) -> bool {
    finding.weight == Weight::Hard
        && matches!(finding.rule, "value" | "required" | "unit_required" | "case_code")
}

fn only_relevant(form: &CaseForm) -> CaseForm {
    let sections = entry_sections(form);
    let fields: BTreeSet<(Part, &str)> = sections
        .iter()
        .flat_map(|section| &section.fields)
        .map(|field| (field.part, field.variable.key))
        .collect();
    let of = |part: Part, entries: &Entries, variables: Vec<&'static Variable>| {
        let mut kept = Entries::default();
        for variable in variables {
            let Some(text) = entries.given(variable.key) else { continue };
            if !fields.contains(&(part, variable.key)) {
                continue;
            }
            kept.put(variable.key, text);
            if let (Kind::Quantity(dimension), Some(key)) = (variable.kind, variable.unit_key())
                && let Some(unit) = entries.given(&key).and_then(|unit| dimension.unit(unit).ok())
            {
                kept.put(key, unit.ucum);
            }
        }
        kept
    };
    let complications = form.complications.iter().take(MAX_COMPLICATIONS).enumerate();
    let follow_up = form
        .follow_up
        .as_ref()
        .map(|entries| of(Part::FollowUp, entries, follow_up_variables()))
        .filter(|entries| !entries.is_blank());
    CaseForm::new(
        of(Part::Case, &form.case, case_variables()),
        complications
            .map(|(at, entries)| of(Part::Complication(at), entries, complication_variables()))
            .collect(),
        follow_up,
    )
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::case::sample;
    use crate::case::tests::varied_form;
    use proptest::prelude::*;
    use serde_json::{Value, json};

    fn form(case: &Value) -> CaseForm {
        CaseForm::from_json(serde_json::from_str(&case.to_string()).unwrap())
    }

    fn today() -> Quarter {
        FieldValue::parse("2026Q4").unwrap()
    }

    #[test]
    fn a_draft_keeps_nothing_that_the_record_could_not_hold() {
        let mut entered = form(&sample::zero_fluoroscopy_case());
        for (key, text) in
            [("bmi", "Miller"), ("period", "1950-04-12"), ("comment", "call 030 1234567"), ("sex", "nurse")]
        {
            entered.case.put(key, text);
        }
        let DraftCheck { kept, findings } = check_draft(&entered, today());
        for key in ["bmi", "period", "comment", "sex"] {
            assert_eq!(kept.case.given(key), None, "{key}");
            assert!(findings.iter().any(|finding| finding.places[0].key == key), "{key}");
        }
        assert_eq!(kept.case.given("lvef"), Some("58"));
    }

    #[test]
    fn a_quantity_needs_its_unit_and_an_x_ray_its_beam() {
        let mut entered = form(&sample::conventional_case());
        entered.case.put("air_kerma_unit", "");
        entered.case.put("kap_unit", "a name");
        let DraftCheck { kept, .. } = check_draft(&entered, today());
        assert_eq!((kept.case.given("air_kerma"), kept.case.given("kap")), (None, None));
        assert_eq!(kept.case.given("kap_unit"), None);
        entered.case.put("fluoro_used", "none");
        assert_eq!(check_draft(&entered, today()).kept.case.given("fluoro_time"), None);
    }

    #[test]
    fn what_may_be_submitted_is_kept_whole() {
        for case in
            [sample::zero_fluoroscopy_case(), sample::conventional_case(), sample::case_with_tamponade()]
        {
            let checked = check_draft(&form(&case), today());
            let (kept, whole) = (checked.kept.check(today()), form(&case).check(today()));
            assert_eq!(kept.ok().unwrap().record.to_json(), whole.ok().unwrap().record.to_json());
        }
        let blank = check_draft(&form(&json!({})), today());
        assert!(blank.kept.case.is_blank());
    }

    fn told(case: &Value) -> Vec<&'static str> {
        let findings = check_draft(&form(case), today()).findings;
        findings.iter().map(|finding| finding.rule).filter(|rule| !FIELD_RULES.contains(rule)).collect()
    }

    #[test]
    fn a_rule_speaks_as_soon_as_its_fields_are_there() {
        // Minutes typed as dose, and nothing else of the case.
        let minutes =
            json!({ "fluoro_used": "planned_used", "fluoro_time": 12.5, "fluoro_time_unit": "min" });
        assert_eq!(told(&minutes), [""; 0]);
        let as_dose = sample::with(minutes, json!({ "air_kerma": 12.5, "air_kerma_unit": "mGy" }));
        assert_eq!(told(&as_dose), ["minutes_as_dose"]);
        // 1,200 mGy is much for a supraventricular tachycardia only.
        let much = json!({ "fluoro_used": "planned_used", "air_kerma": 1200, "air_kerma_unit": "mGy" });
        assert_eq!(told(&much), [""; 0]);
        assert_eq!(
            told(&sample::with(much, json!({ "proc_primary": "avnrt" }))),
            ["high_dose_for_procedure"]
        );
        // A complication's rule that looks at the case waits for the case.
        let seen = json!({ "complications": [{ "detect_method": "fluoro_silhouette" }] });
        assert_eq!(told(&seen), [""; 0]);
        let never_on = sample::with(seen, json!({ "fluoro_used": "none" }));
        assert_eq!(told(&never_on), ["silhouette_detection_needs_beam"]);
    }

    #[test]
    fn nobody_is_asked_for_a_complication_that_comes_next() {
        let announced = json!({ "no_complication_confirmed": "no" });
        assert_eq!(told(&announced), [""; 0]);
        let whole = sample::with(sample::zero_fluoroscopy_case(), announced);
        assert_eq!(told(&whole), ["complication_announced"]);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(400))]

        /// Nothing is said too early: what a rule says about a part of a case it says about the whole.
        #[test]
        fn what_is_said_about_a_part_is_said_about_the_whole(
            sample in 0_usize..4,
            changes in prop::collection::vec((any::<usize>(), any::<u64>()), 0..8),
            left_out in prop::collection::vec(any::<usize>(), 1..40),
        ) {
            let whole = varied_form(sample, &changes);
            let said = match whole.check(today()) {
                Ok(checked) => checked.queries,
                Err(findings) => findings,
            };
            prop_assume!(!said.iter().any(keeps_from_reading));
            let mut part = only_relevant(&whole);
            let places: Vec<(Part, &'static str)> = part
                .parts_beside(&part)
                .into_iter()
                .flat_map(|part| variables_of(part).into_iter().map(move |variable| (part, variable.key)))
                .collect();
            for at in left_out {
                let (of, key) = places[at % places.len()];
                part.part_mut(of).unwrap().remove(key);
            }
            for finding in check_draft(&part, today()).findings {
                // In other words perhaps: several fields may speak against the same one.
                let same = |other: &Finding| (other.rule, &other.places) == (finding.rule, &finding.places);
                prop_assert!(FIELD_RULES.contains(&finding.rule) || said.iter().any(same), "{finding:#?}");
            }
        }
    }
}
