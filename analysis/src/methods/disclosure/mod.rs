//! Tables of counts for the public: which counts may be shown so that no small
//! group can be worked out, and an attack that does not trust that choice.

mod attack;
mod check;
mod display;
mod order;
mod profile;
mod release;
mod showing;
mod table;

pub use attack::{
    AttackError, Held, Known, Learnt, Range, Refused, Row, Seat, attack, attack_to_hide, exact_range,
    no_narrower, surely_lost,
};
pub use check::{Check, Secret, reach};
pub use display::{Display, finest};
pub use profile::{NetworkTier, Profile};
pub use release::{CellId, Release, Source, Values, Way, percent, wilson};
use showing::Wish;
use std::collections::BTreeSet;
pub use table::{Grid, Mask, Meaning, Table, TableError, Tables};

/// Chooses what to show so that no small count of the tables can be worked out from it, by
/// an outsider or by centres that know their own counts.
///
/// Formula: everything starts hidden; counts are shown in the order in which readers want them,
/// equal ones together, each with whatever it gives away, and only if that may be shown and the
/// check still holds everything hidden in a range as wide as the profile demands. What was refused
/// once stays refused, because every further count shown only narrows what is hidden. What is
/// `withheld` is not shown whatever its count.
/// Units: counts of cases.
/// Edges: where nothing can be shown safely, nothing is.
/// Source: [cms_cell_size2024], [hundepool2012].
/// Checked: tests/study/disclosure.rs, by exhaustive search; tests/disclosure/hiding.rs, by the attack.
pub fn protect(tables: &Tables, profile: Profile, withheld: &BTreeSet<(usize, usize)>) -> Mask {
    let mut check = Check::new(tables, profile);
    let mut mask = Mask::everything(tables);
    let wishes = showing::wishes(tables, profile, withheld);
    let harmless: BTreeSet<(usize, usize)> = wishes.iter().flatten().copied().collect();
    for wish in &wishes {
        if let Some(bolder) = grant(&mut check, &harmless, &mask, wish) {
            mask = bolder;
        }
    }
    mask
}

/// Shows what is wished and, with it, whatever harmless it gives away; nothing
/// if it gives away anything else.
fn grant(check: &mut Check, harmless: &BTreeSet<(usize, usize)>, mask: &Mask, wish: &Wish) -> Option<Mask> {
    let mut bolder = mask.clone();
    let mut showing: Wish =
        wish.iter().copied().filter(|(table, place)| mask.hides(*table, *place)).collect();
    while !showing.is_empty() {
        showing.iter().for_each(|(table, place)| bolder.show(*table, *place));
        let given_away = |secret: &Secret| {
            let count = (secret.table, secret.place);
            (secret.rest_of.is_none() && harmless.contains(&count)).then_some(count)
        };
        showing = check.narrow(&bolder).iter().map(given_away).collect::<Option<_>>()?;
    }
    Some(bolder)
}
