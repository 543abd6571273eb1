//! Two-way tables of counts with their totals, several of them over the same
//! rows and columns.

use super::profile::Profile;

/// What a table counts. It decides when "all" or "none" tells something bad
/// about everyone in a group.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meaning {
    /// Cases: the groups themselves.
    Cases,
    /// Cases in which something bad happened: "all" tells it of everyone.
    Adverse,
    /// Cases in which something hoped for happened: "none" tells its failure of everyone.
    Wanted,
    /// Neither.
    Neutral,
}

/// The shape of a table: its own rows and columns, and one more of each for totals.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Grid {
    rows: usize,
    columns: usize,
}

impl Grid {
    /// A shape without its totals.
    pub fn new(rows: usize, columns: usize) -> Self {
        Self { rows, columns }
    }

    /// Lines of one direction, the line of totals included.
    pub fn height(self) -> usize {
        self.rows + 1
    }

    /// Lines of the other direction, the line of totals included.
    pub fn width(self) -> usize {
        self.columns + 1
    }

    /// Cells, totals included.
    pub fn cells(self) -> usize {
        self.height() * self.width()
    }

    /// The place of a cell; the last row and the last column hold the totals.
    pub fn place(self, row: usize, column: usize) -> usize {
        row * self.width() + column
    }

    /// The row and the column of a place.
    pub fn row_and_column(self, place: usize) -> (usize, usize) {
        (place / self.width(), place % self.width())
    }

    /// How many of the two totals directions a cell belongs to: 0 inside, 2 the grand total.
    pub(super) fn depth_of_total(self, place: usize) -> usize {
        let (row, column) = self.row_and_column(place);
        // The only line of a direction is its own total.
        usize::from(row == self.rows || self.rows == 1)
            + usize::from(column == self.columns || self.columns == 1)
    }
}

/// One table with its totals.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Table {
    pub(super) meaning: Meaning,
    pub(super) within: Vec<usize>,
    pub(super) counts: Vec<u64>,
    /// How many centres contribute to each cell.
    pub(super) centres: Vec<u32>,
    /// What each centre contributes to each cell.
    pub(super) by_centre: Vec<Vec<u64>>,
}

impl Table {
    /// Adds up the counts of the centres. Each centre gives its inner cells, row
    /// by row; `within` names the tables, by position, of which every cell of
    /// this one counts a part.
    pub fn of_centres<'a>(
        grid: Grid,
        meaning: Meaning,
        within: Vec<usize>,
        centres: impl IntoIterator<Item = &'a [u64]>,
    ) -> Self {
        let (counts, centres_of) = (vec![0; grid.cells()], vec![0; grid.cells()]);
        let mut table = Self { meaning, within, counts, centres: centres_of, by_centre: Vec::new() };
        for inner in centres {
            let mut own = vec![0_u64; grid.cells()];
            for (number, count) in inner.iter().enumerate().take(grid.rows * grid.columns) {
                let (row, column) = (number / grid.columns, number % grid.columns);
                for (row, column) in
                    [(row, column), (row, grid.columns), (grid.rows, column), (grid.rows, grid.columns)]
                {
                    own[grid.place(row, column)] += count;
                }
            }
            for (place, count) in own.iter().enumerate() {
                table.counts[place] += count;
                table.centres[place] += u32::from(*count > 0);
            }
            table.by_centre.push(own);
        }
        table
    }

    /// The count at a place.
    pub fn count(&self, place: usize) -> u64 {
        self.counts[place]
    }

    /// What each centre contributes to a place.
    pub fn by_centre(&self, place: usize) -> Vec<u64> {
        self.by_centre.iter().map(|own| own[place]).collect()
    }

    /// What the table counts.
    pub fn meaning(&self) -> Meaning {
        self.meaning
    }

    /// The tables, by position, of which every cell of this one counts a part.
    pub fn within(&self) -> &[usize] {
        &self.within
    }

    /// What some centres contribute to a place.
    pub(super) fn own(&self, seat: &[usize], place: usize) -> u64 {
        seat.iter().map(|centre| self.by_centre[*centre][place]).sum()
    }

    /// Whether the second largest centre comes too near to the largest one's count by taking itself
    /// from the total.
    pub(super) fn is_dominated(&self, place: usize, profile: Profile) -> bool {
        let mut largest = self.by_centre(place);
        largest.sort_unstable_by(|a, b| b.cmp(a));
        let [first, second] = [0, 1].map(|nth| largest.get(nth).copied().unwrap_or(0));
        100 * (self.counts[place] - first - second) < profile.dominance * first
    }
}

/// Why tables do not belong together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TableError {
    /// A table has another shape than the first.
    #[error("table {table} has another shape than the others")]
    Shape {
        /// Its position.
        table: usize,
    },
    /// A table is declared a part of one that does not stand before it.
    #[error("table {table} is declared a part of table {whole}, which does not stand before it")]
    Order {
        /// Its position.
        table: usize,
        /// The position it names.
        whole: usize,
    },
    /// A part is larger than its whole.
    #[error("table {table} counts more than its whole, table {whole}")]
    LargerThanWhole {
        /// Its position.
        table: usize,
        /// The whole's position.
        whole: usize,
    },
}

/// Tables over the same rows and columns, published together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tables {
    pub(super) grid: Grid,
    pub(super) tables: Vec<Table>,
}

impl Tables {
    /// Puts tables together.
    ///
    /// # Errors
    /// Different shapes, a whole after its part, or a part larger than its whole.
    pub fn new(grid: Grid, tables: Vec<Table>) -> Result<Self, TableError> {
        for (table, own) in tables.iter().enumerate() {
            if own.counts.len() != grid.cells() {
                return Err(TableError::Shape { table });
            }
            for &whole in &own.within {
                let Some(large) = tables.get(whole).filter(|_| whole < table) else {
                    return Err(TableError::Order { table, whole });
                };
                if own.counts.iter().zip(&large.counts).any(|(part, all)| part > all) {
                    return Err(TableError::LargerThanWhole { table, whole });
                }
            }
        }
        Ok(Self { grid, tables })
    }

    /// The shape.
    pub fn grid(&self) -> Grid {
        self.grid
    }

    /// The tables.
    pub fn tables(&self) -> &[Table] {
        &self.tables
    }

    /// Whether a small count may be shown because it is one of a large network as a whole.
    pub(super) fn may_be_small(&self, table: usize, place: usize, profile: Profile) -> bool {
        let Some(tier) = profile.network_tier else { return false };
        let is_large = |whole: &usize| {
            let group = &self.tables[*whole];
            group.counts[place] >= tier.least_cases && group.centres[place] >= tier.least_centres
        };
        self.grid.depth_of_total(place) == 2 && self.tables[table].within.iter().any(is_large)
    }

    /// The same tables without what some centres contribute: what is left for these to find out.
    pub(super) fn without(&self, seat: &[usize]) -> Self {
        let rest = |table: &Table| {
            let counts = table.counts.iter().enumerate().map(|(place, count)| count - table.own(seat, place));
            Table { counts: counts.collect(), ..table.clone() }
        };
        Self { grid: self.grid, tables: self.tables.iter().map(rest).collect() }
    }

    /// Every table and place.
    pub(super) fn everywhere(&self) -> impl Iterator<Item = (usize, usize)> {
        let cells = self.grid.cells();
        (0..self.tables.len()).flat_map(move |table| (0..cells).map(move |place| (table, place)))
    }
}

/// What is hidden: one answer for each place of each table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mask(Vec<Vec<bool>>);

impl Mask {
    /// Hides everything.
    pub fn everything(tables: &Tables) -> Self {
        Self(vec![vec![true; tables.grid.cells()]; tables.tables.len()])
    }

    /// Hides nothing.
    pub fn nothing(tables: &Tables) -> Self {
        Self(vec![vec![false; tables.grid.cells()]; tables.tables.len()])
    }

    /// Whether a place of a table is hidden.
    pub fn hides(&self, table: usize, place: usize) -> bool {
        self.0[table][place]
    }

    /// Hides a place of a table.
    pub fn hide(&mut self, table: usize, place: usize) {
        self.0[table][place] = true;
    }

    /// Shows a place of a table.
    pub fn show(&mut self, table: usize, place: usize) {
        self.0[table][place] = false;
    }
}
