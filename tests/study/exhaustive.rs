//! An outsider with all the time in the world: lists every table that agrees
//! with what is shown. Nothing here is shared with what it checks.

use std::ops::ControlFlow;

/// Whether the listing may stop.
pub(crate) type Enough = ControlFlow<()>;

/// What is shown of one table, totals in the last row and column; `None` is hidden.
#[derive(Clone, Debug)]
pub(crate) struct Shown {
    pub(crate) rows: usize,
    pub(crate) columns: usize,
    pub(crate) cells: Vec<Option<u64>>,
}

impl Shown {
    fn cell(&self, row: usize, column: usize) -> Option<u64> {
        self.cells[row * (self.columns + 1) + column]
    }

    /// Shows every complete table, totals included, whose inner counts are at
    /// most `cap`, until `seen` has seen enough.
    pub(crate) fn each_completion(&self, cap: u64, mut seen: impl FnMut(&[u64]) -> Enough) {
        let _ = self.fill(cap, &mut Vec::new(), &mut seen);
    }

    /// Every complete table whose inner counts are at most `cap`.
    pub(crate) fn completions(&self, cap: u64) -> Vec<Vec<u64>> {
        let mut found = Vec::new();
        self.each_completion(cap, |table| {
            found.push(table.to_vec());
            Enough::Continue(())
        });
        found
    }

    fn fill(&self, cap: u64, inner: &mut Vec<u64>, seen: &mut impl FnMut(&[u64]) -> Enough) -> Enough {
        let next = inner.len();
        if next == self.rows * self.columns {
            let whole = self.with_totals(inner);
            let agrees =
                whole.iter().zip(&self.cells).all(|(value, shown)| shown.is_none_or(|s| s == *value));
            return if agrees { seen(&whole) } else { Enough::Continue(()) };
        }
        let (row, column) = (next / self.columns, next % self.columns);
        let so_far_in_row: u64 = inner[row * self.columns..].iter().sum();
        let so_far_in_column: u64 = (0..row).map(|r| inner[r * self.columns + column]).sum();
        let mut range = match self.cell(row, column) {
            Some(value) => value..=value,
            None => 0..=cap,
        };
        for (last, total, so_far) in [
            (column + 1 == self.columns, self.cell(row, self.columns), so_far_in_row),
            (row + 1 == self.rows, self.cell(self.rows, column), so_far_in_column),
        ] {
            let Some(total) = total else { continue };
            let Some(rest) = total.checked_sub(so_far) else { return Enough::Continue(()) };
            let lowest = if last { rest.max(*range.start()) } else { *range.start() };
            range = lowest..=rest.min(*range.end());
        }
        for value in outside_in(range) {
            inner.push(value);
            let enough = self.fill(cap, inner, seen);
            inner.pop();
            enough?;
        }
        Enough::Continue(())
    }

    fn with_totals(&self, inner: &[u64]) -> Vec<u64> {
        let at = |row: usize, column: usize| inner[row * self.columns + column];
        let mut cells = Vec::new();
        for row in 0..self.rows {
            cells.extend((0..self.columns).map(|column| at(row, column)));
            cells.push((0..self.columns).map(|column| at(row, column)).sum());
        }
        for column in 0..self.columns {
            cells.push((0..self.rows).map(|row| at(row, column)).sum());
        }
        cells.push(inner.iter().sum());
        cells
    }
}

/// Shows every choice of one table from each list in which no part, named with
/// its whole, exceeds it, until `seen` has seen enough.
pub(crate) fn each_world<'a>(
    lists: &'a [Vec<Vec<u64>>],
    parts: &[(usize, usize)],
    chosen: &mut Vec<&'a [u64]>,
    seen: &mut impl FnMut(&[&[u64]]) -> Enough,
) -> Enough {
    let next = chosen.len();
    let Some(list) = lists.get(next) else { return seen(chosen) };
    for table in far_apart(list) {
        let fits = |whole: usize| table.iter().zip(chosen[whole]).all(|(part, whole)| part <= whole);
        if parts.iter().filter(|(part, _)| *part == next).all(|(_, whole)| fits(*whole)) {
            chosen.push(table);
            let enough = each_world(lists, parts, chosen, seen);
            chosen.pop();
            enough?;
        }
    }
    Enough::Continue(())
}

/// Steps through a list far apart, so that wide ranges show early.
fn far_apart(list: &[Vec<u64>]) -> impl Iterator<Item = &Vec<u64>> {
    const STRIDE: usize = 7_919;
    let round = if list.len().is_multiple_of(STRIDE) { list.len() + 1 } else { list.len() };
    (0..round).filter_map(move |number| list.get(number * STRIDE % round))
}

/// The lowest and highest value of one place among complete tables.
pub(crate) fn range(completions: &[Vec<u64>], place: usize) -> (u64, u64) {
    let values = completions.iter().map(|table| table[place]);
    (values.clone().min().unwrap(), values.max().unwrap())
}

/// Both ends first: wide ranges show early.
fn outside_in(range: std::ops::RangeInclusive<u64>) -> impl Iterator<Item = u64> {
    let (low, high) = range.into_inner();
    let len = (high + 1).saturating_sub(low);
    (0..len).map(move |step| if step % 2 == 0 { low + step / 2 } else { high - step / 2 })
}
