//! The check, apart from the hiding: it looks at what is published the way an
//! outsider with pencil and patience would, and shares no code with the choice.

use super::order::Ordered;
use super::table::{Mask, Meaning, Profile, Tables};
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

/// The lowest and the highest value a secret is found to be able to have, looking no further than `limit`.
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
        while secret.in_world(&world) < limit && attack.shift_secret(&mut world, secret, up) {}
        secret.in_world(&world)
    };
    (farthest(false), farthest(true))
}

/// The secrets that what is shown gives away, or holds in a range narrower than the profile demands.
///
/// Formula: every shown count is judged anew; every hidden count, and every small rest of a group,
/// must be able to reach the threshold and to vary by the least width.
/// Units: counts of cases.
/// Edges: nothing hidden and nothing small gives an empty list.
/// Source: [cms_cell_size2024].
/// Checked: tests/study/disclosure.rs, by exhaustive search.
pub fn weak_secrets(tables: &Tables, mask: &Mask, profile: Profile) -> Vec<Secret> {
    let ordered = Ordered::of(tables);
    let mask = &ordered.take(mask);
    let tables = &ordered.tables;
    let attack = Attack { tables, mask };
    let mut weak = Vec::new();
    for (table, own) in tables.tables.iter().enumerate() {
        for place in 0..own.counts.len() {
            let count = Secret { table, place, rest_of: None };
            if mask.hides(table, place) {
                if !attack.is_safe(count, profile) {
                    weak.push(count);
                }
            } else if attack.tells(count, profile) {
                weak.push(count);
            }
            for whole in &own.within {
                let rest = Secret { table, place, rest_of: Some(*whole) };
                let is_small = rest.value(tables) > 0 && rest.value(tables) < profile.threshold;
                if is_small && !attack.is_safe(rest, profile) {
                    weak.push(rest);
                }
            }
        }
    }
    for secret in &mut weak {
        secret.place = ordered.came_from(secret.place);
    }
    weak
}

struct Attack<'a> {
    tables: &'a Tables,
    mask: &'a Mask,
}

impl Attack<'_> {
    /// Whether a shown count may not be shown.
    fn tells(&self, secret: Secret, profile: Profile) -> bool {
        let own = &self.tables.tables[secret.table];
        let count = own.counts[secret.place];
        let everyone = own.within.iter().any(|whole| {
            let all = self.tables.tables[*whole].counts[secret.place];
            match own.meaning {
                Meaning::Adverse => count > 0 && count >= all,
                Meaning::Wanted => count == 0 && all > 0,
                _ => false,
            }
        });
        let few =
            count > 0 && (count < profile.threshold || own.centres[secret.place] < profile.least_centres);
        few || everyone
    }

    /// Whether a secret can be as high as the threshold and varies by the least width.
    fn is_safe(&self, secret: Secret, profile: Profile) -> bool {
        let truth = secret.value(self.tables);
        let wanted = profile.threshold.max(truth + profile.least_width);
        let mut world = World::true_one(self.tables);
        while secret.in_world(&world) < wanted && self.shift_secret(&mut world, secret, true) {}
        let highest = secret.in_world(&world);
        let mut world = World::true_one(self.tables);
        while highest - secret.in_world(&world) < profile.least_width
            && self.shift_secret(&mut world, secret, false)
        {}
        highest >= profile.threshold && highest - secret.in_world(&world) >= profile.least_width
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
        let column_node = |column: usize| grid.height() + column;
        let mut came_by: Vec<Option<(usize, usize, bool)>> = vec![None; grid.height() + grid.width()];
        let mut waiting = VecDeque::from([column_node(from)]);
        while let Some(node) = waiting.pop_front() {
            let (cells, sign): (Vec<(usize, usize)>, bool) = if node >= grid.height() {
                let column = node - grid.height();
                ((0..grid.height()).map(|row| (row, grid.place(row, column))).collect(), !sign)
            } else {
                ((0..grid.width()).map(|c| (column_node(c), grid.place(node, c))).collect(), sign)
            };
            for (next, place) in cells {
                let up = sign != is_total(place);
                let seen = came_by[next].is_some() || next == column_node(from);
                if place == start || seen || !self.can_move(world, moving, place, up) {
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
