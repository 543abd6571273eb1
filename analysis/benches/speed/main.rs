//! How long the heavier methods take: `cargo bench -p quietbeam-analysis --bench speed [-- NAME]`.
//! `peers/run` compares the same work with R and Python.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod regression;
mod weighting;
mod work;

use divan::Bencher;

fn main() {
    // The file with the data for the peers is written by the comparison alone.
    let _ = (work::write, regression::write);
    divan::main();
}

#[divan::bench(sample_count = 10)]
fn score_interval_100_000(bencher: Bencher) {
    let tables = work::score_tables();
    bencher.bench(|| work::score_intervals(&tables));
}

#[divan::bench(sample_count = 10)]
fn barnard_20_tables(bencher: Bencher) {
    let tables = work::exact_tables();
    bencher.bench(|| work::barnard(&tables));
}

#[divan::bench(sample_count = 10)]
fn boschloo_20_tables(bencher: Bencher) {
    let tables = work::exact_tables();
    bencher.bench(|| work::boschloo(&tables));
}

#[divan::bench(sample_count = 10)]
fn chan_20_tables(bencher: Bencher) {
    let tables = work::exact_tables();
    bencher.bench(|| work::chan(&tables));
}

#[divan::bench(sample_count = 10)]
fn kaplan_meier_1_000_000(bencher: Bencher) {
    let (mut cases, second) = work::follow_up();
    cases.extend(second);
    bencher.bench(|| work::kaplan_meier(&cases));
}

#[divan::bench(sample_count = 10)]
fn log_rank_1_000_000(bencher: Bencher) {
    let (first, second) = work::follow_up();
    bencher.bench(|| work::log_rank(&first, &second));
}

#[divan::bench(sample_count = 10)]
fn rank_sum_1_000_000(bencher: Bencher) {
    let (first, second) = work::rank_doses();
    bencher.bench(|| work::rank_sum(&first, &second));
}

#[divan::bench(sample_count = 5)]
fn percentile_10_000_draws_of_20_000(bencher: Bencher) {
    let (first, second) = work::bootstrap_doses();
    bencher.bench(|| work::percentile(&first, &second));
}

#[divan::bench(sample_count = 5)]
fn bca_10_000_draws_of_20_000(bencher: Bencher) {
    let (first, second) = work::bootstrap_doses();
    bencher.bench(|| work::bca(&first, &second));
}

#[divan::bench(sample_count = 5)]
fn logistic_clustered_1_000_000_by_10(bencher: Bencher) {
    let cases = regression::Cases::draw();
    bencher.bench(|| regression::logistic_clustered(&cases));
}

#[divan::bench(sample_count = 5)]
fn standardised_1_000_000_by_10(bencher: Bencher) {
    let cases = regression::Cases::draw();
    bencher.bench(|| regression::standardised(&cases));
}

#[divan::bench(sample_count = 5)]
fn weighted_1_000_000_by_9(bencher: Bencher) {
    let cases = weighting::TreatedCases::draw();
    bencher.bench(|| weighting::weighted(&cases));
}

#[divan::bench(sample_count = 10)]
fn random_intercept_500_centres(bencher: Bencher) {
    let centres = work::centres();
    bencher.bench(|| work::random_intercept(&centres));
}
