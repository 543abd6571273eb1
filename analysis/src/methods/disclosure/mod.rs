//! Tables of counts for the public: which counts must be hidden so that no
//! small group can be worked out, and a check that does not trust the hiding.

mod check;
mod hiding;
mod order;
mod table;

pub use check::{Secret, reach, weak_secrets};
pub use table::{Grid, Mask, Meaning, Profile, Table, TableError, Tables};

use hiding::{close_lines, hide_more, must_hide};

/// Chooses what to hide so that no small count of the tables can be worked out from the rest.
///
/// Formula: hide every count that the profile forbids; in each line with one hidden count hide a
/// second; then let the check look for secrets that the published numbers hold in too narrow a
/// range, and hide more beside those until it finds none. Equal candidates are hidden together.
/// Units: counts of cases.
/// Edges: in the end everything may be hidden; nothing is ever published that the check refuses.
/// Source: [cms_cell_size2024], [hundepool2012].
/// Checked: tests/study/disclosure.rs, by exhaustive search.
pub fn protect(tables: &Tables, profile: Profile) -> Mask {
    let mut mask = must_hide(tables, profile);
    loop {
        close_lines(tables, &mut mask);
        let weak = weak_secrets(tables, &mask, profile);
        if weak.is_empty() || !hide_more(tables, &mut mask, &weak) {
            return mask;
        }
    }
}
