//! A dose report as a person reads it.

use std::fmt::{self, Write};

use super::concept::Total;
use super::offer::Offer;
use super::totals::DoseReport;

/// The unit as a person reads it.
fn unit(total: Total) -> &'static str {
    match total.unit() {
        "Gy.cm2" => " Gy·cm²",
        "mGy" => " mGy",
        "s" => " s",
        _ => "",
    }
}

impl DoseReport {
    /// The totals of each plane, what can be offered to the case, and what to know before.
    ///
    /// # Errors
    /// Only those of `out`.
    pub fn write_words(&self, offer: &Offer, out: &mut dyn Write) -> fmt::Result {
        for of in &self.planes {
            writeln!(out, "Totals, {}", of.plane)?;
            for total in Total::ALL {
                let value = of.totals.get(&total);
                let value = value.map_or("not in the report".to_owned(), |v| format!("{v}{}", unit(total)));
                writeln!(out, "  {:<36}{value}", total.to_string())?;
            }
        }
        writeln!(out, "Offered for the case; compare with the console before entering")?;
        for field in &offer.fields {
            let unit = field.unit.map(|unit| format!(" {unit}")).unwrap_or_default();
            writeln!(out, "  {:<36}{}{unit}", field.field, field.value)?;
        }
        for note in &self.notes {
            writeln!(out, "To know: {note}")?;
        }
        writeln!(
            out,
            "Air kerma at the reference point is not skin dose. For research: not for an individual patient's care."
        )
    }
}
