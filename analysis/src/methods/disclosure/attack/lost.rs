//! What was given away before a release tells anything. A release is not blamed for it, so here a
//! search that was given up must count the other way: only what is surely narrow was lost, and only
//! as far as the release makes it no narrower.

use super::super::profile::Profile;
use super::super::release::{CellId, Release};
use super::frame::Frame;
use super::learnt::{Held, Learnt, Range, Row, Seat};
use super::lending::Lending;
use super::system::System;
use super::{as_count, exact_in};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// What an attack found of a release, with everything as wide that is not surely narrow, and the
/// exact range of what is.
///
/// Formula: of each number that a seat was found to hold too narrowly both ends are sought exactly;
/// it was lost where the highest is below the threshold, or both are less than the least width apart.
/// Units: counts of cases.
/// Edges: a search that is given up proves nothing.
/// Source: our own.
/// Checked: tests/disclosure/periods.rs, by exhaustive search.
pub fn surely_lost(release: &Release, profile: Profile, mut learnt: Learnt) -> Learnt {
    let narrow = |held: &Held| !held.wide;
    look_again(release, profile, &mut learnt, narrow, |_, held, exact| {
        let is_narrow = |Range { low, high }: &Range| {
            // A number that fell is guarded with the other sign.
            let high_enough = *high.max(&-low) >= as_count(profile.threshold);
            !high_enough || high - low < as_count(profile.least_width)
        };
        let lost = exact.filter(is_narrow);
        (held.wide, held.range) = (lost.is_none(), lost.or(held.range));
    });
    learnt
}

/// What an attack found of a release that is excused for what was lost before, without excuse where
/// somebody places a number more closely than before.
///
/// Formula: the exact range of the number must be the one it had.
/// Units: counts of cases.
/// Edges: a search that is given up excuses nothing.
/// Source: our own.
/// Checked: tests/disclosure/attack.rs.
pub fn no_narrower(release: &Release, profile: Profile, mut learnt: Learnt, before: &Learnt) -> Learnt {
    let known: BTreeMap<&[CellId], &Row> =
        before.rows.iter().map(|row| (row.cells.as_slice(), row)).collect();
    let excused = |held: &Held| held.lost_before;
    look_again(release, profile, &mut learnt, excused, |(cells, place), held, exact| {
        let was = known.get(cells).and_then(|row| row.held.get(place).copied().flatten());
        held.lost_before = exact.is_some() && exact == was.and_then(|was| was.range);
    });
    learnt
}

/// The exact range of every number that a seat holds in such a way, as far as it was found.
fn look_again(
    release: &Release,
    profile: Profile,
    learnt: &mut Learnt,
    such: impl Fn(&Held) -> bool,
    mut say: impl FnMut((&[CellId], usize), &mut Held, Option<Range>),
) {
    let system = System::of(release);
    let room = 4 * as_count(profile.threshold + profile.least_width);
    let seats: Vec<Vec<usize>> = learnt.seats.iter().map(|seat| centres_of(seat, release)).collect();
    for (place, seat) in seats.iter().enumerate() {
        let is_such = |row: &&mut Row| row.held[place].as_ref().is_some_and(&such);
        let rows: Vec<&mut Row> = learnt.rows.iter_mut().filter(is_such).collect();
        if rows.is_empty() {
            continue;
        }
        let frame = Frame::seen_from(&system, &[seat], room);
        let worlds = Lending::of(&frame);
        let exact = rows.par_iter().map(|row| {
            // A count, or what the second leaves of the first.
            let terms: Vec<(usize, i64)> = row.cells.iter().map(|cell| cell.0).zip([1, -1]).collect();
            worlds.lend(|worlds| exact_in(worlds, &terms, room))
        });
        let exact: Vec<Option<(i64, i64)>> = exact.collect();
        for (row, exact) in rows.into_iter().zip(exact) {
            if let Some(held) = row.held[place].as_mut() {
                say((&row.cells, place), held, exact.map(|(low, high)| Range { low, high }));
            }
        }
    }
}

fn centres_of(seat: &Seat, release: &Release) -> Vec<usize> {
    let place = |name: &String| release.centres.iter().position(|centre| centre == name);
    seat.0.iter().filter_map(place).collect()
}
