//! Two people changed the same: both values side by side, nothing is lost.

use maud::{Markup, Render, html};

/// One of the two values.
pub(crate) struct Side<'a> {
    /// As sent.
    pub(crate) value: &'a str,
    /// As read.
    pub(crate) shown: &'a str,
    /// Where and when: "here, now", "another window, 14:29".
    pub(crate) from: String,
    /// Whether it was chosen already.
    pub(crate) chosen: bool,
}

/// The choice between them.
pub(crate) struct Merge<'a> {
    /// The name under which the choice is sent.
    pub(crate) name: &'a str,
    /// The field in a few words.
    pub(crate) label: &'a str,
    /// The two values.
    pub(crate) sides: [Side<'a>; 2],
}

impl Render for Merge<'_> {
    fn render(&self) -> Markup {
        html! {
            fieldset.merge {
                legend { b { (self.label) } " was changed in two places." }
                div.choice {
                    @for (at, side) in self.sides.iter().enumerate() {
                        label {
                            input type="radio" name=(self.name) value=(side.value) checked[side.chosen] required;
                            span.key aria-hidden="true" { (at + 1) }
                            span { b { (side.shown) } " " (side.from) }
                        }
                    }
                }
            }
        }
    }
}
