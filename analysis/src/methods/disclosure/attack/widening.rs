//! The search for worlds that make one number wide for one seat. It depends on nothing that is found
//! of other numbers, so that many can be searched side by side.

use super::learnt::Range;
use super::search::{Found, search};
use super::system::System;
use super::value;
use super::worlds::{Goal, Worlds};

/// Attempts, and steps of each, after which a search for one world is given up; what is given up counts as found out.
const PATIENCE: (usize, usize) = (4, 20);
/// The same for each step of one.
const STEP_PATIENCE: (usize, usize) = (16, 20);

/// How wide and how high a number must be.
#[derive(Clone, Copy)]
pub(super) struct Wanted {
    pub(super) threshold: i64,
    pub(super) width: i64,
}

/// One number from one seat, in the worlds that are open to it.
pub(super) struct Widening<'w, 's> {
    worlds: &'w mut Worlds<'s>,
    seat: &'w [usize],
    terms: &'w [(usize, i64)],
    range: Range,
    found: Vec<Vec<(usize, i64)>>,
}

impl<'w, 's> Widening<'w, 's> {
    pub(super) fn new(
        worlds: &'w mut Worlds<'s>,
        seat: &'w [usize],
        (terms, range): (&'w [(usize, i64)], Range),
    ) -> Self {
        Self { worlds, seat, terms, range, found: Vec::new() }
    }

    /// Every world found on the way: first one that does alone is looked for, else the highest and then a
    /// low one.
    pub(super) fn found(mut self, Wanted { threshold, width }: Wanted) -> Vec<Vec<(usize, i64)>> {
        let alone = threshold.max(self.range.low + width);
        let nearer = (threshold.max(self.range.high + 1)..alone).rev();
        if self.reaches(alone, 1, Self::climb) {
            return self.found;
        }
        // Whoever climbs lower goes the same way, which ended where it did.
        let is_higher = nearer.into_iter().any(|high| self.reaches(high, 1, |_, _, _| {}));
        if is_higher || self.range.high >= threshold {
            self.reaches(self.range.high - width, -1, Self::climb);
        }
        self.found
    }

    /// Whether the number can go so far up (or down, with the sign): at once, or else otherwise.
    fn reaches(
        &mut self,
        to: i64,
        sign: i64,
        otherwise: impl FnOnce(&mut Self, &[(usize, i64)], i64),
    ) -> bool {
        let terms: Vec<(usize, i64)> =
            self.terms.iter().map(|(cell, weight)| (*cell, sign * weight)).collect();
        let at_once = Goal { terms: terms.clone(), least: sign * to };
        match search(self.worlds, &at_once, PATIENCE) {
            Found::World(differs) if self.system().agrees(&differs) => self.take_in(differs),
            Found::Nothing => return false,
            Found::World(_) | Found::GaveUp => otherwise(self, &terms, sign * to),
        }
        let Range { low, high } = self.range;
        if sign > 0 { high >= to } else { low <= to }
    }

    /// Goes so far step by step, each time from the world found last: in longer and longer steps until one
    /// fails, then in shorter ones.
    fn climb(&mut self, terms: &[(usize, i64)], to: i64) {
        let mut reached = value(self.system(), terms, &[]);
        let (mut stride, mut grows) = (1, true);
        while reached < to && stride > 0 {
            let goal = Goal { terms: terms.to_vec(), least: to.min(reached + stride) };
            match search(self.worlds, &goal, STEP_PATIENCE) {
                Found::World(differs) if self.system().agrees(&differs) => {
                    reached = value(self.system(), terms, &differs);
                    self.worlds.start_from(&differs);
                    self.take_in(differs);
                    stride = if grows { 2 * stride } else { stride };
                }
                Found::World(_) | Found::Nothing | Found::GaveUp => (stride, grows) = (stride / 2, false),
            }
        }
        self.worlds.start_from(&[]);
    }

    /// Notes a world, if the seat cannot exclude it.
    fn take_in(&mut self, differs: Vec<(usize, i64)>) {
        let left = self.system().left_by(&differs);
        if self.system().is_open_to(self.seat, &differs, &left) {
            let value = value(self.system(), self.terms, &differs);
            self.range = self.range.with(value);
        }
        self.found.push(differs);
    }

    fn system(&self) -> &'s System {
        self.worlds.system
    }
}
