//! No small count can be worked out from what is published. Ranges are checked
//! by listing every possible table.

use crate::exhaustive::{Enough, Shown, each_world, range};
use proptest::prelude::*;
use quietbeam_analysis::methods::disclosure::{
    Check, Grid, Mask, Meaning, Profile, Secret, Table, Tables, reach,
};

/// Nothing is withheld beyond what the counts demand.
fn protect(tables: &Tables, profile: Profile) -> Mask {
    quietbeam_analysis::methods::disclosure::protect(tables, profile, &[].into())
}

/// Three centres behind every count of three or more, so that only counts decide.
fn spread(inner: &[u64]) -> [Vec<u64>; 3] {
    let share = |centre: u64| inner.iter().map(|count| (count + centre) / 3).collect();
    [share(0), share(1), share(2)]
}

fn table(grid: Grid, meaning: Meaning, within: Vec<usize>, inner: &[u64]) -> Table {
    Table::of_centres(grid, meaning, within, spread(inner).iter().map(Vec::as_slice))
}

fn alone(rows: usize, columns: usize, inner: &[u64]) -> Tables {
    let grid = Grid::new(rows, columns);
    Tables::new(grid, vec![table(grid, Meaning::Cases, vec![], inner)]).unwrap()
}

/// Cases, and cases with something bad among them.
fn group_and_part(rows: usize, columns: usize, cases: &[u64], events: &[u64]) -> Tables {
    let grid = Grid::new(rows, columns);
    let cases = table(grid, Meaning::Cases, vec![], cases);
    let events = table(grid, Meaning::Adverse, vec![0], events);
    Tables::new(grid, vec![cases, events]).unwrap()
}

fn shown(tables: &Tables, mask: &Mask, table: usize) -> Shown {
    let grid = tables.grid();
    let cells = (0..grid.cells())
        .map(|place| (!mask.hides(table, place)).then(|| tables.tables()[table].count(place)))
        .collect();
    Shown { rows: grid.height() - 1, columns: grid.width() - 1, cells }
}

fn count(place: usize) -> Secret {
    Secret { table: 0, place, rest_of: None }
}

fn hiding(tables: &Tables, places: &[(usize, usize)]) -> Mask {
    let mut mask = Mask::nothing(tables);
    for (row, column) in places {
        mask.hide(0, tables.grid().place(*row, *column));
    }
    mask
}

/// Two tables of complications (rows) by group (columns) whose small counts are
/// 4 and 9, and 4, 1, 2 and 9. All ranges are our own exhaustive computation,
/// repeated here.
fn worked_example() -> Tables {
    alone(3, 3, &[4, 52, 61, 37, 9, 70, 48, 66, 88])
}

fn check_ranges(tables: &Tables, places: &[(usize, usize)], expected: &[(u64, u64)]) {
    let mask = hiding(tables, places);
    let completions = shown(tables, &mask, 0).completions(250);
    for ((row, column), expected) in places.iter().zip(expected) {
        let place = tables.grid().place(*row, *column);
        assert_eq!(range(&completions, place), *expected, "exhaustive, row {row}, column {column}");
        assert_eq!(reach(tables, &mask, count(place), 1_000), *expected, "row {row}, column {column}");
    }
}

fn is_refused(tables: &Tables, places: &[(usize, usize)]) -> bool {
    !Check::new(tables, Profile::STRICT).holds(&hiding(tables, places))
}

#[test]
fn hiding_only_the_small_counts_hides_nothing() {
    let places = [(0, 0), (1, 1)];
    check_ranges(&worked_example(), &places, &[(4, 4), (9, 9)]);
    assert!(is_refused(&worked_example(), &places));
}

#[test]
fn a_second_count_in_each_row_is_not_enough() {
    let places = [(0, 0), (0, 2), (1, 1), (1, 2)];
    check_ranges(&worked_example(), &places, &[(4, 4), (61, 61), (9, 9), (70, 70)]);
    assert!(is_refused(&worked_example(), &places));
}

#[test]
fn four_corners_hold_against_an_outsider() {
    let places = [(0, 0), (0, 1), (1, 0), (1, 1)];
    check_ranges(&worked_example(), &places, &[(0, 41), (15, 56), (0, 41), (5, 46)]);
    assert!(!is_refused(&worked_example(), &places));
}

#[test]
fn four_corners_of_small_counts_do_not_hold() {
    let tables = alone(3, 3, &[4, 1, 61, 2, 9, 70, 48, 66, 88]);
    let places = [(0, 0), (0, 1), (1, 0), (1, 1)];
    check_ranges(&tables, &places, &[(0, 5), (0, 5), (1, 6), (5, 10)]);
    assert!(is_refused(&tables, &places));
    let mask = protect(&tables, Profile::STRICT);
    assert!(Check::new(&tables, Profile::STRICT).holds(&mask));
}

#[test]
fn two_whole_rows_hold() {
    let places = [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2)];
    let tables = worked_example();
    assert!(!is_refused(&tables, &places));
    let mask = hiding(&tables, &places);
    for (row, column) in places {
        let (low, high) = reach(&tables, &mask, count(tables.grid().place(row, column)), 1_000);
        assert!(high - low >= 41, "row {row}, column {column}: {low} to {high}");
    }
}

/// CMS cell size suppression policy (26 January 2024): 1 to 10 hidden, zero may be shown.
#[test]
fn one_to_ten_are_hidden_and_zero_and_eleven_are_not() {
    for small in 0..=12 {
        let tables = alone(2, 2, &[small, 400, 300, 500]);
        let mask = protect(&tables, Profile::STRICT);
        assert_eq!(mask.hides(0, 0), (1..=10).contains(&small), "{small}");
        let nothing_hidden = (0..9).all(|place| !mask.hides(0, place));
        assert_eq!(nothing_hidden, !(1..=10).contains(&small), "{small}");
    }
}

#[test]
fn a_small_rest_gives_the_count_away() {
    for (events, hidden) in [(0, false), (5, true), (50, false), (95, true), (89, false), (90, true)] {
        let tables = group_and_part(2, 2, &[100, 400, 300, 500], &[events, 50, 60, 70]);
        let mask = protect(&tables, Profile::STRICT);
        assert_eq!(mask.hides(1, 0), hidden, "{events} of 100");
    }
}

#[test]
fn all_and_none_are_hidden_where_they_tell_something_bad() {
    let grid = Grid::new(2, 2);
    let cases = table(grid, Meaning::Cases, vec![], &[100, 400, 300, 500]);
    for (meaning, count, hidden) in [
        (Meaning::Adverse, 100, true),
        (Meaning::Adverse, 0, false),
        (Meaning::Wanted, 0, true),
        (Meaning::Wanted, 100, false),
        (Meaning::Neutral, 100, false),
        (Meaning::Neutral, 0, false),
    ] {
        let part = table(grid, meaning, vec![0], &[count, 50, 60, 70]);
        let mask = protect(&Tables::new(grid, vec![cases.clone(), part]).unwrap(), Profile::STRICT);
        assert_eq!(mask.hides(1, 0), hidden, "{meaning:?} {count} of 100");
    }
}

#[test]
fn two_centres_are_not_enough() {
    let grid = Grid::new(1, 2);
    // Four cases are less than a tenth of the largest centre's fifty: the second largest would know them.
    for (third, hidden) in [(0, true), (4, true), (5, false)] {
        let centres: [&[u64]; 3] = [&[50, 20], &[50, 20], &[third, 20]];
        let tables =
            Tables::new(grid, vec![Table::of_centres(grid, Meaning::Cases, vec![], centres)]).unwrap();
        assert_eq!(
            protect(&tables, Profile::STRICT).hides(0, 0),
            hidden,
            "{third} cases at the third centre"
        );
    }
}

#[test]
fn tables_that_do_not_belong_together_are_refused() {
    let grid = Grid::new(1, 2);
    let small = table(grid, Meaning::Cases, vec![], &[5, 6]);
    let large = table(grid, Meaning::Adverse, vec![0], &[6, 6]);
    assert!(Tables::new(grid, vec![small.clone(), large]).is_err());
    assert!(Tables::new(Grid::new(2, 2), vec![small.clone()]).is_err());
    let lost = table(grid, Meaning::Adverse, vec![1], &[1, 1]);
    assert!(Tables::new(grid, vec![small, lost]).is_err());
}

/// A small profile lets every possible table be listed.
const TINY: Profile =
    Profile { threshold: 3, least_centres: 1, least_width: 2, coalition: 0, dominance: 0, ..Profile::STRICT };

/// The range of one secret as far as it has been seen.
#[derive(Clone, Copy, Debug)]
struct Seen {
    low: u64,
    high: u64,
}

impl Seen {
    const NOTHING: Self = Self { low: u64::MAX, high: 0 };

    fn add(&mut self, value: u64) {
        (self.low, self.high) = (self.low.min(value), self.high.max(value));
    }

    /// Whether the secret stays one.
    fn is_wide(self, profile: Profile) -> bool {
        self.high >= profile.threshold && self.low <= self.high && self.high - self.low >= profile.least_width
    }
}

/// The hidden counts of the first table whose range, over every possible table
/// with inner counts up to `cap`, is too narrow.
fn too_narrow(tables: &Tables, mask: &Mask, profile: Profile, cap: u64) -> Vec<usize> {
    let published = shown(tables, mask, 0);
    let largest = cap * published.cells.len() as u64;
    let is_narrow = |place: &usize| {
        let possible = |value: &u64| {
            let mut guess = published.clone();
            guess.cells[*place] = Some(*value);
            let mut found = false;
            guess.each_completion(cap, |_| {
                found = true;
                Enough::Break(())
            });
            found
        };
        let low = (0..=tables.tables()[0].count(*place)).find(possible).unwrap();
        !(profile.threshold.max(low + profile.least_width)..=largest).any(|value| possible(&value))
    };
    (0..tables.grid().cells()).filter(|place| mask.hides(0, *place)).filter(is_narrow).collect()
}

/// A number that the public must not be able to narrow down.
#[derive(Clone, Copy, Debug)]
enum Guarded {
    Count { table: usize, place: usize },
    Rest { part: usize, whole: usize, place: usize },
}

impl Guarded {
    fn value(self, world: &[&[u64]]) -> u64 {
        match self {
            Self::Count { table, place } => world[table][place],
            Self::Rest { part, whole, place } => world[whole][place] - world[part][place],
        }
    }
}

/// Every hidden count, and every rest of a group that is small or nobody where the part is something bad.
fn guarded(tables: &Tables, mask: &Mask, parts: &[(usize, usize)], profile: Profile) -> Vec<Guarded> {
    let mut guarded = Vec::new();
    for place in 0..tables.grid().cells() {
        let count = |table: usize| tables.tables()[table].count(place);
        for table in (0..tables.tables().len()).filter(|table| mask.hides(*table, place)) {
            guarded.push(Guarded::Count { table, place });
        }
        for &(part, whole) in parts {
            let rest = count(whole) - count(part);
            if (1..profile.threshold).contains(&rest) || (rest == 0 && count(part) > 0) {
                guarded.push(Guarded::Rest { part, whole, place });
            }
        }
    }
    guarded
}

/// What is too narrow over every set of possible tables in which no part exceeds its whole.
fn too_narrow_together(
    tables: &Tables,
    mask: &Mask,
    parts: &[(usize, usize)],
    cap: u64,
) -> Vec<(Guarded, Seen)> {
    let published = (0..tables.tables().len()).map(|table| shown(tables, mask, table));
    let lists: Vec<Vec<Vec<u64>>> = published.map(|shown| shown.completions(cap)).collect();
    let mut seen: Vec<(Guarded, Seen)> =
        guarded(tables, mask, parts, TINY).into_iter().map(|guarded| (guarded, Seen::NOTHING)).collect();
    let _ = each_world(&lists, parts, &mut Vec::new(), &mut |world| {
        seen.iter_mut().for_each(|(guarded, seen)| seen.add(guarded.value(world)));
        if seen.iter().all(|(_, seen)| seen.is_wide(TINY)) { Enough::Break(()) } else { Enough::Continue(()) }
    });
    seen.into_iter().filter(|(_, seen)| !seen.is_wide(TINY)).collect()
}

fn no_small_count_is_shown(tables: &Tables, mask: &Mask, profile: Profile) {
    for (number, table) in tables.tables().iter().enumerate() {
        for place in 0..tables.grid().cells() {
            let count = table.count(place);
            assert!(
                mask.hides(number, place) || count == 0 || count >= profile.threshold,
                "{count} is shown"
            );
        }
    }
}

/// Rows and columns in another order.
fn permuted(inner: &[u64], columns: usize, rows: &[usize], order: &[usize]) -> Vec<u64> {
    rows.iter().flat_map(|row| order.iter().map(move |column| inner[row * columns + column])).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    /// One table, threshold 11, every possible table.
    #[test]
    fn no_small_count_is_held_narrowly(inner in prop::collection::vec(prop_oneof![0..12_u64, 0..26_u64], 4)) {
        let tables = alone(2, 2, &inner);
        let profile = Profile { least_centres: 1, coalition: 0, dominance: 0, ..Profile::STRICT };
        let mask = protect(&tables, profile);
        no_small_count_is_shown(&tables, &mask, profile);
        let narrow = too_narrow(&tables, &mask, profile, 60);
        prop_assert!(narrow.is_empty(), "{narrow:?}");
    }

    /// The same for a longer table, with a smaller threshold so that all can be listed.
    #[test]
    fn no_small_count_of_three_columns_is_held_narrowly(inner in prop::collection::vec(0..7_u64, 6), tall: bool) {
        let (rows, columns) = if tall { (3, 2) } else { (2, 3) };
        let tables = alone(rows, columns, &inner);
        let mask = protect(&tables, TINY);
        no_small_count_is_shown(&tables, &mask, TINY);
        let narrow = too_narrow(&tables, &mask, TINY, 12);
        prop_assert!(narrow.is_empty(), "{narrow:?}");
    }

    /// Cases and events together: every pair of possible tables.
    #[test]
    fn no_secret_of_linked_tables_is_held_narrowly(cells in prop::collection::vec((0..=5_u64, 0..=5_u64), 4)) {
        let cases: Vec<u64> = cells.iter().map(|(a, b)| *a.max(b)).collect();
        let events: Vec<u64> = cells.iter().map(|(a, b)| *a.min(b)).collect();
        let tables = group_and_part(2, 2, &cases, &events);
        let mask = protect(&tables, TINY);
        no_small_count_is_shown(&tables, &mask, TINY);
        let narrow = too_narrow_together(&tables, &mask, &[(1, 0)], 9);
        prop_assert!(narrow.is_empty(), "{narrow:?}");
    }

    /// Cases, events among them and worse events among those: every triple of possible tables.
    #[test]
    fn no_secret_of_a_part_of_a_part_is_held_narrowly(cells in prop::collection::vec([0..=5_u64, 0..=5_u64, 0..=5_u64], 2)) {
        let sorted = |mut cell: [u64; 3]| { cell.sort_unstable(); cell };
        let inner = |which: usize| cells.iter().map(|cell| sorted(*cell)[which]).collect::<Vec<_>>();
        let grid = Grid::new(1, 2);
        let tables = vec![
            table(grid, Meaning::Cases, vec![], &inner(2)),
            table(grid, Meaning::Adverse, vec![0], &inner(1)),
            table(grid, Meaning::Adverse, vec![0, 1], &inner(0)),
        ];
        let tables = Tables::new(grid, tables).unwrap();
        let mask = protect(&tables, TINY);
        no_small_count_is_shown(&tables, &mask, TINY);
        let narrow = too_narrow_together(&tables, &mask, &[(1, 0), (2, 0), (2, 1)], 9);
        prop_assert!(narrow.is_empty(), "{narrow:?}");
    }
}

proptest! {
    // Listing is slow where much is hidden, and so are large tables.
    #![proptest_config(ProptestConfig::with_cases(100))]

    /// What the check finds reachable is exactly what is possible, whatever is hidden, as long as
    /// the grand total is shown and bounds the list.
    #[test]
    fn the_check_sees_the_exact_range(inner in prop::collection::vec(0..4_u64, 6), hidden in prop::collection::vec(any::<bool>(), 11)) {
        let tables = alone(2, 3, &inner);
        let mut mask = Mask::nothing(&tables);
        for place in (0..11).filter(|place| hidden[*place]) {
            mask.hide(0, place);
        }
        let grand_total = tables.tables()[0].count(11);
        let completions = shown(&tables, &mask, 0).completions(grand_total);
        for place in (0..11).filter(|place| hidden[*place]) {
            prop_assert_eq!(reach(&tables, &mask, count(place), 1_000), range(&completions, place));
        }
    }

    /// The same up to a limit where the grand total is hidden and nothing bounds the list.
    #[test]
    fn the_check_sees_the_range_without_a_grand_total(inner in prop::collection::vec(0..4_u64, 4), hidden in prop::collection::vec(any::<bool>(), 8)) {
        const LIMIT: u64 = 6;
        let tables = alone(2, 2, &inner);
        let mut mask = Mask::nothing(&tables);
        for place in (0..8).filter(|place| hidden[*place]).chain([8]) {
            mask.hide(0, place);
        }
        let completions = shown(&tables, &mask, 0).completions(2 * LIMIT);
        for place in (0..9).filter(|place| mask.hides(0, *place)) {
            let (low, high) = range(&completions, place);
            let (lowest, highest) = reach(&tables, &mask, count(place), LIMIT);
            prop_assert_eq!((lowest, highest.min(LIMIT)), (low, high.min(LIMIT)));
        }
    }

    /// Tables too large to be listed, threshold 11.
    #[test]
    fn no_small_count_of_four_tables_is_shown(cells in prop::collection::vec((0..40_u64, 0..15_u64, 0..15_u64), 12)) {
        let grid = Grid::new(4, 3);
        let inner = |pick: fn(&(u64, u64, u64)) -> u64| cells.iter().map(pick).collect::<Vec<_>>();
        let tables = vec![
            table(grid, Meaning::Cases, vec![], &inner(|c| c.0 + c.1 + c.2)),
            table(grid, Meaning::Wanted, vec![0], &inner(|c| c.0)),
            table(grid, Meaning::Adverse, vec![0], &inner(|c| c.1 + c.2)),
            table(grid, Meaning::Adverse, vec![0, 2], &inner(|c| c.2)),
        ];
        let tables = Tables::new(grid, tables).unwrap();
        let mask = protect(&tables, Profile::STRICT);
        no_small_count_is_shown(&tables, &mask, Profile::STRICT);
    }

    /// Rows and columns in another order change places and nothing else.
    #[test]
    fn the_order_of_rows_and_columns_decides_nothing(
        cells in prop::collection::vec((0..60_u64, 0..25_u64), 12),
        rows in Just([0_usize, 1, 2, 3]).prop_shuffle(),
        columns in Just([0_usize, 1, 2]).prop_shuffle(),
    ) {
        let cases: Vec<u64> = cells.iter().map(|(a, b)| a + b).collect();
        let events: Vec<u64> = cells.iter().map(|(_, b)| *b).collect();
        let before = group_and_part(4, 3, &cases, &events);
        let turn = |inner: &[u64]| permuted(inner, 3, &rows, &columns);
        let after = group_and_part(4, 3, &turn(&cases), &turn(&events));
        let (first, second) = (protect(&before, Profile::STRICT), protect(&after, Profile::STRICT));
        let lines = |tables: &Tables, mask: &Mask, order: &dyn Fn(usize) -> usize| {
            let mut lines: Vec<Vec<(u64, bool)>> = (0..5)
                .map(|row| {
                    let places = (0..4).map(|column| tables.grid().place(row, order(column)));
                    places.flat_map(|p| [0, 1].map(|t| (tables.tables()[t].count(p), mask.hides(t, p)))).collect()
                })
                .collect();
            lines.sort();
            lines
        };
        let turned = |column: usize| columns.get(column).copied().unwrap_or(column);
        prop_assert_eq!(lines(&before, &first, &turned), lines(&after, &second, &|column| column));
    }
}
