//! The attack on a release, apart from the hiding and without a line of its code.
//! It asks of every guarded number what an outsider, each centre and each pair of
//! centres could work out from everything published.
//!
//! A release passes on evidence alone: for each number and each seat the attack must find
//! whole worlds that agree with every statement and with all that the seat knows, and in which
//! the number differs enough. A world is checked on its own, statement by statement. So whatever
//! the search misses can refuse a safe release, but never pass an unsafe one.

mod guarded;
mod learnt;
mod search;
mod system;
mod worlds;

use super::profile::Profile;
use super::release::{CellId, Release};
use guarded::{Guarded, guarded};
pub use learnt::{Held, Learnt, Range, Refused, Row, Seat};
use search::{Found, search};
use std::collections::BTreeMap;
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

/// Attempts, and steps of each, after which a search for one world is given up; what is given up counts as found out.
const PATIENCE: (usize, usize) = (4, 60);
/// The same for each step of one.
const STEP_PATIENCE: (usize, usize) = (16, 60);
/// The same where an exact range is asked for.
const LONG_PATIENCE: (usize, usize) = (1, 50_000);

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
    attack_again(release, profile, None)
}

/// The same of a release that hides more than one that was attacked before and says the same
/// otherwise: a world that agreed with more agrees with less, so no range is narrower than it was.
///
/// # Errors
/// When a statement is not true of the counts.
pub fn attack_again(
    release: &Release,
    profile: Profile,
    before: Option<&Learnt>,
) -> Result<Learnt, AttackError> {
    if let Some(what) = release.untrue() {
        return Err(AttackError::Untrue { what });
    }
    let system = System::of(release);
    let mut attack = Attack::new(&system, guarded(release, profile), profile, release.centres.len());
    before.into_iter().for_each(|before| attack.recall(before));
    // Who knows most first: what two centres cannot tell from the truth, neither can one or an outsider.
    for seat in (0..attack.seats.len()).rev() {
        attack.from(seat);
    }
    Ok(attack.learnt(release))
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
    let truth = value(&system, &terms, &[]);
    let mut worlds = Worlds::seen_from(&system, seat, room);
    let mut farthest = |sign: i64| {
        let terms: Vec<(usize, i64)> = terms.iter().map(|(cell, weight)| (*cell, sign * weight)).collect();
        let (mut reached, mut open) = (sign * truth, worlds.most(&terms).min(sign * truth + room));
        while reached < open {
            let least = reached + (open - reached + 1) / 2;
            match search(&mut worlds, &Goal { terms: terms.clone(), least }, LONG_PATIENCE) {
                Found::World(differs) if system.agrees(&differs) => {
                    reached = value(&system, &terms, &differs)
                }
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

struct Attack<'s> {
    system: &'s System,
    guarded: Vec<Guarded>,
    /// For each count the guarded numbers made of it.
    made_of: BTreeMap<usize, Vec<usize>>,
    /// The outsider's, then each centre's, then each pair's.
    seats: Vec<Vec<usize>>,
    ranges: Vec<Vec<Range>>,
    profile: Profile,
}

impl<'s> Attack<'s> {
    fn new(system: &'s System, guarded: Vec<Guarded>, profile: Profile, centres: usize) -> Self {
        let mut made_of = BTreeMap::<usize, Vec<usize>>::new();
        for (number, guarded) in guarded.iter().enumerate() {
            guarded.terms.iter().for_each(|(cell, _)| made_of.entry(*cell).or_default().push(number));
        }
        let pairs = (0..centres).flat_map(|one| (one + 1..centres).map(move |other| vec![one, other]));
        let seats = [Vec::new()].into_iter().chain((0..centres).map(|one| vec![one])).chain(pairs);
        let seats: Vec<_> = seats.filter(|seat| seat.len() <= profile.coalition as usize).collect();
        let truth: Vec<Range> =
            guarded.iter().map(|guarded| Range { low: guarded.truth, high: guarded.truth }).collect();
        let ranges = vec![truth; seats.len()];
        Self { system, guarded, made_of, seats, ranges, profile }
    }

    /// Takes over the ranges in which an earlier attack found worlds.
    fn recall(&mut self, before: &Learnt) {
        let known: BTreeMap<&[CellId], &Row> =
            before.rows.iter().map(|row| (row.cells.as_slice(), row)).collect();
        for (number, guarded) in self.guarded.iter().enumerate() {
            let cells: Vec<CellId> = guarded.terms.iter().map(|(cell, _)| CellId(*cell)).collect();
            let Some(row) = known.get(cells.as_slice()) else { continue };
            for (ranges, held) in self.ranges.iter_mut().zip(&row.held) {
                if let Some(Held { range: Some(range), .. }) = *held {
                    ranges[number] = range;
                }
            }
        }
    }

    /// How wide and how high a number must be for a seat; nothing where the seat learns of nobody else.
    fn is_guarded(&self, seat: usize, number: usize) -> bool {
        let guarded = &self.guarded[number];
        let seat = &self.seats[seat];
        let others = |(cell, _): &(usize, i64)| self.system.own(seat, *cell) != self.system.truth[*cell];
        seat.is_empty() || (guarded.secret && guarded.terms.iter().any(others))
    }

    fn is_wide(&self, range: Range) -> bool {
        let Profile { threshold, least_width, .. } = self.profile;
        range.high >= as_count(threshold) && range.high - range.low >= as_count(least_width)
    }

    fn from(&mut self, seat: usize) {
        let room = 4 * as_count(self.profile.threshold + self.profile.least_width);
        let system = self.system;
        let mut worlds = Worlds::seen_from(system, &self.seats[seat], room);
        for number in 0..self.guarded.len() {
            if self.is_guarded(seat, number) && !self.is_wide(self.ranges[seat][number]) {
                self.widen(&mut worlds, seat, number);
            }
        }
    }

    /// Looks for worlds that make a number wide: first one that does alone, else the highest and
    /// then a low one.
    fn widen(&mut self, worlds: &mut Worlds<'_>, seat: usize, number: usize) {
        let Profile { threshold, least_width, .. } = self.profile;
        let (threshold, width) = (as_count(threshold), as_count(least_width));
        let range = self.ranges[seat][number];
        let alone = threshold.max(range.low + width);
        if self.reaches(worlds, (seat, number), alone, 1) {
            return;
        }
        let nearer = (threshold.max(range.high + 1)..alone).rev();
        let is_higher = nearer.into_iter().any(|high| self.reaches(worlds, (seat, number), high, 1));
        if is_higher || range.high >= threshold {
            let low = self.ranges[seat][number].high - width;
            self.reaches(worlds, (seat, number), low, -1);
        }
    }

    /// Whether a number can go so far up (or down, with the sign): at once, or else one by one, each
    /// time from the world found last.
    fn reaches(
        &mut self,
        worlds: &mut Worlds<'_>,
        (seat, number): (usize, usize),
        to: i64,
        sign: i64,
    ) -> bool {
        let terms: Vec<(usize, i64)> =
            self.guarded[number].terms.iter().map(|(cell, weight)| (*cell, sign * weight)).collect();
        let at_once = Goal { terms: terms.clone(), least: sign * to };
        match search(worlds, &at_once, PATIENCE) {
            Found::World(differs) if self.system.agrees(&differs) => self.take_in(&differs),
            Found::Nothing => return false,
            Found::World(_) | Found::GaveUp => self.climb(worlds, &terms, sign * to),
        }
        let Range { low, high } = self.ranges[seat][number];
        if sign > 0 { high >= to } else { low <= to }
    }

    fn climb(&mut self, worlds: &mut Worlds<'_>, terms: &[(usize, i64)], to: i64) {
        let mut reached = value(self.system, terms, &[]);
        while reached < to {
            let goal = Goal { terms: terms.to_vec(), least: reached + 1 };
            match search(worlds, &goal, STEP_PATIENCE) {
                Found::World(differs) if self.system.agrees(&differs) => {
                    reached = value(self.system, terms, &differs);
                    self.take_in(&differs);
                    worlds.start_from(&differs);
                }
                Found::World(_) | Found::Nothing | Found::GaveUp => break,
            }
        }
        worlds.start_from(&[]);
    }

    /// Notes a world for every seat that cannot exclude it.
    fn take_in(&mut self, differs: &[(usize, i64)]) {
        let numbers: Vec<usize> =
            differs.iter().filter_map(|(cell, _)| self.made_of.get(cell)).flatten().copied().collect();
        let values: Vec<(usize, i64)> = numbers
            .into_iter()
            .map(|number| (number, value(self.system, &self.guarded[number].terms, differs)))
            .collect();
        for (seat, ranges) in self.seats.iter().zip(&mut self.ranges) {
            if self.system.is_open_to(seat, differs) {
                for (number, value) in &values {
                    let range = &mut ranges[*number];
                    *range = Range { low: range.low.min(*value), high: range.high.max(*value) };
                }
            }
        }
    }

    fn learnt(&self, release: &Release) -> Learnt {
        let name = |seat: &Vec<usize>| Seat(seat.iter().map(|one| release.centres[*one].clone()).collect());
        let rows = self.guarded.iter().enumerate().map(|(number, guarded)| {
            let ranges = (0..self.seats.len()).map(|seat| {
                let range = self.ranges[seat][number];
                let held = Held { range: Some(range), wide: self.is_wide(range), lost_before: false };
                self.is_guarded(seat, number).then_some(held)
            });
            let held: Vec<Option<Held>> = ranges.collect();
            let cells: Vec<CellId> = guarded.terms.iter().map(|(cell, _)| CellId(*cell)).collect();
            let refused = held.iter().flatten().any(|held| !held.wide);
            let told_by = if refused { release.told_by(&cells) } else { Vec::new() };
            Row { number: guarded.name.clone(), told_by, cells, held }
        });
        Learnt { seats: self.seats.iter().map(name).collect(), rows: rows.collect() }
    }
}

fn as_count(count: u64) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}
