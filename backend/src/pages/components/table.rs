//! A table: rules instead of boxes, numbers at the right. A row has exactly as many cells
//! as there are columns.

use maud::{Markup, Render, html};

/// One column.
pub(crate) struct Column {
    /// Its head.
    pub(crate) head: Markup,
    /// Whether it holds numbers.
    pub(crate) numbers: bool,
}

impl Column {
    /// A column of words.
    pub(crate) fn words(head: &str) -> Self {
        Self { head: head.render(), numbers: false }
    }

    /// A column of numbers.
    pub(crate) fn numbers(head: &str) -> Self {
        Self { head: head.render(), numbers: true }
    }
}

/// One cell.
pub(crate) enum Cell {
    /// Something to show.
    Shown(Markup),
    /// A number that is not shown; one wording for every reason.
    NotShown,
}

impl Cell {
    /// A cell with text.
    pub(crate) fn text(text: impl Render) -> Self {
        Self::Shown(text.render())
    }

    /// A cell with more than text.
    pub(crate) fn shown(content: Markup) -> Self {
        Self::Shown(content)
    }
}

/// What takes the focus inside a cell.
const HELD: [&str; 4] = ["<a ", "<button", "<input", "<select"];

/// A table of `N` columns. The first cell of a row is its head.
pub(crate) struct Table<const N: usize> {
    /// What it shows.
    pub(crate) caption: String,
    /// The columns.
    pub(crate) columns: [Column; N],
    /// The rows.
    pub(crate) rows: Vec<[Cell; N]>,
}

impl<const N: usize> Render for Table<N> {
    fn render(&self) -> Markup {
        // Where nothing inside takes the focus, the table itself does, so that keys can scroll it.
        let reaches = |cell: &Cell| matches!(cell, Cell::Shown(shown) if HELD.iter().any(|held| shown.0.contains(held)));
        let bare = !self.rows.iter().flatten().any(reaches);
        html! {
            div.scroll tabindex=[bare.then_some("0")] role=[bare.then_some("region")] aria-label=[bare.then_some(&self.caption)] { table {
                caption { (self.caption) }
                thead { tr { @for column in &self.columns {
                    th.number[column.numbers] scope="col" { (column.head) }
                } } }
                tbody { @for row in &self.rows { tr {
                    @for (at, (cell, column)) in row.iter().zip(&self.columns).enumerate() {
                        @match cell {
                            Cell::Shown(shown) if at == 0 => th scope="row" { (shown) },
                            Cell::Shown(shown) => td.number[column.numbers] { (shown) },
                            Cell::NotShown => td.not-shown { span { "not shown" } },
                        }
                    }
                } } }
            } }
        }
    }
}
