//! Tables of counts for the public: which counts may be shown so that no small
//! group can be worked out, and a check that does not trust that choice.

mod attack;
mod check;
mod order;
mod profile;
mod release;
mod showing;
mod table;

pub use attack::{AttackError, Held, Learnt, Refused, Row, Seat, attack, exact_range};
pub use check::{Check, Secret, reach};
pub use profile::{NetworkTier, Profile, ProfileError};
pub use release::{CellId, Release, Source, Values, Way, percent, wilson};
use showing::Wish;
use std::collections::BTreeSet;
pub use table::{Grid, Mask, Meaning, Table, TableError, Tables};

/// Chooses what to show so that no small count of the tables can be worked out from it.
///
/// Formula: everything starts hidden; counts are shown in the order in which readers want them,
/// equal ones together, each with whatever it gives away, and only if that may be shown and the
/// check still holds everything hidden in a range as wide as the profile demands. What was refused
/// once stays refused, because every further count shown only narrows what is hidden.
/// Units: counts of cases.
/// Edges: where nothing can be shown safely, nothing is.
/// Source: [cms_cell_size2024], [hundepool2012].
/// Checked: tests/study/disclosure.rs, by exhaustive search.
pub fn protect(tables: &Tables, profile: Profile) -> Mask {
    let check = Check::new(tables, profile);
    let wishes = showing::wishes(tables, profile);
    let harmless: BTreeSet<(usize, usize)> = wishes.iter().flatten().copied().collect();
    let mut mask = Mask::everything(tables);
    for wish in &wishes {
        if let Some(bolder) = grant(&check, &harmless, &mask, wish) {
            mask = bolder;
        }
    }
    mask
}

/// Shows what is wished and, with it, whatever harmless it gives away; nothing
/// if it gives away anything else.
fn grant(check: &Check, harmless: &BTreeSet<(usize, usize)>, mask: &Mask, wish: &Wish) -> Option<Mask> {
    let mut bolder = mask.clone();
    let mut showing: Wish =
        wish.iter().copied().filter(|(table, place)| mask.hides(*table, *place)).collect();
    while !showing.is_empty() {
        showing.iter().for_each(|(table, place)| bolder.show(*table, *place));
        let given_away = |secret: Secret| {
            let count = (secret.table, secret.place);
            (secret.rest_of.is_none() && harmless.contains(&count)).then_some(count)
        };
        showing = check.narrow(&bolder).map(given_away).collect::<Option<_>>()?;
    }
    Some(bolder)
}
