//! A table: rules instead of boxes, numbers at the right. A row has exactly as many cells
//! as there are columns.

use maud::{Markup, Render, html};

/// One column.
pub(crate) struct Column {
    /// Its head in words.
    words: String,
    /// What is drawn before them.
    sign: Option<Markup>,
    /// Whether it holds numbers.
    numbers: bool,
}

impl Column {
    /// A column of words.
    pub(crate) fn words(head: &str) -> Self {
        Self { words: head.to_owned(), sign: None, numbers: false }
    }

    /// A column of numbers.
    pub(crate) fn numbers(head: &str) -> Self {
        Self { words: head.to_owned(), sign: None, numbers: true }
    }

    /// The same with something drawn before the words of its head.
    pub(crate) fn with_sign(self, sign: Markup) -> Self {
        Self { sign: Some(sign), ..self }
    }

    fn head(&self) -> Markup {
        match &self.sign {
            Some(sign) => html! { span.marked { (sign) (self.words) } },
            None => self.words.render(),
        }
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

/// A table whose rows stand as blocks on a phone, every cell under the name of its column: for
/// cells that hold sentences.
pub(crate) fn as_blocks<const N: usize>(table: &Table<N>) -> Markup {
    html! { div.as-blocks { (table.draw(true)) } }
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
        self.draw(false)
    }
}

impl<const N: usize> Table<N> {
    /// `named` cells bear the words of their column.
    fn draw(&self, named: bool) -> Markup {
        let name = |column: &Column| named.then(|| column.words.clone());
        // Where nothing inside takes the focus, the table itself does, so that keys can scroll it.
        let reaches = |cell: &Cell| matches!(cell, Cell::Shown(shown) if HELD.iter().any(|held| shown.0.contains(held)));
        let bare = !self.rows.iter().flatten().any(reaches);
        html! {
            div.scroll tabindex=[bare.then_some("0")] role=[bare.then_some("region")] aria-label=[bare.then_some(&self.caption)] { table {
                caption { (self.caption) }
                thead { tr { @for column in &self.columns {
                    th.number[column.numbers] scope="col" { (column.head()) }
                } } }
                tbody { @for row in &self.rows { tr {
                    @for (at, (cell, column)) in row.iter().zip(&self.columns).enumerate() {
                        @match cell {
                            Cell::Shown(shown) if at == 0 => th scope="row" { (shown) },
                            Cell::Shown(shown) => td.number[column.numbers] data-column=[name(column)] { (shown) },
                            Cell::NotShown => td.not-shown data-column=[name(column)] { span { "not shown" } },
                        }
                    }
                } } }
            } }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_bears_the_words_of_its_column() {
        let sign = || html! { svg { path d="M0 0" {} } };
        let table = Table {
            caption: "Dose".to_owned(),
            columns: [Column::words("Arm"), Column::numbers("Mean < 5 & more").with_sign(sign())],
            rows: vec![[Cell::text("zero"), Cell::text("3")]],
        };
        let (plain, blocks) = (table.render().0, as_blocks(&table).0);
        assert!(
            plain.contains("</svg>Mean &lt; 5 &amp; more</span>") && !plain.contains("data-column"),
            "{plain}"
        );
        assert!(blocks.contains("data-column=\"Mean &lt; 5 &amp; more\""), "{blocks}");
    }
}
