//! The attack on a release, apart from the hiding and without a line of its code.
//! It asks of every guarded number what an outsider, each centre and each pair of
//! centres could work out from everything published.
//!
//! A release passes on evidence alone: for each number and each seat the attack must find
//! whole worlds that agree with every statement and with all that the seat knows, and in which
//! the number differs enough. A world is checked on its own, statement by statement. So whatever
//! the search misses can refuse a safe release, but never pass an unsafe one.

mod frame;
mod guarded;
mod learnt;
mod lending;
mod lost;
mod search;
mod seats;
mod system;
mod widening;
mod worlds;

use super::profile::Profile;
use super::release::{CellId, Release};
use frame::Frame;
use guarded::guarded;
pub use learnt::{Held, Learnt, Range, Refused, Row, Seat};
pub use lost::{no_narrower, surely_lost};
use search::{Found, search};
use seats::Attack;
use system::System;
use worlds::{Goal, Worlds};

/// Why a release cannot be attacked.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AttackError {
    /// What is published is not true of the counts.
    #[error("{what} does not agree with the counts")]
    Untrue {
        /// Where it says so.
        what: String,
    },
}

/// Attempts, and steps of each, after which a search for an exact range is given up.
const LONG_PATIENCE: (usize, usize) = (1, 500);

/// Attacks a release from every seat.
///
/// Formula: for each guarded number and seat, two worlds of whole counts, not negative, that agree
/// with every statement and with the seat's own counts; the number must reach the threshold in one
/// and differ by the least width between them.
/// Units: counts of cases.
/// Edges: nothing guarded, nothing refused. What is shown is known to everyone.
/// Source: [cms_cell_size2024], [hundepool2012].
/// Checked: tests/disclosure/attack.rs, by exhaustive search.
///
/// # Errors
/// When a statement is not true of the counts.
pub fn attack(release: &Release, profile: Profile) -> Result<Learnt, AttackError> {
    let system = system_of(release)?;
    let mut attack = Attack::new(&system, guarded(release, profile), profile, release.centres.len());
    attack.run(release);
    Ok(attack.learnt(release))
}

/// What is known before an attack by whoever will hide more until none is refused.
#[derive(Clone, Copy)]
pub struct Known<'k> {
    /// What earlier releases alone give away: no refusal of this one.
    pub lost: &'k Learnt,
    /// What was found of the same with less hidden: a world that agreed with more agrees with less,
    /// so no range is narrower than it was.
    pub less_hidden: Option<&'k Learnt>,
}

/// The same for whoever will hide more: of each number only whether somebody finds it too narrow. Who
/// else does is not asked, so a row that is refused tells of fewer seats than there are; and once much is
/// refused, nothing else is asked.
///
/// # Errors
/// When a statement is not true of the counts.
pub fn attack_to_hide(release: &Release, profile: Profile, known: Known<'_>) -> Result<Learnt, AttackError> {
    let system = system_of(release)?;
    let mut attack = Attack::new(&system, guarded(release, profile), profile, release.centres.len());
    attack.stop_at_refusals(known.lost);
    known.less_hidden.into_iter().for_each(|found| attack.recall(found));
    attack.run(release);
    Ok(attack.learnt(release).lost_before(known.lost))
}

fn system_of(release: &Release) -> Result<System, AttackError> {
    release.untrue().map_or_else(|| Ok(System::of(release)), |what| Err(AttackError::Untrue { what }))
}

/// The exact range of a count, or of what one count leaves of another, as a seat sees it; `None`
/// where the search was given up. Looks no higher than `room` above the truth.
pub fn exact_range(
    release: &Release,
    seat: &[usize],
    terms: &[(CellId, i64)],
    room: i64,
) -> Option<(i64, i64)> {
    let system = System::of(release);
    let terms: Vec<(usize, i64)> = terms.iter().map(|(cell, weight)| (cell.0, *weight)).collect();
    let frame = Frame::seen_from(&system, &[seat], room);
    exact_in(&mut Worlds::of(&frame), &terms, room)
}

/// The same in worlds that are at hand.
fn exact_in(worlds: &mut Worlds<'_>, terms: &[(usize, i64)], room: i64) -> Option<(i64, i64)> {
    let system = worlds.system;
    let truth = value(system, terms, &[]);
    let mut farthest = |sign: i64| {
        let terms: Vec<(usize, i64)> = terms.iter().map(|(cell, weight)| (*cell, sign * weight)).collect();
        let (mut reached, mut open) = (sign * truth, worlds.most(&terms).min(sign * truth + room));
        while reached < open {
            let least = reached + (open - reached + 1) / 2;
            match search(worlds, &Goal { terms: terms.clone(), least }, LONG_PATIENCE) {
                Found::World(differs) if system.agrees(&differs) => reached = value(system, &terms, &differs),
                Found::Nothing => open = least - 1,
                Found::World(_) | Found::GaveUp => return None,
            }
        }
        Some(sign * reached)
    };
    farthest(-1).zip(farthest(1))
}

fn value(system: &System, terms: &[(usize, i64)], differs: &[(usize, i64)]) -> i64 {
    terms.iter().map(|(cell, weight)| weight * system.value(differs, *cell)).sum()
}

fn as_count(count: u64) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}
