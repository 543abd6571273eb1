//! Tables of counts for the public: which counts may be shown so that no small
//! group can be worked out, and a check that does not trust that choice.

mod check;
mod order;
mod showing;
mod table;

pub use check::{Check, Secret, reach};
pub use table::{Grid, Mask, Meaning, Profile, Table, TableError, Tables};

/// Chooses what to show so that no small count of the tables can be worked out from it.
///
/// Formula: everything starts hidden; counts are shown in the order in which readers want them,
/// equal ones together, each only if the check still holds every secret in a range as wide as the
/// profile demands; this is repeated until nothing more can be shown.
/// Units: counts of cases.
/// Edges: where nothing can be shown safely, nothing is.
/// Source: [cms_cell_size2024], [hundepool2012].
/// Checked: tests/study/disclosure.rs, by exhaustive search.
pub fn protect(tables: &Tables, profile: Profile) -> Mask {
    let check = Check::new(tables, profile);
    let mut mask = Mask::everything(tables);
    let mut waiting = showing::wishes(tables, profile);
    loop {
        let before = waiting.len();
        waiting.retain(|wish| {
            let mut bolder = mask.clone();
            wish.iter().for_each(|(table, place)| bolder.show(*table, *place));
            let holds = check.holds(&bolder);
            if holds {
                mask = bolder;
            }
            !holds
        });
        if waiting.len() == before {
            return mask;
        }
    }
}
