//! A number with its unit, and beside it what it becomes in the registry's unit.

use maud::{Markup, html};

use super::choice::Pick;
use super::control::Joined;

/// The number and the unit.
pub(crate) struct QuantityBox<'a> {
    /// The name under which the number is sent.
    pub(crate) name: &'a str,
    /// What stands in the box: a number or a missing code.
    pub(crate) value: &'a str,
    /// The name under which the unit is sent.
    pub(crate) unit_name: &'a str,
    /// The units: the code as sent, the label with its signs.
    pub(crate) units: Vec<Pick<'a>>,
    /// The unit that was chosen, or that the room's console shows.
    pub(crate) unit: Option<&'a str>,
    /// The unit that the room's console shows, as long as nothing else was said.
    pub(crate) offered: Option<&'a str>,
    /// What the typed pair became: "6.37 Gy·cm²", or "not recorded".
    pub(crate) becomes: Option<&'a str>,
}

impl QuantityBox<'_> {
    pub(super) fn draw(&self, joined: &Joined<'_>) -> Markup {
        html! {
            div.controls {
                input.input.number id=(joined.id) name=(self.name) value=(self.value) inputmode="decimal"
                    autocomplete="off" aria-describedby=[joined.described_by] aria-invalid=[joined.aria_invalid()];
                select.select name=(self.unit_name) data-offered=[self.offered] aria-label={ "Unit of " (joined.label) } {
                    @if self.unit.is_none() { option value="" selected { "" } }
                    @for pick in &self.units {
                        option value=(pick.value) selected[self.unit == Some(pick.value)] { (pick.label) }
                    }
                }
                output.echo for=(joined.id) { @if let Some(becomes) = self.becomes { "= " b { (becomes) } } }
            }
        }
    }
}
