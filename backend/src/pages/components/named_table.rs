//! A table of a safety summary: drawn alike for whoever composes it and for the public.

use maud::{Markup, html};
use quietbeam_analysis::study::published::Published;
use quietbeam_analysis::study::summary::{NamedTable, TableCell, TableRow};

/// The table, whatever it is about.
pub(crate) fn named_table(table: &NamedTable) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label=(table.caption) { table {
            caption { (table.caption) }
            thead { tr {
                th scope="col" { (table.stub) }
                @for column in &table.columns { th.number scope="col" { (column.label) } }
            } }
            tbody { @for (place, row) in table.rows.iter().enumerate() {
                // A row may be called so without being the total: lead that all wore.
                @let last = place + 1 == table.rows.len();
                tr.total[row.key == "any" || (row.key == "all" && last)] {
                    th scope="row" { (row.label) }
                    @for (cell, column) in row.cells.iter().zip(&table.columns) {
                        (drawn(cell, is_empty(row), &column.label))
                    }
                }
            } }
        } }
    }
}

/// Whether the row is about no case at all, and says so.
fn is_empty(row: &TableRow) -> bool {
    matches!(row.cells.first(), Some(TableCell::Count(Published::Shown(0))))
}

fn drawn(cell: &TableCell, of_nothing: bool, column: &str) -> Markup {
    // Of no case there is no quartile: nothing is kept back. A summary from before there was a word for
    // that says it is hidden.
    if *cell == TableCell::OfNone || (of_nothing && *cell == TableCell::Hidden) {
        return html! { td.number.of-nothing data-column=(column) { "–" } };
    }
    if cell.is_hidden() {
        return html! { td.not-shown data-column=(column) { span { (cell.text()) } } };
    }
    html! { td.number data-column=(column) { (cell.text()) } }
}

/// The same with its rows as blocks on a phone: nobody pushes a table sideways to compare two numbers.
pub(crate) fn named_table_in_blocks(table: &NamedTable) -> Markup {
    html! { div.as-blocks { (named_table(table)) } }
}

#[cfg(test)]
mod tests {
    use super::*;
    use quietbeam_analysis::study::summary::Heading;

    fn heading(key: &str) -> Heading {
        Heading { key: key.to_owned(), label: key.to_owned() }
    }

    fn row(key: &str, cells: Vec<TableCell>) -> TableRow {
        TableRow { key: key.to_owned(), label: key.to_owned(), cells }
    }

    #[test]
    fn what_no_case_has_is_told_apart_from_what_is_kept_back() {
        let count = |count| TableCell::Count(count);
        let table = NamedTable {
            key: "dose".to_owned(),
            caption: "Dose".to_owned(),
            stub: "Strategy".to_owned(),
            columns: vec![heading("cases"), heading("median")],
            rows: vec![
                row("all", vec![count(Published::Shown(0)), TableCell::Hidden]),
                row("near_zero", vec![count(Published::Hidden), TableCell::Hidden]),
                row("zero", vec![count(Published::Shown(40)), TableCell::Hidden]),
            ],
        };
        let drawn = named_table(&table).into_string();
        let rows: Vec<&str> = drawn.split("<tr").skip(2).collect();
        assert_eq!(
            rows.iter().map(|row| row.matches("not-shown").count()).collect::<Vec<_>>(),
            [0, 2, 1],
            "{drawn}"
        );
        assert!(rows[0].contains("–") && !rows[1].contains("–") && !rows[2].contains("–"), "{drawn}");
        assert!(!drawn.contains("total"), "a row in the middle is no total: {drawn}");
    }
}
