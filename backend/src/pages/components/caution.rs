//! The caution that stands under every verdict and every public headline.

use maud::{Markup, Render, html};

/// The usual caution, with what is particular to the page behind it.
pub(crate) fn caution(particular: impl Render) -> Markup {
    html! {
        section.caution {
            h2 { "Read with care" }
            p {
                "This describes groups, not a person. Patients were not assigned to a strategy by chance. "
                "Fluoroscopy stays available in every room. For research: not for the care of an individual "
                "patient. " (particular)
            }
        }
    }
}
