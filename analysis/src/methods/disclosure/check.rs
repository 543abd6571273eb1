//! The check, apart from the hiding: it looks at what is published the way an
//! outsider with pencil and patience would, and shares no code with the choice.

use super::order::Ordered;
use super::profile::Profile;
use super::table::{Mask, Meaning, Tables};
use std::collections::VecDeque;

/// A number that nobody outside may work out: a hidden count, or what a count
/// leaves of the group it is part of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Secret {
    /// The table.
    pub table: usize,
    /// The place in it.
    pub place: usize,
    /// The table of the group, where the secret is the rest of that group.
    pub rest_of: Option<usize>,
}

impl Secret {
    /// The secret itself.
    pub fn value(self, tables: &Tables) -> u64 {
        self.in_world(&World::true_one(tables))
    }

    /// Whether everything that makes it up is shown.
    fn is_told(self, mask: &Mask) -> bool {
        let shown = |table: usize| !mask.hides(table, self.place);
        shown(self.table) && self.rest_of.is_none_or(shown)
    }

    fn in_world(self, world: &World) -> u64 {
        let count = world.counts[self.table][self.place];
        self.rest_of.map_or(count, |whole| world.counts[whole][self.place] - count)
    }
}

/// One way in which the hidden counts could be, in agreement with everything shown.
#[derive(Clone)]
struct World {
    counts: Vec<Vec<u64>>,
}

impl World {
    fn true_one(tables: &Tables) -> Self {
        Self { counts: tables.tables.iter().map(|table| table.counts.clone()).collect() }
    }
}

/// Knows the secrets of some tables and judges what is shown of them.
pub struct Check {
    ordered: Ordered,
    secrets: Vec<Secret>,
    /// Every count that is none of the secrets.
    others: Vec<Secret>,
    profile: Profile,
}

impl Check {
    /// Finds every number that a profile forbids to be worked out.
    pub fn new(tables: &Tables, profile: Profile) -> Self {
        let ordered = Ordered::of(tables);
        let secrets = secrets(&ordered.tables, profile);
        let counts = ordered.tables.everywhere().map(|(table, place)| Secret { table, place, rest_of: None });
        let others = counts.filter(|count| !secrets.contains(count)).collect();
        Self { ordered, secrets, others, profile }
    }

    /// Whether nothing is held too narrowly.
    pub fn holds(&self, mask: &Mask) -> bool {
        self.narrow(mask).next().is_none()
    }

    /// Every secret that is told or held too narrowly, and every other hidden count held too narrowly:
    /// whoever knows the rules would conclude that it is no secret, and subtract it.
    ///
    /// Formula: a secret may not be shown; whatever is hidden must be able to reach the threshold and
    /// to vary by the least width, in tables that agree with everything shown.
    /// Units: counts of cases.
    /// Edges: where everything is hidden, nothing is narrow.
    /// Source: [cms_cell_size2024].
    /// Checked: tests/study/disclosure.rs, by exhaustive search.
    pub fn narrow(&self, mask: &Mask) -> impl Iterator<Item = Secret> {
        let mask = self.ordered.take(mask);
        let secrets = self.secrets.iter().map(|secret| (*secret, false));
        let others = self.others.iter().map(|count| (*count, true));
        let held = move |(secret, may_be_told): &(Secret, bool)| {
            if secret.is_told(&mask) { *may_be_told } else { self.is_wide(*secret, &mask) }
        };
        secrets
            .chain(others)
            .filter(move |guarded| !held(guarded))
            .map(|(secret, _)| Secret { place: self.ordered.came_from(secret.place), ..secret })
    }

    fn is_wide(&self, secret: Secret, mask: &Mask) -> bool {
        Attack { tables: &self.ordered.tables, mask }.is_wide(secret, self.profile)
    }
}

/// The lowest and the highest value a secret is found to be able to have, looking no higher than `limit`.
///
/// Formula: from the true tables, counts are moved one by one around closed cycles of hidden cells,
/// in which every line keeps its sum, no count falls below zero or below its parts, and none exceeds
/// its whole. Both ends are complete tables that agree with everything shown, so an outsider
/// cannot exclude them.
/// Units: counts of cases.
/// Edges: in a single table the range is exact (a flow on a network has whole-numbered extremes);
/// over tables that are parts of each other it may be wider still, never narrower.
/// Source: [hundepool2012].
/// Checked: tests/study/disclosure.rs, by exhaustive search.
pub fn reach(tables: &Tables, mask: &Mask, secret: Secret, limit: u64) -> (u64, u64) {
    let attack = Attack { tables, mask };
    let farthest = |up: bool| {
        let mut world = World::true_one(tables);
        while (!up || secret.in_world(&world) < limit) && attack.shift_secret(&mut world, secret, up) {}
        secret.in_world(&world)
    };
    (farthest(false), farthest(true))
}

/// Every count that is small, of few centres, or tells of everyone in its group,
/// and every rest of a group that is small or, where the count is something bad, nobody.
fn secrets(tables: &Tables, profile: Profile) -> Vec<Secret> {
    let small = |number: u64| number > 0 && number < profile.threshold;
    let mut secrets = Vec::new();
    for (table, own) in tables.tables.iter().enumerate() {
        for (place, (&count, &centres)) in own.counts.iter().zip(&own.centres).enumerate() {
            let of = |whole: usize| tables.tables[whole].counts[place];
            let all_failed =
                own.meaning == Meaning::Wanted && count == 0 && own.within.iter().any(|whole| of(*whole) > 0);
            if small(count) || all_failed || (count > 0 && centres < profile.least_centres) {
                secrets.push(Secret { table, place, rest_of: None });
            }
            for &whole in &own.within {
                let rest = of(whole) - count;
                let all_harmed = own.meaning == Meaning::Adverse && rest == 0 && count > 0;
                if small(rest) || all_harmed {
                    secrets.push(Secret { table, place, rest_of: Some(whole) });
                }
            }
        }
    }
    secrets
}

struct Attack<'a> {
    tables: &'a Tables,
    mask: &'a Mask,
}

impl Attack<'_> {
    /// Whether a secret can be as high as the threshold and varies by the least width.
    fn is_wide(&self, secret: Secret, profile: Profile) -> bool {
        let truth = secret.value(self.tables);
        let wanted = profile.threshold.max(truth + profile.least_width);
        let mut world = World::true_one(self.tables);
        while secret.in_world(&world) < wanted && self.shift_secret(&mut world, secret, true) {}
        let highest = secret.in_world(&world);
        if highest < profile.threshold || highest - truth >= profile.least_width {
            return highest >= profile.threshold;
        }
        let mut world = World::true_one(self.tables);
        while highest - secret.in_world(&world) < profile.least_width {
            if !self.shift_secret(&mut world, secret, false) {
                return false;
            }
        }
        true
    }

    /// Moves a secret by one. The rest of a group grows when the group grows or its part shrinks.
    fn shift_secret(&self, world: &mut World, secret: Secret, up: bool) -> bool {
        let Secret { table, place, rest_of } = secret;
        match rest_of {
            None => self.shift_count(world, table, place, up),
            Some(whole) if up => {
                self.shift_count(world, whole, place, true) || self.shift(world, &[table], place, false)
            }
            Some(whole) => {
                self.shift(world, &[whole], place, false) || self.shift(world, &[table], place, true)
            }
        }
    }

    /// Moves a count by one: alone, together with the groups it is part of, or
    /// after making room in them.
    fn shift_count(&self, world: &mut World, table: usize, place: usize, up: bool) -> bool {
        if self.shift(world, &[table], place, up) {
            return true;
        }
        let wholes = &self.tables.tables[table].within;
        let parts: Vec<usize> = (0..self.tables.tables.len())
            .filter(|part| self.tables.tables[*part].within.contains(&table))
            .collect();
        let companions = if up { wholes } else { &parts };
        if companions.is_empty() {
            return false;
        }
        let together: Vec<usize> = companions.iter().copied().chain([table]).collect();
        if self.shift(world, &together, place, up) {
            return true;
        }
        let before = world.clone();
        for companion in companions {
            let in_the_way = match up {
                true => world.counts[*companion][place] <= world.counts[table][place],
                false => world.counts[*companion][place] >= world.counts[table][place],
            };
            if in_the_way && !self.shift_count(world, *companion, place, up) {
                *world = before;
                return false;
            }
        }
        let moved = self.shift(world, &[table], place, up);
        if !moved {
            *world = before;
        }
        moved
    }

    /// Moves the count at a place by one in all the given tables alike, around
    /// the shortest cycle of cells that can give way.
    fn shift(&self, world: &mut World, moving: &[usize], place: usize, up: bool) -> bool {
        let Some(cycle) = self.cycle(world, moving, place, up) else {
            return false;
        };
        for (place, up) in cycle {
            for table in moving {
                let count = &mut world.counts[*table][place];
                *count = if up { *count + 1 } else { *count - 1 };
            }
        }
        true
    }

    /// Whether a cell may move by one in all the given tables.
    fn can_move(&self, world: &World, moving: &[usize], place: usize, up: bool) -> bool {
        moving.iter().all(|&table| {
            if !self.mask.hides(table, place) {
                return false;
            }
            let count = world.counts[table][place];
            let apart = |other: &usize| !moving.contains(other);
            if up {
                let wholes = &self.tables.tables[table].within;
                wholes.iter().filter(|whole| apart(whole)).all(|whole| count < world.counts[*whole][place])
            } else {
                let held = (0..self.tables.tables.len())
                    .filter(|part| apart(part) && self.tables.tables[*part].within.contains(&table))
                    .any(|part| world.counts[part][place] >= count);
                count > 0 && !held
            }
        })
    }

    /// A closed cycle through a cell along which every line keeps its sum.
    ///
    /// Rows and columns are nodes and cells are edges; a total counts against
    /// its line, so there an increase has the other sign. The search starts at
    /// the cell's column and ends at its row, with signs that alternate.
    fn cycle(&self, world: &World, moving: &[usize], start: usize, up: bool) -> Option<Vec<(usize, bool)>> {
        let grid = self.tables.grid;
        let (home, from) = grid.row_and_column(start);
        let is_total = |place: usize| {
            let (row, column) = grid.row_and_column(place);
            (row + 1 == grid.height()) != (column + 1 == grid.width())
        };
        if !self.can_move(world, moving, start, up) {
            return None;
        }
        let sign = up != is_total(start);
        let height = grid.height();
        let start_node = height + from;
        let mut came_by: Vec<Option<(usize, usize, bool)>> = vec![None; height + grid.width()];
        let mut waiting = VecDeque::from([start_node]);
        while let Some(node) = waiting.pop_front() {
            let is_column = node >= height;
            let sign = sign != is_column;
            for line in 0..if is_column { height } else { grid.width() } {
                let (next, place) = match is_column {
                    true => (line, grid.place(line, node - height)),
                    false => (height + line, grid.place(node, line)),
                };
                let up = sign != is_total(place);
                let seen = came_by[next].is_some() || next == start_node;
                if seen || place == start || !self.can_move(world, moving, place, up) {
                    continue;
                }
                came_by[next] = Some((node, place, up));
                if next != home {
                    waiting.push_back(next);
                }
            }
            if came_by[home].is_some() {
                break;
            }
        }
        came_by[home]?;
        let mut cycle = vec![(start, up)];
        let mut node = home;
        while let Some((before, place, up)) = came_by[node] {
            cycle.push((place, up));
            node = before;
        }
        Some(cycle)
    }
}
