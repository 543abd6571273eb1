//! Whether counts fall evenly on their categories.

use super::calculation::{Calculation, Shape};
use super::cells::{Cells, number};
use super::column::{Column, Output};
use super::input::Input;
use super::line::Cell;
use super::table::Table;
use super::trouble::Trouble;
use crate::methods::evenness::{CategoryCounts, EvennessTest, even_chi_square_test, even_exact_test};
use crate::methods::interval::NotEstimable;

pub(super) fn family() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "even_chi_square",
            "pearson1900, cochran1954b",
            "Pearson's test that the categories of a set are equally probable",
            |counts: Categories| Ok::<_, NotEstimable>(even_chi_square_test(&counts.counted()?)),
        ),
        C::new(
            "even_exact",
            "cochran1952",
            "Exact test that the categories of a set are equally probable",
            |counts: Categories| even_exact_test(&counts.counted()?),
        ),
    ]
}

/// The counts of one set, a row a category.
struct Categories(Vec<u32>);

impl Categories {
    fn counted(self) -> Result<CategoryCounts, NotEstimable> {
        CategoryCounts::new(self.0).map_err(|_| NotEstimable::NothingToSpread)
    }
}

impl Input for Categories {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![Column::value("count", "how often this category was seen; a row for each, 2 to 100 a set")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.rows().map(|row| row.whole("count")).collect::<Result<_, _>>().map(Self)
    }
}

impl Cells for EvennessTest {
    const COLUMNS: &'static [Output] =
        &[Output::new("statistic", "Pearson's statistic"), Output::new("p", "p value of evenness")];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.statistic), number(self.p)]
    }
}
