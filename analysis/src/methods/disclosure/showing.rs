//! What may be shown for its own sake, and in which order readers want it.

use super::profile::Profile;
use super::table::{Meaning, Tables};
use std::collections::{BTreeMap, BTreeSet};

/// A wish to show some counts, all of them or none.
pub(super) type Wish = Vec<(usize, usize)>;

/// The wishes, most wanted first: the groups themselves, then totals, then the
/// inner counts, zeros before large counts before small ones. Counts that nothing
/// tells apart make one wish, so that the order of rows and columns decides nothing.
pub(super) fn wishes(tables: &Tables, profile: Profile, withheld: &BTreeSet<(usize, usize)>) -> Vec<Wish> {
    let mut wishes = BTreeMap::<_, Wish>::new();
    for (table, place) in tables.everywhere() {
        if !withheld.contains(&(table, place)) && !forbidden(tables, profile, table, place) {
            let count = tables.tables[table].counts[place];
            let inner = 2 - tables.grid.depth_of_total(place);
            let (first, wanted) = (table > 0, if count == 0 { 0 } else { u64::MAX - count });
            let apart = (u64::MAX - tables.tables[0].counts[place], totals(tables, table, place));
            wishes.entry((first, inner, table, wanted, apart)).or_default().push((table, place));
        }
    }
    wishes.into_values().collect()
}

/// The totals of a count's two lines, the smaller first.
fn totals(tables: &Tables, table: usize, place: usize) -> [u64; 2] {
    let grid = tables.grid;
    let (row, column) = grid.row_and_column(place);
    let ends = [grid.place(row, grid.width() - 1), grid.place(grid.height() - 1, column)];
    let mut totals = ends.map(|end| tables.tables[table].counts[end]);
    totals.sort_unstable();
    totals
}

/// Whether a count may not be shown, whatever stands beside it.
fn forbidden(tables: &Tables, profile: Profile, table: usize, place: usize) -> bool {
    let own = &tables.tables[table];
    let count = own.counts[place];
    if tables.may_be_small(table, place, profile) {
        return false;
    }
    let few = own.centres[place] < profile.least_centres || own.is_dominated(place, profile);
    let gives_away = |whole: &usize| {
        let all = tables.tables[*whole].counts[place];
        let tells_of_everyone = match own.meaning {
            Meaning::Adverse => all > 0 && count == all,
            Meaning::Wanted => all > 0 && count == 0,
            Meaning::Cases | Meaning::Neutral => false,
        };
        profile.small(all - count) || tells_of_everyone
    };
    profile.small(count) || (count > 0 && few) || own.within.iter().any(gives_away)
}
