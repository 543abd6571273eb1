//! The seats from which numbers are attacked, and in which order: what one seat finds is not sought
//! again from another.

use super::super::profile::Profile;
use super::super::release::{CellId, Release};
use super::frame::Frame;
use super::guarded::Guarded;
use super::learnt::{Held, Learnt, Range, Row, Seat};
use super::lending::Lending;
use super::search::{Found, search};
use super::system::System;
use super::widening::{Wanted, Widening};
use super::worlds::{Goal, Worlds};
use super::{as_count, value};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// Attempts, and steps of each, after which the search for a world that is to serve for all seats is given up.
const GLANCE: (usize, usize) = (1, 20);
/// How many numbers are searched side by side: enough for many threads, and so few that a world found for
/// one seldom would have spared another its search.
const BATCH: usize = 32;
/// How many refusals are enough for whoever will hide more: hidden for these, many others will be wide that
/// would have been searched in vain.
const ENOUGH: usize = 16;

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
    /// Seats with the numbers that they were asked of and found too narrow, except those lost before.
    refused: BTreeSet<(usize, usize)>,
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
        Self { system, guarded, made_of, seats, ranges, profile, lost: None, refused: BTreeSet::new() }
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
        let unasked =
            || self.has_enough() && self.is_narrow(seat, number) && !self.refused.contains(&(seat, number));
        self.is_guarded(seat, number) && !self.is_refused_before(seat, number) && !unasked()
    }

    /// Whether nobody needs to be asked any more, because so much must be hidden already.
    fn has_enough(&self) -> bool {
        self.lost.is_some() && self.refused.len() >= ENOUGH
    }

    fn wanted(&self) -> Wanted {
        let Profile { threshold, least_width, .. } = self.profile;
        Wanted { threshold: as_count(threshold), width: as_count(least_width) }
    }

    fn is_wide(&self, range: Range) -> bool {
        let Wanted { threshold, width } = self.wanted();
        range.high >= threshold && range.high - range.low >= width
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
        let Wanted { threshold, width } = self.wanted();
        let narrow =
            |attack: &Self, number: usize| (0..attack.seats.len()).any(|seat| attack.is_narrow(seat, number));
        let of_all = Frame::seen_from(self.system, &self.seats, self.room());
        let worlds = Lending::of(&of_all);
        let numbers: Vec<usize> = (0..self.guarded.len()).collect();
        for batch in in_batches(&numbers) {
            // A world found for another number may have widened it meanwhile.
            let batch: Vec<usize> = batch.filter(|number| narrow(self, *number)).collect();
            self.side_by_side(&batch, &worlds, |attack, worlds, number| {
                let Guarded { terms, truth, .. } = &attack.guarded[number];
                let goal = Goal { terms: terms.clone(), least: threshold.max(truth + width) };
                match search(worlds, &goal, GLANCE) {
                    Found::World(differs) if attack.system.agrees(&differs) => vec![differs],
                    _ => Vec::new(),
                }
            });
        }
    }

    fn from(&mut self, seat: usize) {
        let open: Vec<usize> = (0..self.guarded.len()).filter(|number| self.is_open(seat, *number)).collect();
        if open.is_empty() {
            return;
        }
        let frame = Frame::seen_from(self.system, std::slice::from_ref(&self.seats[seat]), self.room());
        let worlds = Lending::of(&frame);
        for batch in in_batches(&open) {
            if self.has_enough() {
                return;
            }
            let batch: Vec<usize> = batch.filter(|number| self.is_narrow(seat, *number)).collect();
            self.side_by_side(&batch, &worlds, |attack, worlds, number| {
                let of = (attack.guarded[number].terms.as_slice(), attack.ranges[seat][number]);
                Widening::new(worlds, &attack.seats[seat], of).found(attack.wanted())
            });
            let lost = |number: &usize| self.lost.as_ref().is_some_and(|lost| lost[seat].contains(number));
            let refused = batch.into_iter().filter(|number| self.is_narrow(seat, *number) && !lost(number));
            let refused: Vec<(usize, usize)> = refused.map(|number| (seat, number)).collect();
            self.refused.extend(refused);
        }
    }

    /// Searches for worlds of the numbers of a batch side by side, and takes in what was found.
    fn side_by_side(
        &mut self,
        batch: &[usize],
        worlds: &Lending<'_>,
        search: impl Fn(&Self, &mut Worlds<'_>, usize) -> Vec<Vec<(usize, i64)>> + Sync,
    ) {
        let found = batch.par_iter().map(|number| worlds.lend(|worlds| search(self, worlds, *number)));
        let found: Vec<_> = found.collect();
        found.into_iter().flatten().for_each(|differs| self.take_in(&differs));
    }

    /// Notes a world for every seat that cannot exclude it.
    fn take_in(&mut self, differs: &[(usize, i64)]) {
        let numbers: Vec<usize> =
            differs.iter().filter_map(|(cell, _)| self.made_of.get(cell)).flatten().copied().collect();
        let values: Vec<(usize, i64)> = numbers
            .into_iter()
            .map(|number| (number, value(self.system, &self.guarded[number].terms, differs)))
            .collect();
        let left = self.system.left_by(differs);
        for (seat, ranges) in self.seats.iter().zip(&mut self.ranges) {
            if self.system.is_open_to(seat, differs, &left) {
                for (number, value) in &values {
                    let range = &mut ranges[*number];
                    *range = range.with(*value);
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

/// Numbers in batches. Neighbours are often widened by the same world: they go into different ones. Which make
/// a batch never depends on the number of threads, nor on which is done first, so neither does what is found.
fn in_batches(numbers: &[usize]) -> impl Iterator<Item = impl Iterator<Item = usize>> {
    let batches = numbers.len().div_ceil(BATCH);
    (0..batches).map(move |first| numbers[first..].iter().step_by(batches).copied())
}
