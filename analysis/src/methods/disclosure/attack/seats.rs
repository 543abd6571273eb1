//! The seats from which numbers are attacked, and in which order: what one seat finds is not sought
//! again from another.

use super::super::profile::Profile;
use super::super::release::{CellId, Release};
use super::guarded::Guarded;
use super::learnt::{Held, Learnt, Range, Row, Seat};
use super::search::{Found, search};
use super::system::System;
use super::worlds::{Goal, Worlds};
use super::{as_count, value};
use std::collections::{BTreeMap, BTreeSet};

/// Attempts, and steps of each, after which a search for one world is given up; what is given up counts as found out.
const PATIENCE: (usize, usize) = (4, 20);
/// The same where one world is to serve for all seats.
const GLANCE: (usize, usize) = (1, 20);
/// The same for each step of one.
const STEP_PATIENCE: (usize, usize) = (16, 20);

/// An attack under way: what was found from each seat.
pub(super) struct Attack<'s> {
    system: &'s System,
    guarded: Vec<Guarded>,
    /// For each count the guarded numbers made of it.
    made_of: BTreeMap<usize, Vec<usize>>,
    /// The outsider's, then each centre's, then each pair's.
    seats: Vec<Vec<usize>>,
    ranges: Vec<Vec<Range>>,
    profile: Profile,
    /// Where one refusal of a number is enough: for each seat the numbers lost before, which are none.
    lost: Option<Vec<BTreeSet<usize>>>,
}

impl<'s> Attack<'s> {
    pub(super) fn new(system: &'s System, guarded: Vec<Guarded>, profile: Profile, centres: usize) -> Self {
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
        Self { system, guarded, made_of, seats, ranges, profile, lost: None }
    }

    /// Lets the first seat that finds a number too narrow be the last one asked of it, unless the
    /// number was lost to that seat before.
    pub(super) fn stop_at_refusals(&mut self, lost: &Learnt) {
        let mut of_seat = vec![BTreeSet::new(); self.seats.len()];
        self.each_known(lost, |seat, number, held| {
            if !held.wide {
                of_seat[seat].insert(number);
            }
        });
        self.lost = Some(of_seat);
    }

    /// Takes over the ranges in which an earlier attack found worlds.
    pub(super) fn recall(&mut self, before: &Learnt) {
        let mut ranges = std::mem::take(&mut self.ranges);
        self.each_known(before, |seat, number, held| {
            if let Some(range) = held.range {
                ranges[seat][number] = range;
            }
        });
        self.ranges = ranges;
    }

    /// What another attack found of the same numbers, seat by seat.
    fn each_known(&self, other: &Learnt, mut take: impl FnMut(usize, usize, Held)) {
        let known: BTreeMap<&[CellId], &Row> =
            other.rows.iter().map(|row| (row.cells.as_slice(), row)).collect();
        for (number, guarded) in self.guarded.iter().enumerate() {
            let cells: Vec<CellId> = guarded.terms.iter().map(|(cell, _)| CellId(*cell)).collect();
            let Some(row) = known.get(cells.as_slice()) else { continue };
            for (seat, held) in row.held.iter().enumerate().take(self.seats.len()) {
                held.iter().for_each(|held| take(seat, number, *held));
            }
        }
    }

    /// Asks of every number what every seat could learn.
    ///
    /// First come worlds with more cases of one kind, where the release imagines them; then worlds are
    /// sought that nobody can exclude, each of which serves for all seats. For what is
    /// left whoever knows least is asked first: the worlds open to a seat are open to whoever knows less,
    /// so what is too narrow for one is so for everyone who knows more.
    pub(super) fn run(&mut self, release: &Release) {
        self.imagine(release);
        self.serve_all_seats();
        for seat in 0..self.seats.len() {
            self.from(seat);
        }
    }

    /// How wide and how high a number must be for a seat; nothing where the seat learns of nobody else.
    fn is_guarded(&self, seat: usize, number: usize) -> bool {
        let guarded = &self.guarded[number];
        let seat = &self.seats[seat];
        let others = |(cell, _): &(usize, i64)| self.system.own(seat, *cell) != self.system.truth[*cell];
        seat.is_empty() || (guarded.secret && guarded.terms.iter().any(others))
    }

    /// Whether a seat is told of: it learns of somebody else, and was asked.
    fn is_told(&self, seat: usize, number: usize) -> bool {
        self.is_guarded(seat, number) && !self.is_refused_before(seat, number)
    }

    fn is_wide(&self, range: Range) -> bool {
        let Profile { threshold, least_width, .. } = self.profile;
        range.high >= as_count(threshold) && range.high - range.low >= as_count(least_width)
    }

    fn is_narrow(&self, seat: usize, number: usize) -> bool {
        self.is_guarded(seat, number) && !self.is_wide(self.ranges[seat][number])
    }

    /// Whether a seat is still to be asked of a number.
    fn is_open(&self, seat: usize, number: usize) -> bool {
        let knows_less = |other: &usize| {
            let [own, other] = [seat, *other].map(|seat| &self.seats[seat]);
            other.len() < own.len() && other.iter().all(|one| own.contains(one))
        };
        self.is_narrow(seat, number)
            && !(0..seat).filter(knows_less).any(|other| self.is_narrow(other, number))
            && !self.is_refused_before(seat, number)
    }

    /// Whether one refusal of a number is enough and a seat asked before gave it.
    fn is_refused_before(&self, seat: usize, number: usize) -> bool {
        let refused = |lost: &Vec<BTreeSet<usize>>| {
            (0..seat).any(|other| self.is_narrow(other, number) && !lost[other].contains(&number))
        };
        self.lost.as_ref().is_some_and(refused)
    }

    fn room(&self) -> i64 {
        4 * as_count(self.profile.threshold + self.profile.least_width)
    }

    /// Tries worlds in which there are so many cases more of one kind that every number they raise is wide.
    fn imagine(&mut self, release: &Release) {
        let more = as_count(self.profile.threshold + self.profile.least_width);
        for raised in &release.imagined {
            let differs: Vec<(usize, i64)> =
                raised.iter().map(|cell| (cell.0, self.system.truth[cell.0] + more)).collect();
            if self.system.agrees(&differs) {
                self.take_in(&differs);
            }
        }
    }

    fn serve_all_seats(&mut self) {
        let mut worlds = Worlds::seen_from(self.system, &self.seats, self.room());
        for number in 0..self.guarded.len() {
            if (0..self.seats.len()).any(|seat| self.is_narrow(seat, number)) {
                let Guarded { terms, truth, .. } = &self.guarded[number];
                let Profile { threshold, least_width, .. } = self.profile;
                let least = as_count(threshold).max(truth + as_count(least_width));
                let goal = Goal { terms: terms.clone(), least };
                if let Found::World(differs) = search(&mut worlds, &goal, GLANCE)
                    && self.system.agrees(&differs)
                {
                    self.take_in(&differs);
                }
            }
        }
    }

    fn from(&mut self, seat: usize) {
        let open: Vec<usize> = (0..self.guarded.len()).filter(|number| self.is_open(seat, *number)).collect();
        if open.is_empty() {
            return;
        }
        let own = std::slice::from_ref(&self.seats[seat]);
        let mut worlds = Worlds::seen_from(self.system, own, self.room());
        for number in open {
            // A world found for another number may have widened it meanwhile.
            if self.is_narrow(seat, number) {
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

    /// What was found, as it is told.
    pub(super) fn learnt(&self, release: &Release) -> Learnt {
        let name = |seat: &Vec<usize>| Seat(seat.iter().map(|one| release.centres[*one].clone()).collect());
        let rows = self.guarded.iter().enumerate().map(|(number, guarded)| {
            let ranges = (0..self.seats.len()).map(|seat| {
                let range = self.ranges[seat][number];
                let held = Held { range: Some(range), wide: self.is_wide(range), lost_before: false };
                self.is_told(seat, number).then_some(held)
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
