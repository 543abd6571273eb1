//! Ranks, shifts, medians and the bootstrap against R, exactRankTests and NumPy.

use proptest::prelude::*;
use quietbeam_analysis::methods::bootstrap::{
    Replicates, Statistic, TwoSamples, bca_interval, percentile_interval,
};
use quietbeam_analysis::methods::interval::{Confidence, NotEstimable};
use quietbeam_analysis::methods::rank::{rank_sum_corrected_test, rank_sum_exact_test, rank_sum_test};
use quietbeam_analysis::methods::sample::Sample;
use quietbeam_analysis::methods::shift::{
    hodges_lehmann_exact_interval, hodges_lehmann_interval, median_interval,
};

use crate::dose::doses;
use crate::laws::level;
use crate::reference::{Comparison, Row, Tolerance, rows};

/// Sums in another order.
const ROUNDING: Tolerance = Tolerance::Relative(1e-9);

fn samples(all: &[Row], set: &str) -> (Sample, Sample) {
    (Sample::new(doses(all, set, "1")).unwrap(), Sample::new(doses(all, set, "2")).unwrap())
}

#[test]
fn rank_sums() {
    let values = rows("dose_values.csv");
    let mut comparison = Comparison::new("rank sum", "R wilcox.test, exactRankTests; SciPy mannwhitneyu");
    for row in &rows("rank.csv") {
        let (first, second) = samples(&values, row.text("set_id"));
        let test = match row.text("method") {
            "ranksum_normal_cc" => rank_sum_corrected_test(&first, &second),
            "ranksum_normal_nocc" => rank_sum_test(&first, &second),
            _ => rank_sum_exact_test(&first, &second),
        };
        let test = test.unwrap();
        let p = match row.text("alternative") {
            "less" => test.p_less,
            "greater" => test.p_greater,
            _ => test.p_two_sided,
        };
        comparison.value(&row.name(), test.pairs_won, row.number("pairs_won"), ROUNDING);
        comparison.value(&row.name(), p, row.number("p"), ROUNDING);
    }
    comparison.finish(200);
}

#[test]
fn shifts() {
    let values = rows("dose_values.csv");
    let mut comparison =
        Comparison::new("Hodges-Lehmann", "R wilcox.test(conf.int = TRUE), order statistics");
    for row in &rows("shift.csv") {
        let (first, second) = samples(&values, row.text("set_id"));
        let interval = if row.text("method") == "hl_ci_exact_R" {
            hodges_lehmann_exact_interval(&first, &second, row.level()).unwrap()
        } else {
            hodges_lehmann_interval(&first, &second, row.level())
        };
        // One subtraction of two stored values.
        comparison.interval(row, interval, Tolerance::Relative(1e-12));
    }
    comparison.finish(90);
}

#[test]
fn medians() {
    let values = rows("dose_values.csv");
    let mut comparison = Comparison::new("median interval", "R order statistics and pbinom");
    let mut refused = 0;
    for row in &rows("median.csv") {
        let sample = Sample::new(doses(&values, row.text("set_id"), row.text("group"))).unwrap();
        let Ok((interval, coverage)) = median_interval(&sample, row.level()) else {
            assert_eq!(row.text("upper"), "Inf", "{}", row.name());
            refused += 1;
            continue;
        };
        comparison.interval(row, interval, Tolerance::Relative(1e-12));
        comparison.value(&row.name(), coverage, row.number("coverage"), ROUNDING);
        assert!(coverage >= row.number("level"));
    }
    assert!(refused > 0);
    comparison.finish(150);
}

fn statistic(name: &str) -> Statistic {
    match name {
        "gmratio" => Statistic::GEOMETRIC_MEAN_RATIO,
        "meandiff" => Statistic::MEAN_DIFFERENCE,
        _ => Statistic::MEDIAN_DIFFERENCE,
    }
}

/// Places of every resample, written from 1 with the second arm after the first.
fn places(set: &str, first: usize) -> Vec<(Vec<usize>, Vec<usize>)> {
    let file = if set == "boot1" { "bootstrap_places_boot1.csv" } else { "bootstrap_places_boot2.csv" };
    let split = |row: &Row| {
        let all: Vec<usize> = row.numbers();
        let (a, b) = all.split_at(first);
        (a.iter().map(|i| i - 1).collect(), b.iter().map(|i| i - 1 - first).collect())
    };
    rows(file).iter().map(split).collect()
}

#[test]
fn bootstrap() {
    let values = rows("dose_values.csv");
    let mut comparison = Comparison::new("bootstrap", "R quantile of given resamples; NumPy two-sample BCa");
    for file in ["bootstrap.csv", "bca.csv"] {
        for row in &rows(file) {
            let set = row.text("set_id");
            let (first, second) = (doses(&values, set, "1"), doses(&values, set, "2"));
            let samples = TwoSamples { first: &first, second: &second };
            let statistic = statistic(row.text("statistic"));
            let places = places(set, first.len());
            let replicates = Replicates::from_places(samples, statistic, places.into_iter()).unwrap();
            let interval = if file == "bca.csv" {
                bca_interval(samples, statistic, &replicates, row.level())
            } else {
                percentile_interval(statistic.of(samples), &replicates, row.level())
            };
            comparison.interval(row, interval.unwrap(), Tolerance::Relative(1e-10));
        }
    }
    comparison.finish(60);
}

#[test]
fn a_seed_gives_the_same_replicates_and_centres_stay_whole() {
    let (first, second) = ([1.0, 2.0, 5.0, 9.0], [2.0, 4.0, 4.0]);
    let samples = TwoSamples { first: &first, second: &second };
    let draw = |seed| Replicates::of_cases(samples, Statistic::GEOMETRIC_MEAN_RATIO, 500, seed).unwrap();
    assert_eq!(draw(7).sorted(), draw(7).sorted());
    assert_ne!(draw(7).sorted(), draw(8).sorted());
    // One centre can only be drawn as it is.
    let whole = Replicates::of_centres(&[samples], Statistic::GEOMETRIC_MEAN_RATIO, 50, 1).unwrap();
    let estimate = Statistic::GEOMETRIC_MEAN_RATIO.of(samples);
    assert!(whole.sorted().iter().all(|value| *value == estimate));
    // A centre without second arm may be drawn alone: no ratio then.
    let lonely = TwoSamples { first: &first, second: &[] };
    let result = Replicates::of_centres(&[lonely, lonely], Statistic::GEOMETRIC_MEAN_RATIO, 50, 1);
    assert_eq!(result.err(), Some(NotEstimable::StatisticMissingOnResample));
    assert!(Replicates::of_cases(samples, Statistic::GEOMETRIC_MEAN_RATIO, 0, 1).is_err());
}

fn whole_numbers(most: usize) -> impl Strategy<Value = Sample> {
    prop::collection::vec(0..30_i32, 1..most)
        .prop_map(|values| Sample::new(values.into_iter().map(f64::from).collect()).unwrap())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn ranks(a in whole_numbers(12), b in whole_numbers(12)) {
        let exact = rank_sum_exact_test(&a, &b).unwrap();
        let mut won = 0.0;
        for x in a.sorted() {
            for y in b.sorted() {
                won += if x > y { 1.0 } else if x == y { 0.5 } else { 0.0 };
            }
        }
        prop_assert_eq!(exact.pairs_won, won);
        let swapped = rank_sum_exact_test(&b, &a).unwrap();
        prop_assert!((exact.p_less - swapped.p_greater).abs() < 1e-12);
        prop_assert!((exact.p_two_sided - swapped.p_two_sided).abs() < 1e-12);
        prop_assert!(exact.p_less + exact.p_greater >= 1.0 - 1e-12);
        if let (Ok(one), Ok(two)) = (rank_sum_test(&a, &b), rank_sum_corrected_test(&a, &b)) {
            prop_assert!(one.p_two_sided <= two.p_two_sided + 1e-12);
            prop_assert!((0.0..=1.0).contains(&one.p_two_sided));
        }
    }

    #[test]
    fn shifts_and_medians(a in whole_numbers(30), b in whole_numbers(30), p in level(), q in level()) {
        let (low, high): (Confidence, Confidence) = if p.level() < q.level() { (p, q) } else { (q, p) };
        let (narrow, wide) = (hodges_lehmann_interval(&a, &b, low), hodges_lehmann_interval(&a, &b, high));
        let mut all: Vec<f64> =
            a.sorted().iter().flat_map(|x| b.sorted().iter().map(move |y| x - y)).collect();
        all.sort_by(f64::total_cmp);
        let middle = f64::midpoint(all[(all.len() - 1) / 2], all[all.len() / 2]);
        prop_assert_eq!(narrow.estimate, middle);
        prop_assert!(narrow.lower <= narrow.estimate && narrow.estimate <= narrow.upper);
        prop_assert!(wide.lower <= narrow.lower && narrow.upper <= wide.upper);
        let swapped = hodges_lehmann_interval(&b, &a, low);
        prop_assert_eq!(swapped.lower, -narrow.upper);
        if let (Ok((inner, covers)), Ok((outer, _))) = (median_interval(&a, low), median_interval(&a, high)) {
            prop_assert!(outer.lower <= inner.lower && inner.upper <= outer.upper);
            prop_assert!(inner.lower <= inner.estimate && inner.estimate <= inner.upper);
            prop_assert!(covers >= low.level() - 1e-12);
        }
    }
}
