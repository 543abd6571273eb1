//! The attack against listing every possible table, on thousands of random ones.

use crate::exhaustive::{Enough, Shown, each_world, range};
use crate::published_table::{PublishedTable, with_totals};
use proptest::prelude::*;
use quietbeam_analysis::methods::disclosure::{
    CellId, Known, Learnt, Meaning, Profile, Release, Seat, attack, attack_to_hide, exact_range, no_narrower,
    surely_lost,
};

/// Every table that agrees with what is shown and with what a seat knows of its own cases.
fn listed(whole: &[u64], hidden: &[usize], own: &[u64], columns: usize) -> Vec<Vec<u64>> {
    let shown = Shown {
        rows: whole.len() / (columns + 1) - 1,
        columns,
        cells: (0..whole.len()).map(|place| (!hidden.contains(&place)).then_some(whole[place])).collect(),
    };
    let possible = |table: &Vec<u64>| table.iter().zip(own).all(|(count, own)| count >= own);
    shown.completions(whole[whole.len() - 1]).into_iter().filter(possible).collect()
}

/// Inner cells of three centres, what is hidden, and who looks; the grand total is shown.
fn any_table(columns: usize, most: u64) -> impl Strategy<Value = (Vec<Vec<u64>>, Vec<usize>, Vec<usize>)> {
    let cells = 3 * (columns + 1);
    let centres = prop::collection::vec(prop::collection::vec(0..=most, 2 * columns), 3);
    let hidden = prop::collection::vec(prop::bool::weighted(0.6), cells - 1);
    let hidden = hidden.prop_map(|hidden| (0..hidden.len()).filter(|place| hidden[*place]).collect());
    let seats = [vec![], vec![0], vec![1], vec![2], vec![0, 1], vec![1, 2]];
    (centres, hidden, prop::sample::select(seats.to_vec()))
}

fn sum(centres: &[Vec<u64>], of: &[usize]) -> Vec<u64> {
    let cells = centres[0].len();
    (0..cells).map(|cell| of.iter().map(|centre| centres[*centre][cell]).sum()).collect()
}

fn compare(
    columns: usize,
    (centres, hidden, seat): (Vec<Vec<u64>>, Vec<usize>, Vec<usize>),
) -> Result<(), TestCaseError> {
    let whole = with_totals(&sum(&centres, &[0, 1, 2]), columns);
    let own = with_totals(&sum(&centres, &seat), columns);
    let listed = listed(&whole, &hidden, &own, columns);
    let mut table = PublishedTable::of_centres(columns, &centres);
    table.show_all_but(&hidden);
    for place in hidden {
        let found = exact_range(&table.release, &seat, &[(table.cells[place], 1)], 1_000);
        let (low, high) = range(&listed, place);
        prop_assert_eq!(found, Some((low as i64, high as i64)), "cell {}", place);
    }
    Ok(())
}

/// The gate with a small threshold: what it passes holds, what it refuses does not.
fn judge(
    columns: usize,
    (centres, hidden, _): (Vec<Vec<u64>>, Vec<usize>, Vec<usize>),
) -> Result<(), TestCaseError> {
    let profile = Profile {
        threshold: 3,
        least_centres: 2,
        least_width: 2,
        dominance: 0,
        coalition: 2,
        ..Profile::STRICT
    };
    let whole = with_totals(&sum(&centres, &[0, 1, 2]), columns);
    let mut table = PublishedTable::of_centres(columns, &centres);
    table.show_all_but(&hidden);
    let learnt = attack(&table.release, profile).unwrap();
    for (seat, of) in [
        (vec![], 0),
        (vec![0], 1),
        (vec![1], 2),
        (vec![2], 3),
        (vec![0, 1], 4),
        (vec![0, 2], 5),
        (vec![1, 2], 6),
    ] {
        let own = with_totals(&sum(&centres, &seat), columns);
        let listed = listed(&whole, &hidden, &own, columns);
        for row in &learnt.rows {
            let Some(held) = row.held[of] else { continue };
            let place: usize = row.number.trim_start_matches("cell ").parse().unwrap();
            let (low, high) = range(&listed, place);
            let is_wide = high >= profile.threshold && high - low >= profile.least_width;
            prop_assert_eq!(held.wide, is_wide, "cell {} from {:?}: {:?}", place, seat, held);
            let found = held.range.unwrap();
            prop_assert!(found.low >= low as i64 && found.high <= high as i64);
        }
    }
    same_refused(&table.release, profile, &learnt)
}

/// Whoever will hide more asks fewer seats and must still hear of every number that anyone finds.
fn same_refused(release: &Release, profile: Profile, learnt: &Learnt) -> Result<(), TestCaseError> {
    let nothing = Learnt { seats: learnt.seats.clone(), rows: Vec::new() };
    let asked = attack_to_hide(release, profile, Known { lost: &nothing, less_hidden: None }).unwrap();
    let numbers =
        |learnt: &Learnt| -> Vec<String> { learnt.narrow_rows().map(|row| row.number.clone()).collect() };
    prop_assert_eq!(numbers(&asked), numbers(learnt));
    for row in asked.narrow_rows() {
        let told = row.held.iter().flatten().filter(|held| !held.wide).count();
        prop_assert_eq!(told, 1, "one seat is enough for {}", row.number);
    }
    // What is lost to everyone before is asked of all again, and blames nobody.
    let again = attack_to_hide(release, profile, Known { lost: learnt, less_hidden: None }).unwrap();
    prop_assert!(again.passes());
    let verdicts = |learnt: &Learnt| -> Vec<Vec<Option<bool>>> {
        learnt
            .rows
            .iter()
            .map(|row| row.held.iter().map(|held| held.map(|held| held.wide)).collect())
            .collect()
    };
    prop_assert_eq!(verdicts(&again), verdicts(learnt));
    Ok(())
}

/// That everyone but one pair had read a count before excuses nobody for that pair.
#[test]
fn what_others_had_before_is_still_refused_for_who_had_it_not() {
    let mut release = Release::of_centres(["S01", "S02", "S03", "S04"]);
    let cases = release.count("cases", Meaning::Cases, vec![3, 3, 2, 1]);
    release.show(cases);
    let mut lost = attack(&release, Profile::STRICT).unwrap();
    let pair = Seat(vec!["S02".to_owned(), "S03".to_owned()]);
    for (seat, held) in lost.seats.iter().zip(&mut lost.rows[0].held) {
        held.iter_mut().for_each(|held| held.wide = *seat == pair);
    }
    let known = Known { lost: &lost, less_hidden: None };
    let again = attack_to_hide(&release, Profile::STRICT, known).unwrap();
    let refused: Vec<&Seat> = again.refused().map(|refused| refused.seat).collect();
    assert_eq!(refused, [&pair]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn ranges_of_small_tables_are_exact(table in any_table(2, 2)) {
        compare(2, table)?;
    }

    #[test]
    fn small_tables_are_judged_as_a_listing_judges_them(table in any_table(2, 2)) {
        judge(2, table)?;
    }
}

proptest! {
    // Listing is slow where much is hidden.
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn ranges_of_longer_tables_are_exact(table in any_table(3, 1)) {
        compare(3, table)?;
    }

    #[test]
    fn longer_tables_are_judged_as_a_listing_judges_them(table in any_table(3, 1)) {
        judge(3, table)?;
    }
}

/// Cases of three centres and events among them in one row of two cells.
type Linked = (Vec<Vec<(u64, u64)>>, Vec<bool>, Vec<usize>);

fn any_linked() -> impl Strategy<Value = Linked> {
    let cell = (0..=2_u64, 0..=2_u64).prop_map(|(one, other)| (one.max(other), one.min(other)));
    let centres = prop::collection::vec(prop::collection::vec(cell, 2), 3);
    let hidden = prop::collection::vec(prop::bool::weighted(0.6), 6);
    let seats = [vec![], vec![0], vec![1, 2]];
    (centres, hidden, prop::sample::select(seats.to_vec()))
}

/// The totals of both tables: one row of two cells, its total, and the same again below.
const ROW: [usize; 3] = [0, 1, 2];

fn compare_linked((centres, hidden, seat): Linked) -> Result<(), TestCaseError> {
    let inner = |pick: fn(&(u64, u64)) -> u64| -> Vec<Vec<u64>> {
        centres.iter().map(|own| own.iter().map(pick).collect()).collect()
    };
    let tables = [inner(|cell| cell.0), inner(|cell| cell.1)];
    let mut release = Release::of_centres(["S01", "S02", "S03"]);
    let cells: Vec<Vec<CellId>> = tables
        .iter()
        .map(|table| {
            let whole: Vec<Vec<u64>> = table.iter().map(|own| with_totals(own, 2)).collect();
            let count = |place: usize| whole.iter().map(|own| own[place]).collect();
            let cells: Vec<CellId> =
                ROW.iter().map(|place| release.count("", Meaning::Cases, count(*place))).collect();
            release.total(cells[2], cells[..2].iter().copied());
            cells
        })
        .collect();
    for place in ROW {
        release.part(cells[1][place], cells[0][place]);
    }
    let is_hidden = |table: usize, place: usize| place != 2 && hidden[3 * table + place];
    let mut lists = Vec::new();
    for (number, table) in tables.iter().enumerate() {
        let whole = with_totals(&sum(table, &[0, 1, 2]), 2);
        for place in ROW.into_iter().filter(|place| !is_hidden(number, *place)) {
            release.show(cells[number][place]);
        }
        let shown = (0..6).map(|place| (!is_hidden(number, place % 3)).then_some(whole[place])).collect();
        lists.push(Shown { rows: 1, columns: 2, cells: shown }.completions(whole[2]));
    }
    let own: Vec<Vec<u64>> = tables.iter().map(|table| with_totals(&sum(table, &seat), 2)).collect();
    let mut worlds: Vec<Vec<u64>> = Vec::new();
    let _ = each_world(&lists, &[(1, 0)], &mut Vec::new(), &mut |world| {
        let rest = |table: usize, place: usize| world[table][place].checked_sub(own[table][place]);
        if ROW.iter().all(|place| rest(1, *place).is_some_and(|part| rest(0, *place) >= Some(part))) {
            worlds.push(world.concat());
        }
        Enough::Continue(())
    });
    for (number, row) in cells.iter().enumerate() {
        for (place, cell) in row.iter().enumerate().take(2) {
            let (low, high) = range(&worlds, 6 * number + place);
            let found = exact_range(&release, &seat, &[(*cell, 1)], 1_000);
            prop_assert_eq!(found, Some((low as i64, high as i64)), "table {} cell {}", number, place);
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn ranges_of_linked_tables_are_exact(tables in any_linked()) {
        compare_linked(tables)?;
    }
}

/// 26 events are known, and that some of them are of the second half. Whoever had 16 of them, all in
/// the first, knows that the others' second half is below the threshold. A release that adds
/// nothing to it is excused; one by which there are at least three of them is not, though an outsider
/// still learns too little.
#[test]
fn what_was_lost_excuses_no_closer_look() {
    let mut release = Release::of_centres(["A", "B", "C"]);
    let all = release.count("harm", Meaning::Adverse, vec![16, 6, 4]);
    let half = release.count("harm in the second half", Meaning::Adverse, vec![0, 2, 2]);
    let [more, less] =
        [vec![8, 8, 9], vec![8, 7, 7]].map(|by_centre| release.count("looks", Meaning::Neutral, by_centre));
    release.part(half, all);
    release.never_told(half);
    release.never_below_zero(vec![(half, 1), (more, -1), (less, 1)]);
    release.was_shown(all);
    let attacked = |release: &Release| attack(release, Profile::STRICT).unwrap();
    let before = surely_lost(&release, Profile::STRICT, attacked(&release));
    let judged = |release: &Release| {
        no_narrower(release, Profile::STRICT, attacked(release).lost_before(&before), &before)
    };
    let own = judged(&release);
    assert!(own.passes(), "{:?}", own.refused().map(|refused| refused.to_string()).collect::<Vec<_>>());
    let mut told = release.clone();
    [more, less].into_iter().for_each(|count| told.show(count));
    let learnt = judged(&told);
    let who: Vec<String> = learnt.refused().map(|refused| refused.seat.to_string()).collect();
    assert!(who.contains(&"centre A".to_owned()) && !who.contains(&"an outsider".to_owned()), "{who:?}");
}
