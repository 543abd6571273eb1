#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_fuzz::intake_laws;

fuzz_target!(|bytes: &[u8]| intake_laws::dose_report(bytes));
