#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::association::{
    breslow_day_tarone_test, breslow_day_test, cochran_mantel_haenszel_corrected_test,
    cochran_mantel_haenszel_test,
};
use quietbeam_analysis::methods::mantel_haenszel::{
    mantel_haenszel_difference_greenland_robins, mantel_haenszel_difference_sato, mantel_haenszel_odds_ratio,
    mantel_haenszel_risk_ratio,
};
use quietbeam_analysis::methods::stratified_newcombe::{
    stratified_newcombe_recovered_interval, stratified_newcombe_yan_su_interval, stratified_wilson_intervals,
};
use quietbeam_analysis::methods::stratified_score::{
    stratified_mee_interval, stratified_miettinen_nurminen_interval, stratified_miettinen_nurminen_test,
};
use quietbeam_fuzz::{Source, interval, maybe, number, p_value, ratio, test};

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let (level, null) = (source.level(), source.null_difference());
    let strata = source.strata(if bytes.len() % 2 == 0 { 40 } else { u32::MAX });
    maybe(stratified_miettinen_nurminen_interval(&strata, level), |found| {
        assert_eq!(found.shares.len(), strata.len());
        interval(found.interval);
    });
    maybe(stratified_mee_interval(&strata, level), |found| interval(found.interval));
    maybe(stratified_miettinen_nurminen_test(&strata, null), test);
    maybe(mantel_haenszel_difference_sato(&strata, level), interval);
    maybe(mantel_haenszel_difference_greenland_robins(&strata, level), interval);
    maybe(mantel_haenszel_odds_ratio(&strata, level), ratio);
    maybe(mantel_haenszel_risk_ratio(&strata, level), ratio);
    maybe(stratified_newcombe_yan_su_interval(&strata, level), interval);
    maybe(stratified_newcombe_recovered_interval(&strata, level), interval);
    maybe(stratified_wilson_intervals(&strata, level), |(a, b)| {
        interval(a);
        interval(b);
    });
    for found in [
        cochran_mantel_haenszel_test(&strata),
        cochran_mantel_haenszel_corrected_test(&strata),
        breslow_day_test(&strata),
        breslow_day_tarone_test(&strata),
    ] {
        maybe(found, |test| {
            number(test.statistic);
            p_value(test.p);
        });
    }
});
