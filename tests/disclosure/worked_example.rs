//! A table of kinds of complications (rows) by centre (columns) with all totals
//! published. Ranges are our own, found by listing every possible table; they are
//! listed again here.

use crate::exhaustive::{Shown, range};
use crate::published_table::{add_up, with_totals};
use quietbeam_analysis::methods::disclosure::{
    CellId, Held, Learnt, Meaning, Profile, Range, Release, Seat, attack, exact_range,
};

const FIRST: [u64; 9] = [4, 52, 61, 37, 9, 70, 48, 66, 88];
const SECOND: [u64; 9] = [4, 1, 61, 2, 9, 70, 48, 66, 88];

/// The published table, with some inner cells hidden: (row, column), from 1.
fn published(inner: &[u64; 9], hidden: &[(usize, usize)]) -> (Release, Vec<CellId>) {
    let mut release = Release::of_centres(["S01", "S02", "S03"]);
    let mut cells = Vec::new();
    for (place, count) in with_totals(inner, 3).into_iter().enumerate() {
        let (row, column) = (place / 4, place % 4);
        cells.push(match column {
            3 => {
                let first = row * 3;
                let by_centre = match row {
                    3 => (0..3).map(|column| (0..3).map(|row| inner[row * 3 + column]).sum()).collect(),
                    _ => inner[first..first + 3].to_vec(),
                };
                release.count(format!("row {}", row + 1), Meaning::Adverse, by_centre)
            }
            _ => {
                let name = format!("row {}, centre S0{}", row + 1, column + 1);
                release.column(name, Meaning::Adverse, column, count)
            }
        });
    }
    add_up(&mut release, &cells, 3);
    for (place, cell) in cells.iter().enumerate() {
        if !hidden.contains(&(place / 4 + 1, place % 4 + 1)) {
            release.show(*cell);
        }
    }
    (release, cells)
}

fn at(cells: &[CellId], (row, column): (usize, usize)) -> CellId {
    cells[(row - 1) * 4 + column - 1]
}

/// Ranges from a seat (nobody's is an outsider's), here and by listing.
fn check(inner: &[u64; 9], seat: &[usize], hidden: &[(usize, usize)], expected: &[(u64, u64)]) {
    let (release, cells) = published(inner, hidden);
    let whole = with_totals(inner, 3);
    let known =
        |place: usize| !hidden.contains(&(place / 4 + 1, place % 4 + 1)) || seat.contains(&(place % 4));
    let shown = Shown {
        rows: 3,
        columns: 3,
        cells: (0..16).map(|place| known(place).then_some(whole[place])).collect(),
    };
    let listed = shown.completions(250);
    for (cell, expected) in hidden.iter().zip(expected) {
        let place = (cell.0 - 1) * 4 + cell.1 - 1;
        assert_eq!(range(&listed, place), *expected, "listed, {cell:?}");
        let found = exact_range(&release, seat, &[(at(&cells, *cell), 1)], 1_000).unwrap();
        assert_eq!((found.0 as u64, found.1 as u64), *expected, "{cell:?}");
    }
}

/// Every centre alone, and outsiders; three centres in a row have no pair that learns nothing. The example
/// speaks of small counts alone: its first row would be dominated by one centre.
const ALONE: Profile = Profile { coalition: 1, dominance: 0, ..Profile::STRICT };

/// Who is refused, one after the other.
fn refused(inner: &[u64; 9], hidden: &[(usize, usize)], profile: Profile) -> Vec<String> {
    let learnt = attack(&published(inner, hidden).0, profile).unwrap();
    let mut seats: Vec<String> = learnt.refused().map(|refused| refused.seat.to_string()).collect();
    seats.dedup();
    seats
}

const CORNERS: [(usize, usize); 4] = [(1, 1), (1, 2), (2, 1), (2, 2)];
const TWO_ROWS: [(usize, usize); 6] = [(1, 1), (1, 2), (1, 3), (2, 1), (2, 2), (2, 3)];

#[test]
fn hiding_only_the_small_counts_hides_nothing() {
    let hidden = [(1, 1), (2, 2)];
    check(&FIRST, &[], &hidden, &[(4, 4), (9, 9)]);
    assert!(refused(&FIRST, &hidden, ALONE).contains(&"an outsider".to_owned()));
}

#[test]
fn a_second_count_in_each_row_is_not_enough() {
    let hidden = [(1, 1), (1, 3), (2, 2), (2, 3)];
    check(&FIRST, &[], &hidden, &[(4, 4), (61, 61), (9, 9), (70, 70)]);
    assert!(refused(&FIRST, &hidden, ALONE).contains(&"an outsider".to_owned()));
}

#[test]
fn four_corners_hold_an_outsider_and_no_centre_that_is_in_them() {
    check(&FIRST, &[], &CORNERS, &[(0, 41), (15, 56), (0, 41), (5, 46)]);
    check(&FIRST, &[1], &CORNERS, &[(4, 4), (52, 52), (37, 37), (9, 9)]);
    let seats = refused(&FIRST, &CORNERS, ALONE);
    assert_eq!(seats, ["centre S02", "centre S01"], "each reads the other's count");
}

#[test]
fn four_corners_of_small_counts_do_not_hold_an_outsider() {
    check(&SECOND, &[], &CORNERS, &[(0, 5), (0, 5), (1, 6), (5, 10)]);
    assert!(refused(&SECOND, &CORNERS, ALONE).contains(&"an outsider".to_owned()));
}

#[test]
fn two_whole_rows_hold_an_outsider_and_every_centre() {
    let (release, cells) = published(&FIRST, &TWO_ROWS);
    for seat in [&[][..], &[0], &[1], &[2]] {
        for cell in TWO_ROWS.iter().filter(|cell| !seat.contains(&(cell.1 - 1))) {
            let (low, high) = exact_range(&release, seat, &[(at(&cells, *cell), 1)], 1_000).unwrap();
            assert!(high - low >= 41, "{seat:?} {cell:?}: {low} to {high}");
        }
    }
    assert_eq!(refused(&FIRST, &TWO_ROWS, ALONE), [""; 0]);
}

#[test]
fn two_of_three_centres_always_read_the_third() {
    let seats = refused(&FIRST, &TWO_ROWS, Profile::STRICT);
    assert!(seats.contains(&"centres S01 and S03 together".to_owned()), "{seats:?}");
}

#[test]
fn the_table_tells_what_one_centre_could_learn() {
    let learnt = attack(&published(&FIRST, &CORNERS).0, ALONE).unwrap();
    let of = |seat: &[&str]| -> Vec<(String, i64, i64, bool)> {
        let seat = Seat(seat.iter().map(|name| (*name).to_owned()).collect());
        let row = |(number, held): (&str, Held)| {
            let Range { low, high } = held.range.unwrap();
            (number.to_owned(), low, high, held.wide)
        };
        learnt.from(&seat).map(row).collect()
    };
    assert_eq!(of(&["S02"]), [("row 1, centre S01".to_owned(), 4, 4, false)]);
    assert!(of(&["S03"]).iter().all(|row| row.3), "{:?}", of(&["S03"]));
    let text = learnt.refused().next().unwrap().to_string();
    assert!(!text.contains('4') && text.contains("row 1, centre S01"), "{text}");
    let json = serde_json::to_string(&learnt).unwrap();
    let read: Learnt = serde_json::from_str(&json).unwrap();
    assert_eq!(serde_json::to_string(&read).unwrap(), json);
    assert_eq!(read.refused().next().unwrap().to_string(), text);
}
