#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::interval::Interval;
use quietbeam_analysis::methods::proportion::{
    clopper_pearson_interval, jeffreys_interval, mid_p_interval, wilson_corrected_interval, wilson_interval,
};
use quietbeam_analysis::methods::proportion_simple::{agresti_coull_interval, rule_of_three, wald_interval};
use quietbeam_fuzz::{Source, interval, number};

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let (count, level) = (source.count(u32::MAX), source.level());
    let within = |found: Interval| {
        interval(found);
        assert!(0.0 <= found.lower && found.upper <= 1.0, "{found:?}");
        assert!(found.lower <= found.estimate && found.estimate <= found.upper, "{found:?}");
    };
    within(wilson_interval(count, level));
    within(wilson_corrected_interval(count, level));
    within(clopper_pearson_interval(count, level));
    within(mid_p_interval(count, level));
    interval(jeffreys_interval(count, level));
    interval(agresti_coull_interval(count, level));
    interval(wald_interval(count, level));
    number(rule_of_three(count.total().try_into().unwrap()));
});
