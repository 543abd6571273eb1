//! The check by which the hiding feels its way: it looks at what is published the way
//! somebody with pencil and patience would, in one release and in tables of one shape. It is
//! quick and not the last word: the attack is.

use super::order::Ordered;
use super::profile::Profile;
use super::table::{Mask, Meaning, Tables};
use std::collections::{BTreeSet, VecDeque};

/// A number that nobody outside may work out: a hidden count, or what a count
/// leaves of the group it is part of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
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

    /// The cells whose counts are not the true ones.
    fn differs(&self, tables: &Tables) -> Vec<(usize, usize)> {
        let other = |(table, place): &(usize, usize)| {
            self.counts[*table][*place] != tables.tables[*table].counts[*place]
        };
        tables.everywhere().filter(other).collect()
    }
}

/// A number with what its seat knows of it, and where the range was last found wide.
struct Guarded {
    number: Secret,
    /// What the seat's centres contribute.
    own: u64,
    /// Hidden for another's sake: it may be shown, but not be hidden narrowly.
    may_be_told: bool,
    /// The cells, as they were given, that differ from the truth in the worlds that make it wide.
    /// As long as all of them are hidden, those worlds agree with everything shown.
    differs: Option<Vec<(usize, usize)>>,
}

/// What the others contribute, as one seat looks at it.
struct View {
    ordered: Ordered,
    guarded: Vec<Guarded>,
}

/// Knows the secrets of some tables and judges what is shown of them.
pub struct Check {
    views: Vec<View>,
    profile: Profile,
}

impl Check {
    /// Finds every number that a profile forbids to be worked out, and who might.
    pub fn new(tables: &Tables, profile: Profile) -> Self {
        let secrets = secrets(tables, profile);
        let centres = tables.tables.first().map_or(0, |table| table.by_centre.len());
        let pairs = (0..centres).flat_map(|one| (one + 1..centres).map(move |other| vec![one, other]));
        let seats = [vec![]].into_iter().chain((0..centres).map(|one| vec![one])).chain(pairs);
        let seats = seats.filter(|seat| seat.len() <= profile.coalition as usize);
        Self { views: seats.map(|seat| view(tables, &secrets, &seat)).collect(), profile }
    }

    /// Whether nothing is held too narrowly.
    pub fn holds(&mut self, mask: &Mask) -> bool {
        self.narrow(mask).is_empty()
    }

    /// Every secret that is told or held too narrowly for some seat, and every other hidden count held
    /// too narrowly for an outsider: whoever knows the rules would conclude that it is no secret, and
    /// subtract it.
    ///
    /// Formula: a secret may not be shown; whatever is hidden must be able to reach the threshold and
    /// to vary by the least width, in tables that agree with everything shown and with the seat's own
    /// counts. A centre looks at the tables without its own counts as an outsider looks at the whole.
    /// Units: counts of cases.
    /// Edges: where everything is hidden, nothing is narrow for an outsider.
    /// Source: [cms_cell_size2024].
    /// Checked: tests/study/disclosure.rs, by exhaustive search; tests/disclosure/hiding.rs, by the attack.
    pub fn narrow(&mut self, mask: &Mask) -> BTreeSet<Secret> {
        let mut narrow = BTreeSet::new();
        for view in &mut self.views {
            view.narrow(mask, self.profile, &mut narrow);
        }
        narrow
    }
}

/// What a seat must not narrow down: every secret in which others have a part; for an outsider every
/// other count too.
fn view(tables: &Tables, secrets: &[Secret], seat: &[usize]) -> View {
    let own = |table: usize, place: usize| tables.tables[table].own(seat, place);
    let of_others = |secret: &&Secret| {
        let is_own = |table: usize| own(table, secret.place) == tables.tables[table].counts[secret.place];
        seat.is_empty() || !is_own(secret.table) || secret.rest_of.is_some_and(|whole| !is_own(whole))
    };
    let guard = |number: Secret, may_be_told: bool| {
        let part = own(number.table, number.place);
        let own = number.rest_of.map_or(part, |whole| own(whole, number.place) - part);
        Guarded { number, own, may_be_told, differs: None }
    };
    let mut guarded: Vec<Guarded> =
        secrets.iter().filter(of_others).map(|secret| guard(*secret, false)).collect();
    if seat.is_empty() {
        let counts = tables.everywhere().map(|(table, place)| Secret { table, place, rest_of: None });
        guarded.extend(counts.filter(|count| !secrets.contains(count)).map(|count| guard(count, true)));
    }
    View { ordered: Ordered::of(&tables.without(seat)), guarded }
}

impl View {
    /// Adds what is told or held too narrowly here.
    fn narrow(&mut self, mask: &Mask, profile: Profile, found: &mut BTreeSet<Secret>) {
        let taken = self.ordered.take(mask);
        let attack = Attack { tables: &self.ordered.tables, mask: &taken };
        for guarded in &mut self.guarded {
            if guarded.number.is_told(mask) {
                if !guarded.may_be_told {
                    found.insert(guarded.number);
                }
                continue;
            }
            let hidden =
                |cells: &Vec<(usize, usize)>| cells.iter().all(|(table, place)| mask.hides(*table, *place));
            if guarded.differs.as_ref().is_some_and(hidden) || found.contains(&guarded.number) {
                continue;
            }
            let ordered = Secret { place: self.ordered.went_to(guarded.number.place), ..guarded.number };
            match attack.widens(ordered, guarded.own, profile) {
                Some(cells) => {
                    let given = |(table, place)| (table, self.ordered.came_from(place));
                    guarded.differs = Some(cells.into_iter().map(given).collect());
                }
                None => {
                    found.insert(guarded.number);
                }
            }
        }
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

/// Every count that is small, of few centres or dominated by one, or tells of everyone in its group,
/// and every rest of a group that is small or, where the count is something bad, nobody.
fn secrets(tables: &Tables, profile: Profile) -> Vec<Secret> {
    let small = |number: u64| number > 0 && number < profile.threshold;
    let guarded = |(table, place): &(usize, usize)| !tables.may_be_small(*table, *place, profile);
    let mut secrets = Vec::new();
    for (table, place) in tables.everywhere().filter(guarded) {
        let own = &tables.tables[table];
        let (count, centres) = (own.counts[place], own.centres[place]);
        let of = |whole: usize| tables.tables[whole].counts[place];
        let all_failed =
            own.meaning == Meaning::Wanted && count == 0 && own.within.iter().any(|whole| of(*whole) > 0);
        let few = count > 0 && (centres < profile.least_centres || own.is_dominated(place, profile));
        if small(count) || all_failed || few {
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
    secrets
}

struct Attack<'a> {
    tables: &'a Tables,
    mask: &'a Mask,
}

impl Attack<'_> {
    /// The cells that differ in worlds in which a secret is as high as the threshold and varies by
    /// the least width; nothing where it cannot. A seat adds its own to what the others have.
    fn widens(&self, secret: Secret, own: u64, profile: Profile) -> Option<Vec<(usize, usize)>> {
        let truth = secret.value(self.tables);
        let threshold = profile.threshold.saturating_sub(own);
        let wanted = threshold.max(truth + profile.least_width);
        let mut world = World::true_one(self.tables);
        while secret.in_world(&world) < wanted && self.shift_secret(&mut world, secret, true) {}
        let highest = secret.in_world(&world);
        if highest < threshold {
            return None;
        }
        let mut differs = world.differs(self.tables);
        if highest - truth < profile.least_width {
            let mut world = World::true_one(self.tables);
            while highest - secret.in_world(&world) < profile.least_width {
                if !self.shift_secret(&mut world, secret, false) {
                    return None;
                }
            }
            differs.extend(world.differs(self.tables));
        }
        Some(differs)
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
