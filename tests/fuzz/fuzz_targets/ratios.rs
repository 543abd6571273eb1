#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::exact_odds_ratio::exact_conditional_interval;
use quietbeam_analysis::methods::odds_ratio::{
    haldane_interval, miettinen_nurminen_odds_ratio_interval, odds_ratio_score_interval, woolf_interval,
};
use quietbeam_analysis::methods::ratio::{
    farrington_manning_ratio_test, katz_interval, koopman_interval, miettinen_nurminen_ratio_interval,
    miettinen_nurminen_ratio_test, wald_linear_ratio_test, wald_log_ratio_test,
};
use quietbeam_fuzz::{Source, maybe, ratio, test};

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let (arms, level, null) = (source.arms(u32::MAX), source.level(), source.null_ratio());
    maybe(katz_interval(arms, level), ratio);
    ratio(koopman_interval(arms, level));
    ratio(miettinen_nurminen_ratio_interval(arms, level));
    maybe(woolf_interval(arms, level), ratio);
    ratio(haldane_interval(arms, level));
    ratio(odds_ratio_score_interval(arms, level));
    ratio(miettinen_nurminen_odds_ratio_interval(arms, level));
    test(farrington_manning_ratio_test(arms, null));
    test(miettinen_nurminen_ratio_test(arms, null));
    maybe(wald_log_ratio_test(arms, null), test);
    maybe(wald_linear_ratio_test(arms, null), test);
    // Its time grows with the events.
    ratio(exact_conditional_interval(source.arms(10_000), level));
});
