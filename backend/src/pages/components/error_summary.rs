//! What must be mended, at the head of the page that was refused, each a link into its field.

use maud::{Markup, html};

use super::marks::Mark;
use crate::pages::trouble::Troubles;
use crate::pages::words::{capital, counted};

/// The summary; `before` says what waits for the mend: "this case can be submitted".
pub(crate) fn error_summary(troubles: &Troubles, before: &str) -> Markup {
    let number = counted(troubles.len(), "thing must be mended", "things must be mended");
    html! {
        section.error-summary role="alert" tabindex="-1" id="must-be-mended" autofocus {
            (Mark::MustBeMended.shape())
            h2 { (capital(&number)) " before " (before) }
            ul {
                @for trouble in troubles.iter() {
                    li { a href={ "#" (trouble.field) } { (trouble.sentence) } }
                }
            }
        }
    }
}
