#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::exact_odds_ratio::{ExactTest, fisher_test};
use quietbeam_analysis::methods::exact_unconditional::{
    barnard_pooled_test, barnard_unpooled_test, boschloo_test, chan_non_inferiority_p,
};
use quietbeam_fuzz::{Source, maybe, p_value};

fn probabilities(test: ExactTest) {
    [test.p_less, test.p_greater, test.p_two_sided].into_iter().for_each(p_value);
}

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    probabilities(fisher_test(source.arms(1_000_000)));
    // Enumeration grows with the product of the arms.
    let (arms, margin) = (source.arms(40), source.margin());
    maybe(barnard_pooled_test(arms), probabilities);
    maybe(barnard_unpooled_test(arms), probabilities);
    maybe(boschloo_test(arms), |found| {
        let fisher = fisher_test(arms);
        assert!(found.p_less <= fisher.p_less * (1.0 + 1e-9), "{found:?} {fisher:?}");
        assert!(found.p_greater <= fisher.p_greater * (1.0 + 1e-9), "{found:?} {fisher:?}");
        probabilities(found);
    });
    maybe(chan_non_inferiority_p(arms, margin), p_value);
});
