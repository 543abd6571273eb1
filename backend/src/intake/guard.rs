//! Free text as a cell that no spreadsheet takes for a formula, and back. Whoever opens a
//! file of cases must not run what somebody wrote into a remark.
//!
//! An apostrophe is put before what a spreadsheet would calculate or this intake would take
//! for something else, and taken away again on the way in. Text that has the apostrophe
//! already gets another, so that every text comes back as it was.

use super::labels::is_missing_label;

/// What a formula can begin with, also in the wide letters of East Asian keyboards.
const BEGINS_FORMULA: [char; 10] = ['=', '+', '-', '@', '\t', '\r', '＝', '＋', '－', '＠'];
/// Where a cell begins for a spreadsheet that expects another separator than ours.
const SEPARATORS: [char; 3] = [',', ';', '\t'];
const GUARD: char = '\'';

/// The text as it is written into a cell.
pub(crate) fn guarded(text: &str) -> String {
    let mut cell = String::with_capacity(text.len() + 1);
    for part in text.split_inclusive(SEPARATORS) {
        if is_taken_wrongly(part) {
            cell.push(GUARD);
        }
        cell.push_str(part);
    }
    cell
}

/// The text that was written into a cell.
pub(super) fn unguarded(cell: &str) -> String {
    let part = |part| match str::strip_prefix(part, GUARD) {
        Some(rest) if is_taken_wrongly(part) => rest,
        _ => part,
    };
    cell.split_inclusive(SEPARATORS).map(part).collect()
}

/// Whether a part of a text begins a formula or is a label, whatever guards stand before.
fn is_taken_wrongly(part: &str) -> bool {
    let bare = part.trim_start_matches(GUARD);
    bare.starts_with(BEGINS_FORMULA) || is_missing_label(bare)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_that_begins_a_formula_stays_at_the_beginning() {
        for (text, cell) in [
            ("=1+1", "'=1+1"),
            ("-5 mmHg", "'-5 mmHg"),
            ("'=1", "''=1"),
            ("a;=1,@b", "a;'=1,'@b"),
            ("＝1", "'＝1"),
            ("Not done", "'Not done"),
            ("'twas calm; all well", "'twas calm; all well"),
            ("a = b", "a = b"),
            ("", ""),
        ] {
            assert_eq!(guarded(text), cell);
            assert_eq!(unguarded(cell), text);
        }
    }
}
