//! The numbers that nobody may work out, and how widely each must be held.

use super::super::profile::Profile;
use super::super::release::{Cell, CellId, Link, Release, Within};
use super::super::table::Meaning;
use std::collections::BTreeMap;

/// A number that is guarded: a count, what a count leaves of its group, or what
/// was added to a count since an earlier release.
pub(super) struct Guarded {
    pub(super) name: String,
    pub(super) terms: Vec<(usize, i64)>,
    pub(super) truth: i64,
    /// A secret for its own sake; the others are hidden to protect one.
    pub(super) secret: bool,
}

/// Every guarded number of a release.
pub(super) fn guarded(release: &Release, profile: Profile) -> Vec<Guarded> {
    let rules = Rules::of(release, profile);
    let counts = (0..release.cells.len()).filter_map(|cell| rules.of_count(CellId(cell)));
    let rests = release.links.iter().filter_map(|link| rules.of_rest(*link));
    counts.chain(rests).collect()
}

struct Rules<'r> {
    release: &'r Release,
    profile: Profile,
    groups: BTreeMap<CellId, Vec<CellId>>,
    shown: Vec<bool>,
}

impl<'r> Rules<'r> {
    fn of(release: &'r Release, profile: Profile) -> Self {
        let mut groups = BTreeMap::<CellId, Vec<CellId>>::new();
        for link in release.links.iter().filter(|link| link.within == Within::Group) {
            groups.entry(link.part).or_default().push(link.whole);
        }
        let mut shown = vec![false; release.cells.len()];
        for statement in &release.statements {
            if let Some(cell) = statement.shows() {
                shown[cell.0] = true;
            }
        }
        Self { release, profile, groups, shown }
    }

    fn cell(&self, cell: CellId) -> &Cell {
        &self.release.cells[cell.0]
    }

    fn small(&self, count: u64) -> bool {
        (1..self.profile.threshold).contains(&count)
    }

    fn groups_of(&self, cell: CellId) -> &[CellId] {
        self.groups.get(&cell).map_or(&[], Vec::as_slice)
    }

    /// Whether cases, centre by centre, are enough for a small count of all of them.
    fn is_large(&self, by_centre: impl Iterator<Item = u64>) -> bool {
        let Some(tier) = self.profile.network_tier else { return false };
        let cases: Vec<u64> = by_centre.filter(|count| *count > 0).collect();
        cases.iter().sum::<u64>() >= tier.least_cases && cases.len() >= tier.least_centres as usize
    }

    /// Whether a count is one of a network large enough for it to be small.
    fn may_be_small(&self, cell: CellId) -> bool {
        let is_large = |group: &CellId| self.is_large(self.cell(*group).by_centre.iter().copied());
        self.cell(cell).of_network && self.groups_of(cell).iter().any(is_large)
    }

    /// Whether the same count of a network grew by so many cases that what was added may be small.
    fn may_grow_little(&self, link: Link) -> bool {
        let grew = |before: &CellId, now: &CellId| {
            let (before, now) = (&self.cell(*before).by_centre, &self.cell(*now).by_centre);
            self.is_large(before.iter().zip(now).map(|(before, now)| now.saturating_sub(*before)))
        };
        let both_of_network = [link.part, link.whole].iter().all(|cell| self.cell(*cell).of_network);
        let groups = self.groups_of(link.part).iter().zip(self.groups_of(link.whole));
        both_of_network && groups.into_iter().any(|(before, now)| grew(before, now))
    }

    fn of_count(&self, id: CellId) -> Option<Guarded> {
        let cell = self.cell(id);
        if cell.was_shown {
            return None;
        }
        let count = cell.count();
        let groups = self.groups_of(id);
        let nobody = cell.meaning == Meaning::Wanted && count == 0;
        let all_failed = nobody && groups.iter().any(|group| self.cell(*group).count() > 0);
        let one_sided = count > 0 && (self.of_few(cell) || self.is_dominated(cell));
        let secret = (self.small(count) || all_failed || one_sided) && !self.may_be_small(id);
        let guards = secret || !self.shown[id.0] && !cell.never_told;
        guards.then(|| Guarded {
            name: cell.name.clone(),
            terms: vec![(id.0, 1)],
            truth: self.release.truth(id),
            secret,
        })
    }

    /// Fewer centres than may be, where the count is not one centre's column by its name.
    fn of_few(&self, cell: &Cell) -> bool {
        let centres = cell.by_centre.iter().filter(|count| **count > 0).count();
        cell.column_of.is_none() && centres < self.profile.least_centres as usize
    }

    /// Whether the second largest centre comes too near to the largest one's count.
    fn is_dominated(&self, cell: &Cell) -> bool {
        let mut largest = cell.by_centre.clone();
        largest.sort_unstable_by(|a, b| b.cmp(a));
        let (first, second) = (largest.first().copied().unwrap_or(0), largest.get(1).copied().unwrap_or(0));
        let rest = cell.count() - first - second;
        cell.column_of.is_none() && 100 * rest < self.profile.dominance * first
    }

    fn of_rest(&self, link: Link) -> Option<Guarded> {
        let (part, whole) = (self.cell(link.part), self.cell(link.whole));
        if part.was_shown && whole.was_shown {
            return None;
        }
        let rest = self.release.truth(link.whole) - self.release.truth(link.part);
        let all_harmed =
            link.within == Within::Group && part.meaning == Meaning::Adverse && rest == 0 && part.count() > 0;
        let exempt = match link.within {
            Within::Group => self.may_be_small(link.part),
            Within::Earlier => self.may_grow_little(link),
        };
        let secret = (self.small(rest.unsigned_abs()) || all_harmed) && !exempt;
        let name = match link.within {
            Within::Group => format!("{} without {}", whole.name, part.name),
            Within::Earlier => format!("{}: what was added to {}", whole.name, part.name),
        };
        let sign = if rest < 0 { -1 } else { 1 };
        secret.then(|| Guarded {
            name,
            terms: vec![(link.whole.0, sign), (link.part.0, -sign)],
            truth: rest.abs(),
            secret,
        })
    }
}
