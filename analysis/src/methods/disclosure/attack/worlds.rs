//! The worlds that a seat cannot tell from the true one: bounds of every count,
//! narrowed rule by rule, and steps that can be taken back.

use super::system::{Kind, Rule, System};
use std::collections::{BTreeSet, VecDeque};

/// A bound laid on one count.
#[derive(Clone, Copy, Debug)]
pub(super) enum Bound {
    AtLeast(usize, i64),
    AtMost(usize, i64),
}

impl Bound {
    /// Everything the bound leaves out.
    pub(super) fn otherwise(self) -> Self {
        match self {
            Self::AtLeast(cell, low) => Self::AtMost(cell, low - 1),
            Self::AtMost(cell, high) => Self::AtLeast(cell, high + 1),
        }
    }
}

/// What one count was before a step.
struct Before {
    cell: usize,
    low: i64,
    high: i64,
    at: i64,
}

/// Sums of a rule: now, and the least and most they could be.
#[derive(Clone, Copy, Default)]
pub(super) struct Sums {
    pub(super) now: i64,
    least: i64,
    most: i64,
}

/// A set of worlds: every count between its bounds. One of them, the nearest to
/// the truth, is at hand; it may still break rules.
pub(super) struct Worlds<'s> {
    pub(super) system: &'s System,
    pub(super) low: Vec<i64>,
    pub(super) high: Vec<i64>,
    pub(super) at: Vec<i64>,
    /// The last of these is the goal's.
    pub(super) sums: Vec<Sums>,
    pub(super) broken: BTreeSet<usize>,
    floors: Vec<i64>,
    /// The counts of each rule that are not fixed: of a table of which little is hidden, few.
    free: Vec<Vec<(usize, i64)>>,
    goal: Goal,
    /// How the world that steps start from differs from the truth.
    start: Vec<(usize, i64)>,
    trail: Vec<Before>,
    waiting: VecDeque<usize>,
    is_waiting: Vec<bool>,
    empty: bool,
}

/// A sum of counts that is asked to be no lower than something.
#[derive(Clone)]
pub(super) struct Goal {
    pub(super) terms: Vec<(usize, i64)>,
    pub(super) least: i64,
}

impl<'s> Worlds<'s> {
    /// All worlds that none of some seats can exclude, in which no count exceeds the truth by more than `room`.
    pub(super) fn seen_from<S: AsRef<[usize]>>(system: &'s System, seats: &[S], room: i64) -> Self {
        let cells = system.truth.len();
        let seats = || seats.iter().map(AsRef::as_ref);
        let own = |cell: usize| seats().map(|seat| system.own(seat, cell)).max().unwrap_or(0);
        let floor = |rule: &Rule| match rule.kind {
            Kind::Holds => {
                let own_of = |seat| {
                    let terms = rule.terms.iter();
                    terms.map(|(cell, weight)| weight * system.own(seat, *cell)).sum::<i64>()
                };
                seats().map(own_of).max().unwrap_or(0)
            }
            Kind::Sum(_) | Kind::Ways(_) => 0,
        };
        let known = |cell: &usize| seats().any(|seat| system.is_own(seat, *cell));
        let bound = |cell: usize, open: i64| if known(&cell) { system.truth[cell] } else { open };
        let mut worlds = Self {
            system,
            low: (0..cells).map(|cell| bound(cell, own(cell))).collect(),
            high: (0..cells).map(|cell| bound(cell, system.truth[cell] + room)).collect(),
            at: system.truth.clone(),
            sums: vec![Sums::default(); system.rules.len() + 1],
            broken: BTreeSet::new(),
            floors: system.rules.iter().map(floor).collect(),
            free: system.rules.iter().map(|rule| rule.terms.clone()).collect(),
            goal: Goal { terms: Vec::new(), least: 0 },
            start: Vec::new(),
            trail: Vec::new(),
            waiting: (0..system.rules.len()).collect(),
            is_waiting: vec![true; system.rules.len() + 1],
            empty: false,
        };
        for (number, rule) in system.rules.iter().enumerate() {
            worlds.sums[number] = worlds.sums_of(&rule.terms);
        }
        worlds.narrow();
        worlds.trail.clear();
        let (low, high) = (&worlds.low, &worlds.high);
        for terms in &mut worlds.free {
            terms.retain(|(cell, _)| low[*cell] < high[*cell]);
        }
        worlds
    }

    fn sums_of(&self, terms: &[(usize, i64)]) -> Sums {
        let mut sums = Sums::default();
        for (cell, weight) in terms {
            let ends = [weight * self.low[*cell], weight * self.high[*cell]];
            sums.now += weight * self.at[*cell];
            sums.least += ends[0].min(ends[1]);
            sums.most += ends[0].max(ends[1]);
        }
        sums
    }

    /// Asks for a goal, from here on.
    pub(super) fn aim(&mut self, goal: Goal) {
        let number = self.system.rules.len();
        self.sums[number] = self.sums_of(&goal.terms);
        self.goal = goal;
        self.mark(number);
        self.wait(number);
    }

    /// Takes back every step and the goal.
    pub(super) fn reset(&mut self) {
        self.back_to(0);
        self.goal = Goal { terms: Vec::new(), least: 0 };
        let number = self.system.rules.len();
        self.sums[number] = Sums::default();
        self.broken.remove(&number);
    }

    /// Lets steps start from another world that breaks no rule, given by what differs from the truth.
    pub(super) fn start_from(&mut self, differs: &[(usize, i64)]) {
        for (cell, _) in std::mem::take(&mut self.start) {
            self.put(cell, self.low[cell], self.high[cell], self.system.truth[cell]);
        }
        for (cell, value) in differs {
            self.put(*cell, self.low[*cell], self.high[*cell], *value);
        }
        self.start = differs.to_vec();
    }

    /// The most that a sum of counts can be, as far as the bounds tell.
    pub(super) fn most(&self, terms: &[(usize, i64)]) -> i64 {
        self.sums_of(terms).most
    }

    /// How many steps were taken.
    pub(super) fn steps(&self) -> usize {
        self.trail.len()
    }

    /// What differs from the truth in the world at hand.
    pub(super) fn differs(&self) -> Vec<(usize, i64)> {
        let started = self.start.iter().map(|(cell, _)| *cell);
        let cells: BTreeSet<usize> = self.trail.iter().map(|before| before.cell).chain(started).collect();
        let differing = cells.into_iter().filter(|cell| self.at[*cell] != self.system.truth[*cell]);
        differing.map(|cell| (cell, self.at[cell])).collect()
    }

    /// Lays a bound.
    pub(super) fn lay(&mut self, bound: Bound) {
        match bound {
            Bound::AtLeast(cell, low) if low > self.low[cell] => self.set(cell, low, self.high[cell]),
            Bound::AtMost(cell, high) if high < self.high[cell] => self.set(cell, self.low[cell], high),
            _ => {}
        }
    }

    /// Goes back to an earlier number of steps.
    pub(super) fn back_to(&mut self, steps: usize) {
        while self.trail.len() > steps {
            if let Some(Before { cell, low, high, at }) = self.trail.pop() {
                self.put(cell, low, high, at);
            }
        }
        self.stop();
        self.empty = false;
    }

    fn set(&mut self, cell: usize, low: i64, high: i64) {
        if low > high {
            self.empty = true;
            return;
        }
        let at = self.at[cell];
        self.trail.push(Before { cell, low: self.low[cell], high: self.high[cell], at });
        self.put(cell, low, high, at.clamp(low, high));
        let system = self.system;
        for (rule, _) in &system.touching[cell] {
            self.wait(*rule);
        }
        if self.goal.terms.iter().any(|(of_goal, _)| *of_goal == cell) {
            self.wait(system.rules.len());
        }
    }

    /// Writes a count's bounds and value and everything that follows from them.
    fn put(&mut self, cell: usize, low: i64, high: i64, at: i64) {
        let system = self.system;
        let old = (self.low[cell], self.high[cell], self.at[cell]);
        (self.low[cell], self.high[cell], self.at[cell]) = (low, high, at);
        let change = (low - old.0, high - old.1, at - old.2);
        for (rule, weight) in &system.touching[cell] {
            self.add(*rule, *weight, change);
        }
        let in_goal = self.goal.terms.iter().find(|(of_goal, _)| *of_goal == cell).copied();
        if let Some((_, weight)) = in_goal {
            self.add(system.rules.len(), weight, change);
        }
    }

    fn add(&mut self, rule: usize, weight: i64, (low, high, at): (i64, i64, i64)) {
        let sums = &mut self.sums[rule];
        let (least, most) = if weight > 0 { (low, high) } else { (high, low) };
        sums.least += weight * least;
        sums.most += weight * most;
        sums.now += weight * at;
        if at != 0 {
            self.mark(rule);
        }
    }

    fn mark(&mut self, rule: usize) {
        if self.gap(rule, self.sums[rule].now) == 0 {
            self.broken.remove(&rule);
        } else {
            self.broken.insert(rule);
        }
    }

    /// How far a sum is from what its rule allows.
    pub(super) fn gap(&self, rule: usize, sum: i64) -> i64 {
        match self.kind(rule) {
            None => (self.goal.least - sum).max(0),
            Some(Kind::Holds) => (self.floors[rule] - sum).max(0),
            Some(Kind::Sum(allowed)) => {
                let up = allowed.up_from(sum).map(|up| up - sum);
                let down = allowed.down_from(sum).map(|down| sum - down);
                up.into_iter().chain(down).min().unwrap_or(1)
            }
            Some(Kind::Ways(ways)) => {
                let Some((part, whole)) = self.part_and_whole(rule) else { return 1 };
                let way = ways.binary_search_by_key(&self.at[whole], |(number, _)| *number);
                i64::from(!way.is_ok_and(|way| ways[way].1.contains(self.at[part])))
            }
        }
    }

    /// The sums that would mend a broken rule: the nearest above and below.
    pub(super) fn mends(&self, rule: usize) -> [Option<i64>; 2] {
        let now = self.sums[rule].now;
        match self.kind(rule) {
            None => [Some(self.goal.least), None],
            Some(Kind::Holds) => [Some(self.floors[rule]), None],
            Some(Kind::Sum(allowed)) => [allowed.up_from(now), allowed.down_from(now)],
            Some(Kind::Ways(_)) => [None, None],
        }
    }

    /// The counts of a rule that can change, with their weights.
    pub(super) fn terms(&self, rule: usize) -> &[(usize, i64)] {
        self.free.get(rule).unwrap_or(&self.goal.terms)
    }

    fn kind(&self, rule: usize) -> Option<&'s Kind> {
        self.system.rules.get(rule).map(|rule| &rule.kind)
    }

    /// The two counts of a rule that names pairs.
    fn part_and_whole(&self, rule: usize) -> Option<(usize, usize)> {
        let [(part, _), (whole, _)] = self.system.rules.get(rule)?.terms[..] else { return None };
        Some((part, whole))
    }

    fn wait(&mut self, rule: usize) {
        if !self.is_waiting[rule] {
            self.is_waiting[rule] = true;
            self.waiting.push_back(rule);
        }
    }

    fn stop(&mut self) {
        while let Some(rule) = self.waiting.pop_front() {
            self.is_waiting[rule] = false;
        }
    }

    /// Narrows every bound as far as single rules tell; false if nothing is left.
    pub(super) fn narrow(&mut self) -> bool {
        while let Some(rule) = self.waiting.pop_front() {
            self.is_waiting[rule] = false;
            self.narrow_by(rule);
            if self.empty {
                self.stop();
                return false;
            }
        }
        !self.empty
    }

    fn narrow_by(&mut self, rule: usize) {
        let Sums { least, most, .. } = self.sums[rule];
        let ends = match self.kind(rule) {
            None => (self.goal.least, most),
            Some(Kind::Holds) => (self.floors[rule], most),
            Some(Kind::Sum(allowed)) => match (allowed.up_from(least), allowed.down_from(most)) {
                (Some(low), Some(high)) => (low, high),
                _ => (1, 0),
            },
            Some(Kind::Ways(ways)) => {
                let counts = self.part_and_whole(rule);
                return counts.into_iter().for_each(|(part, whole)| self.narrow_ways(part, whole, ways));
            }
        };
        if ends.0 > ends.1 || ends.0 > most || ends.1 < least {
            self.empty = true;
            return;
        }
        if ends.0 <= least && ends.1 >= most {
            return;
        }
        if let Some(free) = self.free.get_mut(rule).map(std::mem::take) {
            self.narrow_terms(&free, ends, (least, most));
            self.free[rule] = free;
        } else {
            self.narrow_terms(&self.goal.terms.clone(), ends, (least, most));
        }
    }

    /// Narrows each count as far as the others of its rule leave room between two ends.
    fn narrow_terms(&mut self, terms: &[(usize, i64)], ends: (i64, i64), (least, most): (i64, i64)) {
        for &(cell, weight) in terms {
            let (low, high) = (self.low[cell], self.high[cell]);
            let (own_least, own_most) =
                if weight > 0 { (weight * low, weight * high) } else { (weight * high, weight * low) };
            let term = (ends.0 - (most - own_most), ends.1 - (least - own_least));
            let (new_low, new_high) = match weight > 0 {
                true => (up(term.0, weight), down(term.1, weight)),
                false => (up(-term.1, -weight), down(-term.0, -weight)),
            };
            if new_low > low || new_high < high {
                self.set(cell, new_low.max(low), new_high.min(high));
                if self.empty {
                    return;
                }
            }
        }
    }

    fn narrow_ways(&mut self, part: usize, whole: usize, ways: &[super::super::release::Way]) {
        let (least, most) = (self.low[part], self.high[part]);
        let from = ways.partition_point(|(number, _)| *number < self.low[whole]);
        let open = ways[from..].iter().take_while(|(number, _)| *number <= self.high[whole]);
        let mut found: Option<[i64; 4]> = None;
        for (number, parts) in open {
            let ends = parts.up_from(least).zip(parts.down_from(most));
            let Some((low, high)) = ends.filter(|(low, high)| *low <= most && least <= *high) else {
                continue;
            };
            let [first, _, lowest, highest] = found.unwrap_or([*number, *number, low, high]);
            found = Some([first, *number, lowest.min(low), highest.max(high)]);
        }
        let Some([first, last, lowest, highest]) = found else {
            self.empty = true;
            return;
        };
        let narrower = |cell: usize, worlds: &Self, (low, high): (i64, i64)| {
            (low.max(worlds.low[cell]), high.min(worlds.high[cell]))
        };
        for (cell, ends) in [(whole, (first, last)), (part, (lowest, highest))] {
            let (low, high) = narrower(cell, self, ends);
            if (low, high) != (self.low[cell], self.high[cell]) {
                self.set(cell, low, high);
            }
        }
    }
}

/// Division rounded up.
fn up(number: i64, by: i64) -> i64 {
    -(-number).div_euclid(by)
}

/// Division rounded down.
fn down(number: i64, by: i64) -> i64 {
    number.div_euclid(by)
}
