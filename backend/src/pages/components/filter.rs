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
    // What is asked for beyond the choices is shown as it is, so that nothing seems unasked.
    let beyond = !chosen.is_empty() && picks.iter().all(|(value, _)| value != chosen);
    html! {
        div {
            label.label for={ "filter-" (name) } { (label) }
            select.select id={ "filter-" (name) } name=(name) {
                @if let Some(any) = any { option value="" { (any) } }
                @if beyond { option value=(chosen) selected { (chosen) } }
                @for (value, label) in picks { option value=(value) selected[value == chosen] { (label) } }
            }
        }
    }
}
