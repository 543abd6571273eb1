//! A two-way table with its totals as a release.

use quietbeam_analysis::methods::disclosure::{CellId, Meaning, Release};

/// A table whose inner cells some centres make up together.
pub(crate) struct PublishedTable {
    pub(crate) release: Release,
    /// Every cell, totals included, row by row.
    pub(crate) cells: Vec<CellId>,
}

/// The inner counts with their totals, row by row.
pub(crate) fn with_totals(inner: &[u64], columns: usize) -> Vec<u64> {
    let rows: Vec<&[u64]> = inner.chunks(columns).collect();
    let mut cells: Vec<u64> =
        rows.iter().flat_map(|row| row.iter().copied().chain([row.iter().sum()])).collect();
    cells.extend((0..columns).map(|column| rows.iter().map(|row| row[column]).sum::<u64>()));
    cells.push(inner.iter().sum());
    cells
}

/// Puts the totals of a table into a release as what they are.
pub(crate) fn add_up(release: &mut Release, cells: &[CellId], columns: usize) {
    let width = columns + 1;
    let height = cells.len() / width;
    for row in cells.chunks(width) {
        release.total(row[columns], row[..columns].iter().copied());
    }
    for column in 0..width {
        let parts = (0..height - 1).map(|row| cells[row * width + column]);
        release.total(cells[(height - 1) * width + column], parts);
    }
}

impl PublishedTable {
    /// Nothing of it is shown yet. `centres` gives each centre's inner cells.
    pub(crate) fn of_centres(columns: usize, centres: &[Vec<u64>]) -> Self {
        let names = (1..=centres.len()).map(|number| format!("S{number:02}"));
        let mut release = Release::of_centres(names);
        let whole: Vec<Vec<u64>> = centres.iter().map(|inner| with_totals(inner, columns)).collect();
        let cells: Vec<CellId> = (0..whole[0].len())
            .map(|place| {
                let by_centre = whole.iter().map(|own| own[place]).collect();
                release.count(format!("cell {place}"), Meaning::Neutral, by_centre)
            })
            .collect();
        add_up(&mut release, &cells, columns);
        Self { release, cells }
    }

    /// Shows every cell that is not hidden.
    pub(crate) fn show_all_but(&mut self, hidden: &[usize]) {
        for (place, cell) in self.cells.iter().enumerate() {
            if !hidden.contains(&place) {
                self.release.show(*cell);
            }
        }
    }
}
