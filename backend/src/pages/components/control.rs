//! What a field is filled in with. Every control is drawn joined to its row.

use maud::{Markup, html};

use super::choice::{Choice, Choices, Picker};
use super::field_row::FieldId;
use super::quantity::QuantityBox;

/// What joins a control to its row.
pub(crate) struct Joined<'a> {
    /// The field's name.
    pub(crate) id: &'a FieldId,
    /// Its label.
    pub(crate) label: &'a str,
    /// The message under it.
    pub(crate) described_by: Option<&'a str>,
    /// Whether it must be mended.
    pub(crate) invalid: bool,
}

impl Joined<'_> {
    /// What `aria-invalid` says, where it says anything.
    pub(crate) fn aria_invalid(&self) -> Option<&'static str> {
        self.invalid.then_some("true")
    }

    /// The name of the row's label, for groups of controls.
    pub(crate) fn label_id(&self) -> String {
        format!("{}-label", self.id.as_str())
    }
}

/// One line of text or one number.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Text<'a> {
    /// The name under which it is sent.
    pub(crate) name: &'a str,
    /// What stands in it.
    pub(crate) value: &'a str,
    /// Whether it is a number; its unit may be empty.
    pub(crate) number_in: Option<&'a str>,
}

/// Several lines of text.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lines<'a> {
    /// The name under which they are sent.
    pub(crate) name: &'a str,
    /// What stands in them.
    pub(crate) value: &'a str,
}

/// A password. What was typed never comes back.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Secret<'a> {
    /// The name under which it is sent.
    pub(crate) name: &'a str,
    /// What password keepers make of it: "current-password" or "new-password".
    pub(crate) purpose: &'a str,
}

/// A control.
pub(crate) enum Control<'a> {
    /// One line.
    Text(Text<'a>),
    /// Several lines.
    Lines(Lines<'a>),
    /// A password.
    Secret(Secret<'a>),
    /// A number with its unit.
    Quantity(QuantityBox<'a>),
    /// One of a few.
    Choice(Choice<'a>),
    /// Any of a few.
    Choices(Choices<'a>),
    /// One of many.
    Picker(Picker<'a>),
}

impl Control<'_> {
    /// Whether several elements share the row's label.
    pub(super) fn is_group(&self) -> bool {
        matches!(self, Control::Choice(_) | Control::Choices(_))
    }

    pub(super) fn draw(&self, joined: &Joined<'_>) -> Markup {
        match self {
            Control::Text(text) => text.draw(joined),
            Control::Lines(lines) => html! {
                textarea.input id=(joined.id) name=(lines.name) rows="3" aria-describedby=[joined.described_by]
                    aria-invalid=[joined.aria_invalid()] { (lines.value) }
            },
            Control::Secret(secret) => html! {
                input.input.wide id=(joined.id) name=(secret.name) type="password" autocomplete=(secret.purpose)
                    required aria-describedby=[joined.described_by] aria-invalid=[joined.aria_invalid()];
            },
            Control::Quantity(quantity) => quantity.draw(joined),
            Control::Choice(choice) => choice.draw(joined),
            Control::Choices(choices) => choices.draw(joined),
            Control::Picker(picker) => picker.draw(joined),
        }
    }
}

impl Text<'_> {
    fn draw(&self, joined: &Joined<'_>) -> Markup {
        let (class, mode) = match self.number_in {
            Some(_) => ("input number", Some("decimal")),
            None => ("input wide", None),
        };
        html! {
            div.controls {
                input class=(class) id=(joined.id) name=(self.name) value=(self.value) inputmode=[mode]
                    autocomplete="off" aria-describedby=[joined.described_by] aria-invalid=[joined.aria_invalid()];
                @if let Some(unit) = self.number_in { span.unit { (unit) } }
            }
        }
    }
}
