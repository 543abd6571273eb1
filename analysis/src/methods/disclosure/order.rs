//! An order of rows and columns that depends on their counts alone: a search that
//! follows it finds the same in whatever order a table was given.

use super::table::{Mask, Table, Tables};

/// The same tables in their own order, and the place each cell came from.
pub(super) struct Ordered {
    pub(super) tables: Tables,
    came_from: Vec<usize>,
    went_to: Vec<usize>,
}

impl Ordered {
    /// Orders rows and columns by what stands in them.
    ///
    /// Rows are told apart by their counts and by which columns these stand in, columns likewise,
    /// in turn until no round tells more apart. Totals keep their place.
    pub(super) fn of(tables: &Tables) -> Self {
        let grid = tables.grid;
        let (height, width) = (grid.height() - 1, grid.width() - 1);
        let (mut rows, mut columns) = (vec![0; height], vec![0; width]);
        for _ in 0..height + width {
            rows = ranks(height, |row| signature(tables, &columns, |column| grid.place(row, column)));
            columns = ranks(width, |column| signature(tables, &rows, |row| grid.place(row, column)));
        }
        let (rows, columns) = (by_rank(&rows), by_rank(&columns));
        let mut came_from = Vec::with_capacity(grid.cells());
        for row in rows.into_iter().chain([height]) {
            came_from.extend(columns.iter().copied().chain([width]).map(|column| grid.place(row, column)));
        }
        let ordered = |table: &Table| Table {
            counts: came_from.iter().map(|place| table.counts[*place]).collect(),
            centres: came_from.iter().map(|place| table.centres[*place]).collect(),
            ..table.clone()
        };
        let tables = Tables { grid, tables: tables.tables.iter().map(ordered).collect() };
        let mut went_to = vec![0; came_from.len()];
        for (place, given) in came_from.iter().enumerate() {
            went_to[*given] = place;
        }
        Self { tables, came_from, went_to }
    }

    /// What a mask of the tables as they were given hides in the ordered ones.
    pub(super) fn take(&self, given: &Mask) -> Mask {
        let mut mask = Mask::nothing(&self.tables);
        for (table, place) in self.tables.everywhere() {
            if given.hides(table, self.came_from[place]) {
                mask.hide(table, place);
            }
        }
        mask
    }

    /// Where a cell of the tables as they were given stands now.
    pub(super) fn went_to(&self, place: usize) -> usize {
        self.went_to[place]
    }

    /// Where a cell stood in the tables as they were given.
    pub(super) fn came_from(&self, place: usize) -> usize {
        self.came_from[place]
    }
}

type Signature = Vec<(usize, Vec<(u64, u32)>)>;

/// What stands in a line: for each crossing line its rank and the counts there.
fn signature(tables: &Tables, crossing: &[usize], place: impl Fn(usize) -> usize) -> Signature {
    let counts = |place: usize| tables.tables.iter().map(|t| (t.counts[place], t.centres[place])).collect();
    let mut cells: Signature =
        crossing.iter().enumerate().map(|(number, rank)| (*rank, counts(place(number)))).collect();
    cells.sort();
    cells
}

/// The rank of each line among all, equal lines alike.
fn ranks(lines: usize, signature: impl Fn(usize) -> Signature) -> Vec<usize> {
    let signatures: Vec<Signature> = (0..lines).map(signature).collect();
    signatures.iter().map(|own| signatures.iter().filter(|other| *other < own).count()).collect()
}

fn by_rank(ranks: &[usize]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..ranks.len()).collect();
    order.sort_by_key(|line| ranks[*line]);
    order
}
