//! Choosing: a strip for one of a few, boxes for any of a few, a list for one of many.
//! Nothing is chosen for the person.

use maud::{Markup, html};
use quietbeam_schema::vocabulary::Code;

use super::control::Joined;

/// Something that can be chosen.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pick<'a> {
    /// As sent.
    pub(crate) value: &'a str,
    /// As read.
    pub(crate) label: &'a str,
    /// What it means, for the search by typing; blank where the label says it.
    pub(crate) about: &'a str,
}

impl<'a> Pick<'a> {
    /// A pick whose label says it all.
    pub(crate) fn plain(value: &'a str, label: &'a str) -> Self {
        Self { value, label, about: "" }
    }

    /// A code of a list, with its definition.
    pub(crate) fn of(code: &'a Code) -> Self {
        Self { value: code.code, label: code.label, about: code.definition }
    }

    fn about(&self) -> Option<&'a str> {
        (!self.about.is_empty()).then_some(self.about)
    }
}

/// One of a few, joined in a strip; underneath it is a radio group.
pub(crate) struct Choice<'a> {
    /// The name under which it is sent.
    pub(crate) name: &'a str,
    /// What can be chosen.
    pub(crate) picks: Vec<Pick<'a>>,
    /// The value that was chosen.
    pub(crate) chosen: Option<&'a str>,
}

/// Any of a few.
pub(crate) struct Choices<'a> {
    /// The name under which each is sent.
    pub(crate) name: &'a str,
    /// What can be chosen.
    pub(crate) picks: Vec<Pick<'a>>,
    /// The values that were chosen.
    pub(crate) chosen: Vec<&'a str>,
}

/// One of many.
pub(crate) struct Picker<'a> {
    /// The name under which it is sent.
    pub(crate) name: &'a str,
    /// What can be chosen.
    pub(crate) picks: Vec<Pick<'a>>,
    /// The value that was chosen.
    pub(crate) chosen: Option<&'a str>,
}

impl Choice<'_> {
    /// The strip alone, where the row is not a field's.
    pub(crate) fn draw(&self, joined: &Joined<'_>) -> Markup {
        html! {
            div.choice id=(joined.id) role="radiogroup" aria-labelledby=(joined.label_id())
                aria-describedby=[joined.described_by] aria-invalid=[joined.aria_invalid()] {
                @for (at, pick) in self.picks.iter().enumerate() {
                    label {
                        input type="radio" name=(self.name) value=(pick.value) checked[self.chosen == Some(pick.value)];
                        span.key aria-hidden="true" { (at + 1) }
                        span { (pick.label) }
                    }
                }
            }
        }
    }
}

impl Choices<'_> {
    pub(super) fn draw(&self, joined: &Joined<'_>) -> Markup {
        html! {
            div.choices id=(joined.id) role="group" aria-labelledby=(joined.label_id())
                aria-describedby=[joined.described_by] {
                @for pick in &self.picks {
                    label {
                        input type="checkbox" name=(self.name) value=(pick.value)
                            data-about=[pick.about()] checked[self.chosen.contains(&pick.value)];
                        span { (pick.label) }
                    }
                }
            }
        }
    }
}

impl Picker<'_> {
    pub(super) fn draw(&self, joined: &Joined<'_>) -> Markup {
        html! {
            select.select id=(joined.id) name=(self.name) aria-describedby=[joined.described_by]
                aria-invalid=[joined.aria_invalid()] {
                option value="" selected[self.chosen.is_none()] { "" }
                @for pick in &self.picks {
                    option value=(pick.value) data-about=[pick.about()] selected[self.chosen == Some(pick.value)] {
                        (pick.label)
                    }
                }
            }
        }
    }
}
