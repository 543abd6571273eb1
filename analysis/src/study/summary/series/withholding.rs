//! What more to hide of the new summary where a number is held too narrowly.

use super::super::counted::{Count, Counted, Measure};
use super::super::gate::Turn;
use super::Series;
use crate::methods::disclosure::{CellId, Learnt};
use std::collections::{BTreeMap, BTreeSet};

/// Some of the counts.
type Which<'w> = &'w dyn Fn(&Count) -> bool;

impl Series<'_> {
    /// For each number that is held too narrowly the counts shown that say it, or other quartiles of the
    /// same doses, or the smallest of the nearest counts that are tied to it; where nothing is, whatever is
    /// shown.
    pub(in super::super) fn more_to_withhold(
        &self,
        learnt: &Learnt,
        counted: &Counted<'_>,
        (hidden, turn): (&BTreeSet<Count>, Turn<'_>),
    ) -> BTreeSet<Count> {
        let mut more = BTreeSet::new();
        let of = |cells: &[CellId], speak: &BTreeMap<CellId, BTreeSet<Count>>| -> BTreeSet<Count> {
            cells.iter().filter_map(|cell| speak.get(cell)).flatten().copied().collect()
        };
        for row in learnt.narrow_rows() {
            let mut own = of(&row.cells, &self.speaks_of);
            if own.is_empty() {
                // The new summary has nothing like it, and tells it all the same.
                own = of(&row.cells, &self.spoke_of);
            }
            let shown = |counts: &mut dyn Iterator<Item = Count>| -> Vec<Count> {
                counts.filter(|count| turn.is_of(count) && is_shown(counted, hidden, count)).collect()
            };
            let told = shown(&mut own.iter().copied());
            let rounded = counted.ranks.beside(&own).chain(counted.shares_beside(&own, hidden));
            let rounded = shown(&mut rounded.collect::<Vec<_>>().into_iter());
            // A quartile or a rounded share is less to lose than a count.
            match (rounded.is_empty(), told.is_empty()) {
                (false, _) => more.extend(rounded),
                (true, false) => more.extend(told),
                (true, true) => more.extend(self.nearest_shown(own, counted, (hidden, turn))),
            }
        }
        if more.is_empty() {
            more.extend(counted.said_by(|count| turn.is_of(count) && !hidden.contains(count)));
        }
        more
    }

    /// The smallest of the nearest counts shown that are tied to some: of what they count themselves, or
    /// else of anything.
    fn nearest_shown(
        &self,
        own: BTreeSet<Count>,
        counted: &Counted<'_>,
        (hidden, turn): (&BTreeSet<Count>, Turn<'_>),
    ) -> Option<Count> {
        let measures: BTreeSet<Measure> = own.iter().map(|count| count.measure).collect();
        let alike = |count: &Count| measures.contains(&count.measure);
        let is_shown = |count: &Count| turn.is_of(count) && is_shown(counted, hidden, count);
        let search = |may: Which<'_>| self.nearest(own.clone(), counted, (&is_shown, may));
        search(&alike).or_else(|| search(&|_| true))
    }

    fn nearest(
        &self,
        own: BTreeSet<Count>,
        counted: &Counted<'_>,
        (is_shown, may): (Which<'_>, Which<'_>),
    ) -> Option<Count> {
        let mut seen = own.clone();
        let mut ring: Vec<Count> = own.into_iter().collect();
        while !ring.is_empty() {
            let next = ring.iter().filter_map(|count| self.beside.get(count)).flatten();
            let next: BTreeSet<Count> =
                next.filter(|count| may(count) && !seen.contains(count)).copied().collect();
            let shown = next.iter().filter(|count| is_shown(count));
            let value = |count: &Count| counted.value(*count).unwrap_or(0);
            // The cases themselves are what readers want most.
            let dear = |count: &Count| (count.measure == Measure::Cases, value(count) == 0, value(count));
            let cheapest = shown.min_by_key(|count| (dear(count), **count));
            if let Some(count) = cheapest {
                return Some(*count);
            }
            seen.extend(next.iter().copied());
            ring = next.into_iter().collect();
        }
        None
    }
}

/// Whether the new summary tells a count.
fn is_shown(counted: &Counted<'_>, hidden: &BTreeSet<Count>, count: &Count) -> bool {
    !hidden.contains(count) && counted.said(*count).is_some()
}
