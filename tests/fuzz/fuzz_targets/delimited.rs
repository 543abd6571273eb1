#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam::intake::FileKind;
use quietbeam_fuzz::intake_laws;

// The first byte says what the rows are; the rest is the file.
fuzz_target!(|bytes: &[u8]| {
    let Some((kind, file)) = bytes.split_first() else { return };
    intake_laws::delimited(FileKind::ALL[usize::from(*kind) % FileKind::ALL.len()], file);
});
