//! What every seat could learn, in words: the approver reads it before signing.

use maud::{Markup, html};
use quietbeam_analysis::methods::disclosure::{Held, Learnt, Range};

use crate::pages::components::{Cell, Column, Table};
use crate::pages::words::{capital, counted};

/// The table, a line a seat, with the number that this seat can place most narrowly.
pub(super) fn section(learnt: &Learnt) -> Markup {
    let rows = learnt.worst().map(|(seat, guarded, narrowest)| {
        let seat = Cell::text(capital(&seat.to_string()));
        match narrowest {
            None => [seat, Cell::text("nothing is kept from it"), Cell::text("–"), Cell::text("passes")],
            Some((number, held)) => [
                seat,
                Cell::text(format!(
                    "{} kept from it; most narrowly “{number}”",
                    counted(guarded, "number", "numbers")
                )),
                Cell::text(range(held)),
                Cell::text(verdict(held)),
            ],
        }
    });
    let table = Table {
        caption: "What each seat could learn, from this summary and all before it".to_owned(),
        columns: ["Who looks", "What is kept from it", "Could still be", "Judged"].map(Column::words),
        rows: rows.collect(),
    };
    html! {
        section id="learnt" {
            h2 { "What could each seat learn?" }
            p { "Every number that must not be told was attacked from each of these seats; a centre knows its own cases. None of this is published." }
            (table)
        }
    }
}

/// The range as far as it was looked for.
fn range(held: Held) -> String {
    match held.range {
        Some(Range { low, high }) => format!("{} to {high} or beyond", low.max(0)),
        None => "too little to be told here".to_owned(),
    }
}

fn verdict(held: Held) -> &'static str {
    match (held.wide, held.lost_before) {
        (true, _) => "passes",
        (false, true) => "was given away before",
        (false, false) => "too narrow",
    }
}
