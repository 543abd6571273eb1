//! The fields of a margin, wherever one is typed: its scale, and how much.

use maud::{Markup, html};
use quietbeam_schema::vocabulary::{Coded, MarginScale};

use super::typed::scale;
use super::write::definitions;
use crate::pages::components::{Choice, Control, FieldRow, Pick, Text};
use crate::pages::trouble::Troubles;

/// A field's name and what was typed there.
pub(super) type Filled<'a> = (&'a str, &'a str);

/// Both rows.
pub(super) fn rows(of_scale: Filled<'_>, margin: Filled<'_>, troubles: Option<&Troubles>) -> Markup {
    let scales = Control::Choice(Choice {
        name: of_scale.0,
        picks: MarginScale::LIST.codes.iter().map(Pick::of).collect(),
        chosen: Some(scale(of_scale.1).code()),
    });
    let size = Control::Text(Text { name: margin.0, value: margin.1, number_in: Some("points, or times") });
    let row = |name, (label, second), control, note| FieldRow {
        note: Some(note),
        ..FieldRow::of_form(name, label, Some(second), control, troubles)
    };
    html! {
        (row(of_scale.0, ("Scale", "of the margin"), scales, definitions(MarginScale::LIST)))
        (row(margin.0, ("Margin", "how much worse is still acceptable"), size, html! { "3 points: 92 of 100 instead of 95. 1.5 times: three failures instead of two. The smaller the margin, the more cases it takes." }))
    }
}
