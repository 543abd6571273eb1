#![no_main]

use libfuzzer_sys::fuzz_target;
use quietbeam_analysis::methods::balance::standardised_difference_of_means;
use quietbeam_analysis::methods::bootstrap::{
    Replicates, Statistic, TwoSamples, bca_interval, percentile_interval,
};
use quietbeam_analysis::methods::dose::{
    geometric_mean_interval, geometric_mean_ratio_welch, split_by_exposure,
};
use quietbeam_analysis::methods::rank::{
    RankSumTest, rank_sum_corrected_test, rank_sum_exact_test, rank_sum_test,
};
use quietbeam_analysis::methods::sample::{Probability, median, quantile_type_6, quantile_type_7};
use quietbeam_analysis::methods::shift::{
    hodges_lehmann_exact_interval, hodges_lehmann_interval, median_interval,
};
use quietbeam_fuzz::{Source, interval, maybe, number, p_value};

fn ranks(test: RankSumTest) {
    number(test.pairs_won);
    [test.p_less, test.p_greater, test.p_two_sided].into_iter().for_each(p_value);
}

fuzz_target!(|bytes: &[u8]| {
    let mut source = Source::new(bytes);
    let level = source.level();
    let (Some(first), Some(second)) = (source.sample(14), source.sample(14)) else { return };
    maybe(rank_sum_test(&first, &second), ranks);
    maybe(rank_sum_corrected_test(&first, &second), ranks);
    maybe(rank_sum_exact_test(&first, &second), ranks);
    interval(hodges_lehmann_interval(&first, &second, level));
    maybe(hodges_lehmann_exact_interval(&first, &second, level), interval);
    maybe(median_interval(&first, level), |(found, coverage)| {
        interval(found);
        p_value(coverage);
    });
    let q = Probability::new(source.share()).unwrap();
    [median(&first), quantile_type_6(&first, q), quantile_type_7(&first, q)].into_iter().for_each(number);
    maybe(standardised_difference_of_means(&first, &second), number);
    let exposed = |values: &[f64]| split_by_exposure(values).ok()?.doses;
    if let (Some(a), Some(b)) = (exposed(first.sorted()), exposed(second.sorted())) {
        maybe(geometric_mean_ratio_welch(&a, &b, level), |found| {
            interval(found.interval);
            p_value(found.p_two_sided);
        });
        maybe(geometric_mean_interval(&a, level), interval);
    }
    let samples = TwoSamples { first: first.sorted(), second: second.sorted() };
    let statistics =
        [Statistic::GEOMETRIC_MEAN_RATIO, Statistic::MEAN_DIFFERENCE, Statistic::MEDIAN_DIFFERENCE];
    let statistic = statistics[usize::from(source.byte() % 3)];
    for replicates in [
        Replicates::of_cases(samples, statistic, 30, u64::from(source.byte())),
        Replicates::of_centres(&[samples, samples], statistic, 30, u64::from(source.byte())),
    ] {
        maybe(replicates, |replicates| {
            maybe(percentile_interval(statistic.of(samples), &replicates, level), interval);
            maybe(bca_interval(samples, statistic, &replicates, level), interval);
        });
    }
});
