//! The entry form as a browser sends it: one name a field, the same as its anchor.

use quietbeam_schema::case::{
    CaseForm, MAX_COMPLICATIONS, case_variables, complication_variables, follow_up_variables,
};
use quietbeam_schema::dictionary::Variable;
use quietbeam_schema::entries::Entries;
use quietbeam_schema::finding::{Part, Place};
use quietbeam_schema::value::{Kind, decimal_point};

use crate::pages::components::FieldId;
use crate::pages::form::Posted;

/// The name of a field of the form, which is its anchor too.
pub(super) fn name_of(part: Part, key: &str) -> FieldId {
    FieldId::of(&Place::new(part, key).pointer())
}

/// The name under which the reason is sent why a field has no value.
pub(super) fn reason_name(name: &FieldId) -> String {
    format!("{}-missing", name.as_str())
}

/// The name under which the number of complications is sent.
pub(super) const COMPLICATIONS: &str = "complications-count";

/// What was filled in.
pub(super) fn filled_in(posted: &Posted) -> CaseForm {
    let count = posted.one(COMPLICATIONS).parse().unwrap_or(0).min(MAX_COMPLICATIONS);
    let complications = (0..count).map(|at| part(posted, Part::Complication(at), complication_variables()));
    let follow_up = part(posted, Part::FollowUp, follow_up_variables());
    CaseForm::new(
        part(posted, Part::Case, case_variables()),
        complications.collect(),
        (!follow_up.is_blank()).then_some(follow_up),
    )
}

/// What was filled in for some fields of one part.
pub(in crate::pages) fn part(posted: &Posted, part: Part, variables: Vec<&'static Variable>) -> Entries {
    let mut entries = Entries::default();
    for variable in variables {
        let name = name_of(part, variable.key);
        let text = match posted.one(&reason_name(&name)) {
            "" => {
                posted.all(name.as_str()).filter(|text| !text.trim().is_empty()).collect::<Vec<_>>().join(";")
            }
            reason => reason.to_owned(),
        };
        if text.trim().is_empty() {
            continue;
        }
        entries.put(variable.key, as_number(variable, text));
        if let Some(unit) = variable.unit_key() {
            let sent = posted.one(name_of(part, &unit).as_str());
            if !sent.is_empty() {
                entries.put(unit, sent);
            }
        }
    }
    entries
}

/// A decimal comma is a point; an unclear one stays as it was typed and is asked about.
fn as_number(variable: &Variable, text: String) -> String {
    let numeric = matches!(variable.kind, Kind::Whole { .. } | Kind::Decimal { .. } | Kind::Quantity(_));
    if numeric { decimal_point(text.trim()).unwrap_or(text) } else { text }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    fn sent(body: &str) -> CaseForm {
        filled_in(&Posted::read(body.as_bytes()).unwrap().0)
    }

    #[test]
    fn boxes_of_one_field_are_one_list_and_a_reason_stands_for_the_value() {
        let form = sent("energy=rf&energy=cryo&bmi=27%2C4&sex=f&sex-missing=wh&kap=1&kap_unit=Gy.cm2");
        let given = |key: &str| form.case.given(key).unwrap().to_owned();
        assert_eq!(
            (given("energy"), given("bmi"), given("sex")),
            ("rf;cryo".into(), "27.4".into(), "wh".into())
        );
        assert_eq!(given("kap_unit"), "Gy.cm2");
        assert!(form.follow_up.is_none() && form.complications.is_empty());
    }

    #[test]
    fn complications_are_as_many_as_the_page_had_and_never_too_many() {
        let form =
            sent("complications-count=2&complications-1-ae_code=effusion&complications-7-ae_code=effusion");
        assert_eq!(form.complications.len(), 2);
        assert_eq!(form.complications[1].given("ae_code"), Some("effusion"));
        assert_eq!(sent("complications-count=100000").complications.len(), MAX_COMPLICATIONS);
        assert_eq!(sent("complications-count=-1").complications.len(), 0);
    }

    #[test]
    fn an_unclear_comma_stays_as_it_was_typed() {
        assert_eq!(sent("bmi=1,234.5").case.given("bmi"), Some("1,234.5"));
        // Read as 1.234 it would be a thousandth of the dose that may be meant.
        assert_eq!(sent("air_kerma=1,234").case.given("air_kerma"), Some("1,234"));
    }
}
