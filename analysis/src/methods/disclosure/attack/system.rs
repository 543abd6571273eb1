//! The published statements as rules over counts, and what holds at every centre.

use super::super::release::{CellId, Link, Release, Says, Values, Way, Within};
use std::collections::BTreeSet;

/// A rule that every possible world keeps.
pub(super) struct Rule {
    pub(super) terms: Vec<(usize, i64)>,
    pub(super) kind: Kind,
}

/// What a rule asks of its counts.
pub(super) enum Kind {
    /// Their weighted sum is one of some numbers.
    Sum(Values),
    /// Their weighted sum is not below zero, at each centre: a centre that knows its own counts
    /// knows more than that the whole is not below the part.
    Holds,
    /// The first, a part, and the second, its whole, are one of some pairs.
    Ways(Vec<Way>),
}

/// All rules of a release, and the true counts.
pub(super) struct System {
    pub(super) rules: Vec<Rule>,
    /// For each count the rules that speak of it, with its weight there.
    pub(super) touching: Vec<Vec<(usize, i64)>>,
    pub(super) truth: Vec<i64>,
    /// For each count what each centre contributes.
    by_centre: Vec<Vec<i64>>,
    /// For each rule that holds at every centre what each centre's own counts leave there; it is asked of
    /// every world from every seat.
    left_at_centre: Vec<Vec<i64>>,
    column_of: Vec<Option<usize>>,
}

/// Counts that differ from the truth, in the order of their positions.
pub(super) type Differs = [(usize, i64)];

impl System {
    pub(super) fn of(release: &Release) -> Self {
        let terms_of = |terms: &[(CellId, i64)]| -> Vec<(usize, i64)> {
            terms.iter().map(|(cell, weight)| (cell.0, *weight)).collect()
        };
        let said = release.statements.iter().map(|statement| match &statement.says {
            Says::Sum { terms, allowed } => Rule { terms: terms_of(terms), kind: Kind::Sum(allowed.clone()) },
            Says::Ways { part, whole, ways } => {
                Rule { terms: vec![(part.0, 1), (whole.0, 1)], kind: Kind::Ways(ways.clone()) }
            }
        });
        let known = |link: &&Link| link.within == Within::Group || release.holds_everywhere(**link);
        let held = release.links.iter().filter(known);
        let held = held.map(|link| vec![(link.whole.0, 1), (link.part.0, -1)]);
        let held = held.chain(release.never_below.iter().map(|terms| terms_of(terms)));
        let held = held.map(|terms| Rule { terms, kind: Kind::Holds });
        let rules: Vec<Rule> = said.chain(held).collect();
        let mut touching = vec![Vec::new(); release.cells.len()];
        for (number, rule) in rules.iter().enumerate() {
            for (cell, weight) in &rule.terms {
                touching[*cell].push((number, *weight));
            }
        }
        let as_count = |count: &u64| i64::try_from(*count).unwrap_or(i64::MAX);
        let by_centre = release.cells.iter().map(|cell| cell.by_centre.iter().map(as_count).collect());
        let by_centre: Vec<Vec<i64>> = by_centre.collect();
        let own = |cell: usize, centre: usize| by_centre[cell].get(centre).copied().unwrap_or(0);
        let left_at = |rule: &Rule, centre: usize| -> i64 {
            rule.terms.iter().map(|(cell, weight)| weight * own(*cell, centre)).sum()
        };
        let centres = 0..release.centres.len();
        let left = |rule: &Rule| centres.clone().map(|centre| left_at(rule, centre)).collect();
        let left = |rule: &Rule| if matches!(rule.kind, Kind::Holds) { left(rule) } else { Vec::new() };
        let left_at_centre = rules.iter().map(left).collect();
        Self {
            left_at_centre,
            rules,
            touching,
            truth: release.cells.iter().map(|cell| as_count(&cell.count())).collect(),
            by_centre,
            column_of: release.cells.iter().map(|cell| cell.column_of).collect(),
        }
    }

    /// What the centres of a seat contribute to a count.
    pub(super) fn own(&self, seat: &[usize], cell: usize) -> i64 {
        seat.iter().map(|centre| self.by_centre[cell][*centre]).sum()
    }

    /// Whether a seat knows a count because it is a column of its own.
    pub(super) fn is_own(&self, seat: &[usize], cell: usize) -> bool {
        self.column_of[cell].is_some_and(|centre| seat.contains(&centre))
    }

    /// A count in a world that differs from the true one.
    pub(super) fn value(&self, differs: &Differs, cell: usize) -> i64 {
        let found = differs.binary_search_by_key(&cell, |(other, _)| *other);
        found.map_or(self.truth[cell], |place| differs[place].1)
    }

    /// What in another world holds at every centre, with what the whole leaves of the part there: the same
    /// for every seat.
    pub(super) fn left_by(&self, differs: &Differs) -> Vec<(usize, i64)> {
        let touched = differs.iter().flat_map(|(cell, _)| &self.touching[*cell]);
        let holds = |rule: &usize| matches!(self.rules[*rule].kind, Kind::Holds);
        let rules: BTreeSet<usize> = touched.map(|(rule, _)| *rule).filter(holds).collect();
        let sum = |rule: usize| {
            let terms = self.rules[rule].terms.iter();
            terms.map(|(cell, weight)| weight * self.value(differs, *cell)).sum()
        };
        rules.into_iter().map(|rule| (rule, sum(rule))).collect()
    }

    /// Whether another world, given by what differs and by what is left in it, agrees with what a seat knows of
    /// its own cases. What is published holds in it already.
    pub(super) fn is_open_to(&self, seat: &[usize], differs: &Differs, left: &[(usize, i64)]) -> bool {
        let own_of = |rule: usize| seat.iter().map(|centre| self.left_at_centre[rule][*centre]).sum::<i64>();
        let open =
            |(cell, value): &(usize, i64)| *value >= self.own(seat, *cell) && !self.is_own(seat, *cell);
        differs.iter().all(open) && left.iter().all(|(rule, left)| *left >= own_of(*rule))
    }

    /// Whether another world agrees with everything published. Looks at each statement
    /// itself and trusts nothing of the search that proposed the world.
    pub(super) fn agrees(&self, differs: &Differs) -> bool {
        let value = |cell: usize| self.value(differs, cell);
        let keeps = |(rule, _): &(usize, i64)| {
            let Rule { terms, kind } = &self.rules[*rule];
            let sum = || terms.iter().map(|(cell, weight)| weight * value(*cell)).sum::<i64>();
            match kind {
                Kind::Sum(allowed) => allowed.contains(sum()),
                Kind::Holds => sum() >= 0,
                Kind::Ways(ways) => {
                    let [(part, _), (whole, _)] = terms[..] else { return false };
                    let way = ways.binary_search_by_key(&value(whole), |(number, _)| *number);
                    way.is_ok_and(|way| ways[way].1.contains(value(part)))
                }
            }
        };
        differs.iter().all(|(cell, value)| *value >= 0 && self.touching[*cell].iter().all(keeps))
    }
}
