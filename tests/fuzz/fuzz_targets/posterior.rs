#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::posterior::{
    BetaPrior, beta_posterior, difference_posterior, difference_posterior_interval, probability_margin_met,
    ratio_posterior,
};
use quietbeam_analysis::methods::sample::Probability;
use quietbeam_fuzz::{Source, interval, number, p_value};

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let mut prior =
        || BetaPrior::new(1e3 * source.share(), 1e3 * source.share()).unwrap_or(BetaPrior::UNIFORM);
    let priors = [prior(), prior()];
    let most = if source.yes() { 1_000 } else { 10_000_000 };
    let arms = source.arms(most);
    let (first, second) = (beta_posterior(arms.first, priors[0]), beta_posterior(arms.second, priors[1]));
    number(first.mean());
    number(first.standard_deviation());
    let quantile = first.quantile(Probability::new(source.share()).unwrap());
    assert!((0.0..=1.0).contains(&quantile), "{quantile}");
    p_value(probability_margin_met(first, second, source.margin()));
    for tails in [
        difference_posterior(first, second, source.null_difference()),
        ratio_posterior(first, second, source.null_ratio()),
    ] {
        p_value(tails.lower);
        p_value(tails.upper);
        assert!((tails.lower + tails.upper - 1.0).abs() < 1e-6, "{tails:?}");
    }
    if source.byte() % 8 == 0 {
        interval(difference_posterior_interval(first, second, source.level()));
    }
});
