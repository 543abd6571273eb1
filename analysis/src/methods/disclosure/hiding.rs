//! What to hide: first what the profile forbids, then what would give it away.

use super::check::Secret;
use super::table::{Mask, Meaning, Profile, Tables};

/// Hides what may not be shown for its own sake.
pub(super) fn must_hide(tables: &Tables, profile: Profile) -> Mask {
    let mut mask = Mask::nothing(tables);
    for (table, place) in tables.everywhere() {
        if forbidden(tables, profile, table, place) {
            mask.hide(table, place);
        }
    }
    mask
}

fn forbidden(tables: &Tables, profile: Profile, table: usize, place: usize) -> bool {
    let own = &tables.tables[table];
    let count = own.counts[place];
    let of_few_centres = count > 0 && own.centres[place] < profile.least_centres;
    let gives_away = |whole: &usize| {
        let all = tables.tables[*whole].counts[place];
        let tells_of_everyone = match own.meaning {
            Meaning::Adverse => all > 0 && count == all,
            Meaning::Wanted => all > 0 && count == 0,
            Meaning::Cases | Meaning::Neutral => false,
        };
        profile.small(all - count) || tells_of_everyone
    };
    profile.small(count) || of_few_centres || own.within.iter().any(gives_away)
}

/// In every line with one hidden count, which its total would give away, hides a second.
pub(super) fn close_lines(tables: &Tables, mask: &mut Mask) {
    loop {
        let mut chosen = Vec::new();
        for table in 0..tables.tables.len() {
            for line in tables.grid.lines() {
                let hidden = line.iter().filter(|place| mask.hides(table, **place)).count();
                if hidden == 1 {
                    chosen
                        .extend(cheapest(tables, mask, table, &line).into_iter().map(|place| (table, place)));
                }
            }
        }
        if chosen.is_empty() {
            return;
        }
        for (table, place) in chosen {
            mask.hide(table, place);
        }
    }
}

/// Hides more beside the secrets that are held most narrowly. False when nothing is left to hide.
pub(super) fn hide_more(tables: &Tables, mask: &mut Mask, weak: &[Secret]) -> bool {
    let size = |secret: &Secret| secret.value(tables);
    let Some(smallest) = weak.iter().map(size).min() else {
        return false;
    };
    let mut chosen = Vec::new();
    for secret in weak.iter().filter(|secret| size(secret) == smallest) {
        chosen.extend(beside(tables, mask, *secret));
    }
    if chosen.is_empty() {
        chosen = tables.everywhere().filter(|(table, place)| !mask.hides(*table, *place)).collect();
    }
    for (table, place) in &chosen {
        mask.hide(*table, *place);
    }
    !chosen.is_empty()
}

/// Candidates beside a secret: in its own lines, then the group it is part of,
/// then the lines of that group, then anywhere in its table.
fn beside(tables: &Tables, mask: &Mask, secret: Secret) -> Vec<(usize, usize)> {
    let Secret { table, place, .. } = secret;
    if !mask.hides(table, place) {
        return vec![(table, place)];
    }
    let crossing = tables.grid.lines_of(place).concat();
    let wholes = &tables.tables[table].within;
    let in_table = |table: usize, places: &[usize]| -> Vec<(usize, usize)> {
        cheapest(tables, mask, table, places).into_iter().map(|place| (table, place)).collect()
    };
    let own_lines = in_table(table, &crossing);
    if !own_lines.is_empty() {
        return own_lines;
    }
    let groups: Vec<_> =
        wholes.iter().map(|whole| (*whole, place)).filter(|(t, p)| !mask.hides(*t, *p)).collect();
    if !groups.is_empty() {
        return groups;
    }
    let group_lines: Vec<_> = wholes.iter().flat_map(|whole| in_table(*whole, &crossing)).collect();
    if !group_lines.is_empty() {
        return group_lines;
    }
    let all: Vec<usize> = (0..tables.grid.cells()).collect();
    in_table(table, &all)
}

/// The shown places among some that cost the reader least. Equal ones are
/// hidden together, so that the order of rows and columns decides nothing.
fn cheapest(tables: &Tables, mask: &Mask, table: usize, places: &[usize]) -> Vec<usize> {
    let cost = |place: usize| {
        let count = tables.tables[table].counts[place];
        let lines = tables.grid.lines_of(place);
        let closes = lines
            .iter()
            .filter(|line| line.iter().any(|other| *other != place && mask.hides(table, *other)))
            .count();
        // Zeros protect badly under a small total, totals are what readers want
        // most, and a place whose both lines hide something already needs no third.
        (count == 0, tables.grid.depth_of_total(place), 2 - closes, count)
    };
    let shown = || places.iter().copied().filter(|place| !mask.hides(table, *place));
    let least = shown().map(cost).min();
    shown().filter(|place| Some(cost(*place)) == least).collect()
}
