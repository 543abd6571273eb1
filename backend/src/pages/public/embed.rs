//! The tables of a summary for another page: no script, no navigation, no sign-in.

use maud::{Markup, html};

use super::{Published, cite, page, table};
use crate::config::Network;
use crate::pages::frame::bare_page;

/// The page that stands inside another.
pub(super) fn page(published: &Published, network: &Network) -> Markup {
    let content = html! {
        p.small.kicker {
            (network.name) " · safety summary " (published.record.number.0) " · published " (published.day())
        }
        (page::outcomes(published))
        p.small {
            (table::hatched())
            " Cases were not randomised. For research: not for decisions about an individual patient. "
            a href=(cite::address(published, network)) target="_top" { "The whole summary" }
        }
    };
    bare_page(published.title(), &content)
}

/// What somebody writes into the other page.
pub(super) fn snippet(published: &Published, network: &Network) -> String {
    format!(
        "<iframe src=\"{}/embed\" title=\"Safety summary {}\" width=\"100%\" height=\"520\" loading=\"lazy\"></iframe>",
        cite::address(published, network),
        published.record.number.0
    )
}
