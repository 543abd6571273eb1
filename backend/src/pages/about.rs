//! What a question is about: the field, and what stands in it. A rule that asks about a unit
//! asks about the field that has it.

use quietbeam_schema::case::{CaseForm, variables_of};
use quietbeam_schema::dictionary::{Variable, column};
use quietbeam_schema::finding::{Part, Place};

use super::components::FieldId;
use super::shown::{entered, place_label};

/// A field of the record.
#[derive(Clone, Copy)]
pub(super) struct About {
    /// The part it stands in.
    pub(super) part: Part,
    /// The variable.
    pub(super) variable: &'static Variable,
}

impl About {
    /// The field that a pointer names, if the dictionary has it.
    pub(super) fn of(pointer: Option<&str>) -> Option<Self> {
        let place = Place::from_pointer(pointer?)?;
        let (variable, _) = column(&variables_of(place.part), &place.key)?;
        Some(Self { part: place.part, variable })
    }

    /// Its label.
    pub(super) fn label(self) -> String {
        place_label(self.part, self.variable)
    }

    /// What stands there, in words.
    pub(super) fn value(self, form: &CaseForm) -> Option<String> {
        form.part(self.part).and_then(|entries| entered(self.variable, entries))
    }

    /// Its anchor on a page.
    pub(super) fn id(self) -> FieldId {
        FieldId::of(&Place::new(self.part, self.variable.key).pointer())
    }
}

/// The label of the field that a pointer names, or what stands for none.
pub(super) fn label(pointer: Option<&str>) -> String {
    About::of(pointer).map_or_else(|| "The case as a whole".to_owned(), About::label)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    #[test]
    fn a_unit_is_its_field() {
        assert_eq!(About::of(Some("/kap_unit")).unwrap().id().as_str(), "kap");
        assert_eq!(
            About::of(Some("/complications/0/outcome")).unwrap().id().as_str(),
            "complications-0-outcome"
        );
        assert!(About::of(Some("/nonsense")).is_none() && About::of(None).is_none());
        assert_eq!(label(None), "The case as a whole");
    }
}
