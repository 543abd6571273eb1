#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_fuzz::{PARTS, intake_laws, workbook};

// The first byte says which part of the workbook the rest is; beyond the parts, the rest is the
// workbook itself.
fuzz_target!(|bytes: &[u8]| {
    let Some((part, rest)) = bytes.split_first() else { return };
    match usize::from(part % 16) {
        part if part < PARTS.len() => intake_laws::workbook(&workbook(part, rest)),
        _ => intake_laws::workbook(rest),
    }
});
