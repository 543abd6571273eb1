//! Groups in which nobody, or everybody, had the event. Their coefficient has no finite
//! estimate, but the likelihood has a limit: their risk is 0, or 1, in either arm, and the other
//! coefficients are those of the other cases. So a centre without harm stays in the average
//! instead of taking the estimate away.

use super::cases::Cases;
use crate::methods::interval::Interval;
use crate::methods::runs::Runs;
use crate::methods::standardisation::RatioOf;
use std::collections::BTreeMap;

/// The cases of such groups.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Settled {
    /// How many.
    pub(super) cases: u32,
    /// Those among them that had the event.
    pub(super) events: u32,
}

impl Settled {
    /// A risk averaged over all cases, from the one averaged over the open ones.
    ///
    /// Formula: (n r + e) / (n + s), e events in s settled cases.
    pub(super) fn risk(self, open: usize, risk: f64) -> f64 {
        let (open, cases) = (open as f64, f64::from(self.cases));
        (open * risk + f64::from(self.events)) / (open + cases)
    }

    /// Those among them that had an outcome.
    pub(super) fn with(self, outcome: RatioOf) -> u32 {
        match outcome {
            RatioOf::Event => self.events,
            RatioOf::NoEvent => self.cases - self.events,
        }
    }

    /// A difference averaged over all cases: in the settled ones it is 0 by the model.
    ///
    /// Formula: each limit × n / (n + s). The share of settled cases is taken as given.
    pub(super) fn difference(self, open: usize, interval: Interval) -> Interval {
        let share = open as f64 / (open as f64 + f64::from(self.cases));
        Interval {
            lower: interval.lower * share,
            estimate: interval.estimate * share,
            upper: interval.upper * share,
            ..interval
        }
    }
}

/// The cases that are left open, if those are not all, and what was settled. A group is a centre,
/// or the cases marked by a covariate of 0 and 1; taking one out may settle another.
pub(super) fn settle(all: &Cases) -> (Option<Cases>, Settled) {
    let mut open: Runs = (0..all.events.len()).collect();
    let marks: Vec<&[u8]> = all.columns.iter().filter_map(|column| column.marks()).collect();
    let mut settled = Settled::default();
    while let Some((group, event)) = settled_group(all, &marks, &open) {
        let before = open.cases();
        open = open.places().filter(|at| !group.holds(all, *at)).collect();
        let cases = (before - open.cases()) as u32;
        settled.cases += cases;
        settled.events += if event { cases } else { 0 };
    }
    let some = (settled.cases > 0).then(|| all.only(&open));
    (some, settled)
}

/// A centre, or the cases that a column marks.
#[derive(Clone, Copy)]
enum Group<'c> {
    Centre(u32),
    Marked(&'c [u8]),
}

impl Group<'_> {
    fn holds(self, all: &Cases, at: usize) -> bool {
        match self {
            Self::Centre(label) => all.labels[at] == label,
            Self::Marked(marked) => marked[at] == 1,
        }
    }

    /// How all of its open cases ended; `None` if it has none or they ended differently.
    fn ended(self, all: &Cases, open: &Runs) -> Option<bool> {
        let mut own = open.places().filter(|at| self.holds(all, *at)).map(|at| all.events[at]);
        let first = own.next()?;
        own.all(|event| event == first).then_some(first)
    }
}

/// The first group of open cases that ended alike while others did not.
fn settled_group<'c>(all: &Cases, marks: &[&'c [u8]], open: &Runs) -> Option<(Group<'c>, bool)> {
    let mut centres = BTreeMap::<u32, [bool; 2]>::new();
    for run in open.ranges() {
        let (labels, mut events) = (&all.labels[run.clone()], &all.events[run.clone()]);
        // A centre is looked up once for the cases of it that stand together.
        for own in labels.chunk_by(|one, other| one == other) {
            let (here, rest) = events.split_at(own.len());
            let ends = centres.entry(own[0]).or_default();
            here.iter().for_each(|event| ends[usize::from(*event)] = true);
            events = rest;
        }
    }
    let some = |event: bool| centres.values().any(|ends| ends[usize::from(event)]);
    if !(some(false) && some(true)) {
        return None;
    }
    // While some ended otherwise, a group that ended alike is not all of them.
    let centre = |(label, [without, with]): (u32, [bool; 2])| {
        (without != with).then_some((Group::Centre(label), with))
    };
    let marked = |marked: &&'c [u8]| {
        let group = Group::Marked(marked);
        Some((group, group.ended(all, open)?))
    };
    centres.into_iter().find_map(centre).or_else(|| marks.iter().find_map(marked))
}
