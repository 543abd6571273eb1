//! The published statements as rules over counts, and what holds at every centre.

use super::super::release::{Link, Release, Says, Values, Way, Within};

/// A rule that every possible world keeps.
pub(super) enum Rule {
    /// A weighted sum is one of some numbers.
    Sum { terms: Vec<(usize, i64)>, allowed: Values },
    /// A whole is not below its part, at each centre: a centre that knows its
    /// own counts knows more than that the whole is not below the part.
    Holds { terms: [(usize, i64); 2] },
    /// Part and whole are one of some pairs.
    Ways { part: usize, whole: usize, ways: Vec<Way> },
}

impl Rule {
    pub(super) fn terms(&self) -> Vec<(usize, i64)> {
        match self {
            Self::Sum { terms, .. } => terms.clone(),
            Self::Holds { terms } => terms.to_vec(),
            Self::Ways { part, whole, .. } => vec![(*part, 1), (*whole, 1)],
        }
    }
}

/// All rules of a release, and the true counts.
pub(super) struct System {
    pub(super) rules: Vec<Rule>,
    /// For each count the rules that speak of it, with its weight there.
    pub(super) touching: Vec<Vec<(usize, i64)>>,
    pub(super) truth: Vec<i64>,
    /// For each count what each centre contributes.
    by_centre: Vec<Vec<i64>>,
    column_of: Vec<Option<usize>>,
}

impl System {
    pub(super) fn of(release: &Release) -> Self {
        let terms_of = |terms: &[(_, i64)]| -> Vec<(usize, i64)> {
            terms
                .iter()
                .map(|(cell, weight): &(super::super::release::CellId, i64)| (cell.0, *weight))
                .collect()
        };
        let said = release.statements.iter().map(|statement| match &statement.says {
            Says::Sum { terms, allowed } => Rule::Sum { terms: terms_of(terms), allowed: allowed.clone() },
            Says::Ways { part, whole, ways } => {
                Rule::Ways { part: part.0, whole: whole.0, ways: ways.clone() }
            }
        });
        let known = |link: &&Link| link.within == Within::Group || release.holds_everywhere(**link);
        let held = release.links.iter().filter(known);
        let held = held.map(|link| Rule::Holds { terms: [(link.whole.0, 1), (link.part.0, -1)] });
        let rules: Vec<Rule> = said.chain(held).collect();
        let mut touching = vec![Vec::new(); release.cells.len()];
        for (number, rule) in rules.iter().enumerate() {
            for (cell, weight) in rule.terms() {
                touching[cell].push((number, weight));
            }
        }
        let as_count = |count: &u64| i64::try_from(*count).unwrap_or(i64::MAX);
        Self {
            rules,
            touching,
            truth: release.cells.iter().map(|cell| as_count(&cell.count())).collect(),
            by_centre: release
                .cells
                .iter()
                .map(|cell| cell.by_centre.iter().map(as_count).collect())
                .collect(),
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

    /// Whether another world, given by what differs, agrees with what a seat knows of its own cases.
    /// What is published holds in it already.
    pub(super) fn is_open_to(&self, seat: &[usize], differs: &[(usize, i64)]) -> bool {
        let value = |cell: usize| {
            differs.iter().find(|(other, _)| *other == cell).map_or(self.truth[cell], |(_, value)| *value)
        };
        let rest = |cell: usize| value(cell) - self.own(seat, cell);
        differs.iter().all(|(cell, value)| {
            let holds = |(rule, _): &(usize, i64)| match &self.rules[*rule] {
                Rule::Holds { terms } => {
                    terms.iter().map(|(cell, weight)| weight * rest(*cell)).sum::<i64>() >= 0
                }
                Rule::Sum { .. } | Rule::Ways { .. } => true,
            };
            *value >= self.own(seat, *cell)
                && !self.is_own(seat, *cell)
                && self.touching[*cell].iter().all(holds)
        })
    }

    /// Whether another world agrees with everything published. Looks at each statement
    /// itself and trusts nothing of the search that proposed the world.
    pub(super) fn agrees(&self, differs: &[(usize, i64)]) -> bool {
        let value = |cell: usize| {
            differs.iter().find(|(other, _)| *other == cell).map_or(self.truth[cell], |(_, value)| *value)
        };
        let keeps = |(rule, _): &(usize, i64)| match &self.rules[*rule] {
            Rule::Sum { terms, allowed } => {
                allowed.contains(terms.iter().map(|(cell, weight)| weight * value(*cell)).sum())
            }
            Rule::Holds { terms } => {
                terms.iter().map(|(cell, weight)| weight * value(*cell)).sum::<i64>() >= 0
            }
            Rule::Ways { part, whole, ways } => {
                let way = ways.binary_search_by_key(&value(*whole), |(number, _)| *number);
                way.is_ok_and(|way| ways[way].1.contains(value(*part)))
            }
        };
        differs.iter().all(|(cell, value)| *value >= 0 && self.touching[*cell].iter().all(keeps))
    }
}
