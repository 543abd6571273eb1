//! What was given away before a release tells anything. A release is not blamed for it, so here a
//! search that was given up must count the other way: only what is surely narrow was lost.

use super::super::profile::Profile;
use super::super::release::Release;
use super::learnt::{Learnt, Seat};
use super::system::System;
use super::worlds::Worlds;
use super::{as_count, exact_in};

/// What an attack found of a release, with everything as wide that is not surely narrow.
///
/// Formula: of each number that a seat was found to hold too narrowly both ends are sought exactly;
/// it was lost where the highest is below the threshold, or both are less than the least width apart.
/// Units: counts of cases.
/// Edges: a search that is given up proves nothing.
/// Source: our own.
/// Checked: tests/disclosure/periods.rs, by exhaustive search.
pub fn surely_lost(release: &Release, profile: Profile, mut learnt: Learnt) -> Learnt {
    let system = System::of(release);
    let room = 4 * as_count(profile.threshold + profile.least_width);
    let seats: Vec<Vec<usize>> = learnt.seats.iter().map(|seat| centres_of(seat, release)).collect();
    for (place, seat) in seats.iter().enumerate() {
        let narrow = |held: &super::Held| !held.wide;
        if !learnt.rows.iter().any(|row| row.held[place].as_ref().is_some_and(narrow)) {
            continue;
        }
        let mut worlds = Worlds::seen_from(&system, &[seat], room);
        for row in &mut learnt.rows {
            let Some(held) = row.held[place].as_mut().filter(|held| !held.wide) else { continue };
            // A count, or what the second leaves of the first.
            let terms: Vec<(usize, i64)> = row.cells.iter().map(|cell| cell.0).zip([1, -1]).collect();
            let exact = exact_in(&mut worlds, &terms, room);
            let is_narrow = |(low, high): (i64, i64)| {
                // A number that fell is guarded with the other sign.
                let high_enough = high.max(-low) >= as_count(profile.threshold);
                !high_enough || high - low < as_count(profile.least_width)
            };
            held.wide = !exact.is_some_and(is_narrow);
        }
    }
    learnt
}

fn centres_of(seat: &Seat, release: &Release) -> Vec<usize> {
    let place = |name: &String| release.centres.iter().position(|centre| centre == name);
    seat.0.iter().filter_map(place).collect()
}
