//! Groups in which nobody, or everybody, had the event. Their coefficient has no finite
//! estimate, but the likelihood has a limit: their risk is 0, or 1, in either arm, and the other
//! coefficients are those of the other cases. So a centre without harm stays in the average
//! instead of taking the estimate away.

use super::cases::Cases;
use crate::methods::interval::Interval;

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

/// The cases that are left open, and what was settled. A group is a centre, or the cases marked
/// by a covariate of 0 and 1; taking one out may settle another.
pub(super) fn settle(all: &Cases) -> (Cases, Settled) {
    let mut open: Vec<usize> = (0..all.events.len()).collect();
    let mut settled = Settled::default();
    while let Some((group, event)) = settled_group(all, &open) {
        open.retain(|at| !group.contains(at));
        settled.cases += group.len() as u32;
        settled.events += if event { group.len() as u32 } else { 0 };
    }
    (all.only(&open), settled)
}

/// The first group of open cases that ended alike while others did not.
fn settled_group(all: &Cases, open: &[usize]) -> Option<(std::collections::BTreeSet<usize>, bool)> {
    let mixed = |places: &[usize]| {
        let events = places.iter().filter(|at| all.events[**at]).count();
        events > 0 && events < places.len()
    };
    if !mixed(open) {
        return None;
    }
    let mut labels: Vec<u32> = open.iter().map(|at| all.labels[*at]).collect();
    labels.dedup();
    let centres = labels.into_iter().map(|label| members(open, |at| all.labels[at] == label));
    let marks = all.columns.iter().filter(|column| column.iter().all(|value| [0.0, 1.0].contains(value)));
    let marked = marks.map(|column| members(open, |at| column[at] == 1.0));
    let mut groups = centres.chain(marked);
    let found = groups.find(|group| !group.is_empty() && group.len() < open.len() && !mixed(group))?;
    let event = all.events[found[0]];
    Some((found.into_iter().collect(), event))
}

fn members(open: &[usize], of_group: impl Fn(usize) -> bool) -> Vec<usize> {
    open.iter().copied().filter(|at| of_group(*at)).collect()
}
