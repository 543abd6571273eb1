#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::difference::{
    agresti_caffo_interval, newcombe_corrected_interval, newcombe_interval, wald_difference_interval,
};
use quietbeam_analysis::methods::interval::Interval;
use quietbeam_analysis::methods::score::{
    farrington_manning_test, mee_interval, miettinen_nurminen_interval, miettinen_nurminen_test,
    proportions_under_difference, wald_difference_test,
};
use quietbeam_fuzz::{Source, interval, maybe, test};

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let (arms, level, null) = (source.arms(u32::MAX), source.level(), source.null_difference());
    let within = |found: Interval| {
        interval(found);
        assert!(-1.0 - 1e-12 <= found.lower && found.upper <= 1.0 + 1e-12, "{found:?}");
        assert!(found.lower <= found.estimate && found.estimate <= found.upper, "{found:?}");
    };
    within(miettinen_nurminen_interval(arms, level));
    within(mee_interval(arms, level));
    within(newcombe_interval(arms, level));
    within(newcombe_corrected_interval(arms, level));
    interval(agresti_caffo_interval(arms, level));
    interval(wald_difference_interval(arms, level));
    test(farrington_manning_test(arms, null));
    test(miettinen_nurminen_test(arms, null));
    maybe(wald_difference_test(arms, null), test);
    let (a, b) = proportions_under_difference(arms, null);
    assert!((0.0..=1.0).contains(&a) && (0.0..=1.0).contains(&b), "{a} {b}");
});
