//! One filter of a list; what is chosen lives in the address.

use maud::{Markup, html};

/// A list of values with their labels; `any` is what a blank is called, where a blank may be
/// chosen.
pub(crate) fn filter(
    name: &str,
    label: &str,
    chosen: &str,
    picks: &[(String, String)],
    any: Option<&str>,
) -> Markup {
    html! {
        div {
            label.label for={ "filter-" (name) } { (label) }
            select.select id={ "filter-" (name) } name=(name) {
                @if let Some(any) = any { option value="" { (any) } }
                @for (value, label) in picks { option value=(value) selected[value == chosen] { (label) } }
            }
        }
    }
}
