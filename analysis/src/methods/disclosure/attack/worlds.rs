//! The worlds that a seat cannot tell from the true one: bounds of every count,
//! narrowed rule by rule, and steps that can be taken back.

use super::frame::{FAR, Frame, Span};
use super::system::{Kind, System};
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
#[derive(Clone, Copy)]
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
#[derive(Clone)]
pub(super) struct Worlds<'f> {
    frame: &'f Frame<'f>,
    pub(super) system: &'f System,
    pub(super) low: Vec<i64>,
    pub(super) high: Vec<i64>,
    pub(super) at: Vec<i64>,
    /// The last of these is the goal's.
    pub(super) sums: Vec<Sums>,
    /// How far each sum is from what its rule allows.
    gaps: Vec<i64>,
    pub(super) broken: BTreeSet<usize>,
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

impl<'f> Worlds<'f> {
    /// All worlds of a frame, the true one at hand.
    pub(super) fn of(frame: &'f Frame<'f>) -> Self {
        let system = frame.system;
        let rules = system.rules.len();
        let mut worlds = Self {
            frame,
            system,
            low: frame.low.clone(),
            high: frame.high.clone(),
            at: system.truth.clone(),
            sums: vec![Sums::default(); rules + 1],
            gaps: vec![0; rules + 1],
            broken: BTreeSet::new(),
            goal: Goal { terms: Vec::new(), least: 0 },
            start: Vec::new(),
            trail: Vec::new(),
            waiting: VecDeque::new(),
            is_waiting: vec![false; rules + 1],
            empty: false,
        };
        for (number, rule) in system.rules.iter().enumerate() {
            worlds.sums[number] = worlds.sums_of(&rule.terms);
        }
        worlds
    }

    /// The bounds of every count when all rules were looked at.
    pub(super) fn narrowest(mut self) -> (Vec<i64>, Vec<i64>) {
        (0..self.system.rules.len()).for_each(|rule| self.wait(rule));
        self.narrow();
        (self.low, self.high)
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
        self.gaps[number] = 0;
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
        let frame = self.frame;
        for (rule, _) in &frame.touching[cell] {
            self.wait(*rule);
        }
        if self.goal.terms.iter().any(|(of_goal, _)| *of_goal == cell) {
            self.wait(self.system.rules.len());
        }
    }

    /// Writes a count's bounds and value and everything that follows from them.
    fn put(&mut self, cell: usize, low: i64, high: i64, at: i64) {
        let frame = self.frame;
        let old = (self.low[cell], self.high[cell], self.at[cell]);
        (self.low[cell], self.high[cell], self.at[cell]) = (low, high, at);
        let change = (low - old.0, high - old.1, at - old.2);
        for (rule, weight) in &frame.touching[cell] {
            self.add(*rule, *weight, change);
        }
        let in_goal = self.goal.terms.iter().find(|(of_goal, _)| *of_goal == cell).copied();
        if let Some((_, weight)) = in_goal {
            self.add(self.system.rules.len(), weight, change);
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
        let gap = self.gap(rule, self.sums[rule].now);
        let was = std::mem::replace(&mut self.gaps[rule], gap);
        match (was, gap) {
            (0, 0) => {}
            (_, 0) => drop(self.broken.remove(&rule)),
            (0, _) => drop(self.broken.insert(rule)),
            _ => {}
        }
    }

    /// What a step of one count leaves broken, less what it mends.
    pub(super) fn cost(&self, cell: usize, by: i64) -> i64 {
        let change = |(rule, weight): &(usize, i64)| {
            self.gap(*rule, self.sums[*rule].now + weight * by) - self.gaps[*rule]
        };
        self.frame.touching[cell].iter().map(change).sum()
    }

    /// How far a sum is from what its rule allows.
    fn gap(&self, rule: usize, sum: i64) -> i64 {
        if let Some((least, most)) = self.span(rule) {
            return (least - sum).max(sum - most).max(0);
        }
        match &self.system.rules[rule].kind {
            Kind::Holds => 0,
            Kind::Sum(allowed) => {
                let up = allowed.up_from(sum).map(|up| up - sum);
                let down = allowed.down_from(sum).map(|down| sum - down);
                up.into_iter().chain(down).min().unwrap_or(1)
            }
            Kind::Ways(ways) => {
                let Some((part, whole)) = self.part_and_whole(rule) else { return 1 };
                let way = ways.binary_search_by_key(&self.at[whole], |(number, _)| *number);
                i64::from(!way.is_ok_and(|way| ways[way].1.contains(self.at[part])))
            }
        }
    }

    /// Where the sum of a rule, or of the goal, may be.
    fn span(&self, rule: usize) -> Option<Span> {
        self.frame.spans.get(rule).copied().unwrap_or(Some((self.goal.least, FAR)))
    }

    /// The sums that would mend a broken rule: the nearest above and below.
    pub(super) fn mends(&self, rule: usize) -> [Option<i64>; 2] {
        let now = self.sums[rule].now;
        if let Some((least, most)) = self.span(rule) {
            return [(now <= most).then(|| now.max(least)), (now >= least).then(|| now.min(most))];
        }
        match &self.system.rules[rule].kind {
            Kind::Sum(allowed) => [allowed.up_from(now), allowed.down_from(now)],
            Kind::Holds | Kind::Ways(_) => [None, None],
        }
    }

    /// The counts of a rule that can change, with their weights.
    pub(super) fn terms(&self, rule: usize) -> &[(usize, i64)] {
        self.frame.free.get(rule).unwrap_or(&self.goal.terms)
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
        let Some(ends) = self.ends(rule, (least, most)) else {
            return;
        };
        if ends.0 > ends.1 || ends.0 > most || ends.1 < least {
            self.empty = true;
            return;
        }
        if ends.0 <= least && ends.1 >= most {
            return;
        }
        let frame = self.frame;
        if let Some(free) = frame.free.get(rule) {
            self.narrow_terms(free, ends, (least, most));
        } else {
            self.narrow_terms(&self.goal.terms.clone(), ends, (least, most));
        }
    }

    /// Between which ends a rule leaves its sum; where it names pairs it narrows both counts at once.
    fn ends(&mut self, rule: usize, (least, most): Span) -> Option<Span> {
        if let Some((low, high)) = self.span(rule) {
            return Some((low.max(least), high.min(most)));
        }
        let system = self.system;
        match &system.rules[rule].kind {
            Kind::Sum(allowed) => {
                let ends = allowed.up_from(least).zip(allowed.down_from(most));
                return Some(ends.unwrap_or((1, 0)));
            }
            Kind::Ways(ways) => {
                if let Some((part, whole)) = self.part_and_whole(rule) {
                    self.narrow_ways(part, whole, ways);
                }
            }
            Kind::Holds => {}
        }
        None
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
