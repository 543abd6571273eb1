//! What a reader must be told, and whether it is: 25 items, filled from the report where it
//! can answer them.

use maud::{Markup, html};
use quietbeam_analysis::study::report::{Checklist, Item, Standing, State};

use crate::pages::components::{Cell, Column, Mark, Table};

/// Where the report stands; drafts say so at their head.
pub(super) fn standing(checklist: &Checklist) -> Markup {
    html! {
        @if let Standing::Draft { missing } = &checklist.standing {
            p.draft { b { "Draft. " } a href="#checklist" { (missing.len()) " items of the checklist" } " that a person must write are missing, so this is not final." }
        }
    }
}

/// The items.
pub(super) fn section(checklist: &Checklist) -> Markup {
    let row = |item: &Item| {
        let (where_from, text) = match &item.state {
            State::FromReport(text) => (html! { "from the report" }, text.as_str()),
            State::Written(text) => (html! { "written" }, text.as_str()),
            State::NotApplicable(why) => (html! { "does not apply" }, why.as_str()),
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
    html! { section id="checklist" { h2 { "Checklist" } (table) } }
}
