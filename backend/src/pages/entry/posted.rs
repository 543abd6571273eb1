//! The entry form as a browser sends it: one name a field, the same as its anchor.

use quietbeam_schema::case::{
    CaseForm, MAX_COMPLICATIONS, case_variables, complication_variables, follow_up_variables, variables_of,
};
use quietbeam_schema::dictionary::Variable;
use quietbeam_schema::entries::Entries;
use quietbeam_schema::entry::Because;
use quietbeam_schema::finding::{Finding, Part, Place};
use quietbeam_schema::merge::{Choices, Side};
use quietbeam_schema::value::{Kind, decimal_point};

use super::report::taken;
use crate::pages::components::FieldId;
use crate::pages::form::Posted;
use crate::registry::drafts::{Base, Entered};

/// The name of a field of the form, which is its anchor too.
pub(super) fn name_of(part: Part, key: &str) -> FieldId {
    FieldId::of(&Place::new(part, key).pointer())
}

/// The name under which the reason is sent why a field has no value.
pub(super) fn reason_name(name: &FieldId) -> String {
    format!("{}-missing", name.as_str())
}

/// The name under which the number of complications is sent.
pub(in crate::pages) const COMPLICATIONS: &str = "complications-count";

/// The version that the page showed, and after a conflict the one that somebody else saved.
pub(super) const VERSION: &str = "version";
pub(super) const THEIRS: &str = "theirs";

/// The name under which the reason is sent why a value is right that a rule asks about.
pub(super) fn because_name(finding: &Finding) -> String {
    let field = finding.places.first().map(Place::pointer).unwrap_or_default();
    format!("because-{}{field}", finding.rule)
}

/// The name under which it is chosen whose value stands.
pub(super) fn merge_name(name: &FieldId) -> String {
    format!("merge-{}", name.as_str())
}

/// What was entered.
pub(super) fn entered(posted: &Posted) -> Entered {
    let said = posted.fields().iter().filter_map(|(name, text)| {
        let (rule, field) = name.strip_prefix("because-")?.split_once('/')?;
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let because = Because { rule: rule.to_owned(), field: format!("/{field}"), text };
        (!because.text.is_empty()).then_some(because)
    });
    Entered { form: filled_in(posted), because: said.take(MOST_SAID).collect() }
}

/// More reasons than any case raises questions.
const MOST_SAID: usize = 100;

/// From which version it was entered.
pub(super) fn base(posted: &Posted) -> Base {
    let version = |name| posted.one(name).parse::<i64>().ok();
    let over = version(THEIRS).map(|theirs| (theirs, choices(posted)));
    Base { version: version(VERSION).unwrap_or(0), over }
}

/// Whose value stands, for each field for which it was chosen.
pub(super) fn choices(posted: &Posted) -> Choices {
    let sides = posted.fields().iter().filter_map(|(name, side)| {
        let side = match side.as_str() {
            "here" => Side::Here,
            "there" => Side::There,
            _ => return None,
        };
        Some((place_named(name.strip_prefix("merge-")?)?, side))
    });
    sides.collect()
}

fn place_named(name: &str) -> Option<Place> {
    let parts = (0..MAX_COMPLICATIONS).map(Part::Complication).chain([Part::Case, Part::FollowUp]);
    parts
        .flat_map(|part| variables_of(part).into_iter().map(move |variable| (part, variable.key)))
        .find_map(|(part, key)| (name_of(part, key).as_str() == name).then(|| Place::new(part, key)))
}

/// What was filled in, and what was taken of a dose report.
pub(in crate::pages) fn filled_in(posted: &Posted) -> CaseForm {
    let count = posted.one(COMPLICATIONS).parse().unwrap_or(0).min(MAX_COMPLICATIONS);
    let complications = (0..count).map(|at| part(posted, Part::Complication(at), complication_variables()));
    let follow_up = part(posted, Part::FollowUp, follow_up_variables());
    let mut case = part(posted, Part::Case, case_variables());
    for (key, text) in taken(posted) {
        case.put(key, text);
    }
    CaseForm::new(case, complications.collect(), (!follow_up.is_blank()).then_some(follow_up))
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
