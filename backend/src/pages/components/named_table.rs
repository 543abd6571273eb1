//! A table of a safety summary: drawn alike for whoever composes it and for the public.

use maud::{Markup, html};
use quietbeam_analysis::study::summary::{NamedTable, TableCell};

/// The table, whatever it is about.
pub(crate) fn named_table(table: &NamedTable) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label=(table.caption) { table {
            caption { (table.caption) }
            thead { tr {
                th scope="col" { (table.stub) }
                @for column in &table.columns { th.number scope="col" { (column.label) } }
            } }
            tbody { @for row in &table.rows {
                tr.total[row.key == "any" || row.key == "all"] {
                    th scope="row" { (row.label) }
                    @for cell in &row.cells { (drawn(cell)) }
                }
            } }
        } }
    }
}

fn drawn(cell: &TableCell) -> Markup {
    if cell.is_hidden() {
        return html! { td.not-shown { span { (cell.text()) } } };
    }
    html! { td.number { (cell.text()) } }
}
