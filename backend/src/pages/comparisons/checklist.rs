//! What a reader must be told, and whether it is: 25 items, filled from the report where it
//! can answer them.

use maud::{Markup, html};
use quietbeam_analysis::study::report::{ByPerson, Checklist, Item, Standing, State};

use super::writing::written;
use crate::pages::components::{Cell, Column, Mark, Table, as_blocks};
use crate::registry::report_texts::Texts;

/// Where the report stands; drafts say so at their head.
pub(super) fn standing(checklist: &Checklist) -> Markup {
    html! {
        @if let Standing::Draft { missing } = &checklist.standing {
            p.draft {
                b { "Draft. " }
                a href="#checklist" { @if missing.len() == 1 { "An item of the checklist" } @else { (missing.len()) " items of the checklist" } }
                @if missing.len() == 1 { " is missing, so this is not final." } @else { " are missing, so this is not final." }
            }
        }
    }
}

/// The items.
pub(super) fn section(checklist: &Checklist, texts: &Texts) -> Markup {
    let row = |item: &Item| {
        let (where_from, text) = match &item.state {
            State::FromReport { text } => (html! { "from the registry" }, text.as_str()),
            State::Written(by_person) => {
                let item = ByPerson::of_number(item.number);
                (
                    html! { (item.and_then(|item| written(item, texts)).unwrap_or_default()) },
                    by_person.text.as_str(),
                )
            }
            State::NotApplicable { text } => (html! { "does not apply" }, text.as_str()),
            State::Missing if item.blocking => (Mark::ToAnswer.with("missing"), ""),
            State::Missing => (html! { "not written" }, ""),
        };
        [Cell::text(item.number), Cell::text(item.asks), Cell::shown(where_from), Cell::text(text)]
    };
    let table = Table {
        caption: "What a reader must be told".to_owned(),
        columns: ["No.", "Asks", "Where from", "Answer"].map(Column::words),
        rows: checklist.items.iter().map(row).collect(),
    };
    html! { section id="checklist" { h2 { "Checklist" } (as_blocks(&table)) } }
}
