//! A planned endpoint by centre.

use crate::cases::{Cell, in_order, network, of};
use quietbeam_analysis::methods::between_centres::paule_mandel;
use quietbeam_analysis::methods::centre_effects::risk_differences_by_common_rates;
use quietbeam_analysis::methods::counts::{EventCount, Stratum};
use quietbeam_analysis::methods::heterogeneity::heterogeneity;
use quietbeam_analysis::methods::pooling::prediction_interval;
use quietbeam_analysis::study::report::{Forest, SummaryRow};

fn centres(counts: &[(u8, [u32; 4])]) -> Forest {
    let cells = counts.iter().flat_map(|(centre, [x1, n1, x2, n2])| {
        let cell = |zero, cases, successes| Cell { centre: *centre, diseased: false, zero, cases, successes };
        [cell(true, *n1, *x1).cases(), cell(false, *n2, *x2).cases()].concat()
    });
    of(in_order(cells.collect())).by_centre.into_iter().next().unwrap()
}

/// 56/70 against 48/80 and 5/56 against 0/29: inputs of Newcombe, Stat Med 1998;17:873, limits
/// of Miettinen and Nurminen recomputed with an independent implementation of the formula.
#[test]
fn every_centre_has_its_own_interval() {
    let forest = centres(&[(1, [56, 70, 48, 80]), (2, [5, 56, 0, 29]), (3, [10, 10, 0, 0])]);
    for (place, (estimate, lower, upper)) in
        [(0.2, 0.0528, 0.3382), (0.0893, -0.0326, 0.1933)].into_iter().enumerate()
    {
        let found = forest.centres[place].difference.estimated().unwrap();
        for (number, expected) in [(found.estimate, estimate), (found.lower, lower), (found.upper, upper)] {
            assert!((number - expected).abs() < 5.1e-5, "{number} is not {expected}");
        }
    }
    let alone = &forest.centres[2];
    assert!(alone.difference.estimated().is_none() && alone.weight.is_none());
    let weights: f64 = forest.centres.iter().filter_map(|centre| centre.weight).sum();
    assert!((weights - 1.0).abs() < 1e-12, "{weights}");
    // With two centres no distribution of a third can be told.
    assert!(forest.prediction.estimated().is_none());
}

#[test]
fn the_pooled_rows_are_those_of_the_methods() {
    let counts: [[u32; 4]; 4] =
        [[90, 100, 80, 100], [180, 200, 170, 190], [50, 60, 70, 75], [40, 50, 100, 110]];
    let numbered: Vec<(u8, [u32; 4])> = (1..).zip(counts).collect();
    let forest = centres(&numbered);
    let count = |events, total| Some(EventCount::new(events, total).unwrap());
    let strata: Vec<Stratum> = counts
        .iter()
        .map(|[x1, n1, x2, n2]| Stratum { first: count(*x1, *n1), second: count(*x2, *n2) })
        .collect();
    let effects: Vec<_> = risk_differences_by_common_rates(&strata).unwrap().into_iter().flatten().collect();
    let model = paule_mandel(&effects).unwrap();
    let level = forest.centres[0].difference.estimated().unwrap().level;
    assert_eq!(forest.heterogeneity.estimated(), Some(&heterogeneity(&effects).unwrap()));
    assert_eq!(forest.prediction.estimated(), Some(&prediction_interval(&model, level).unwrap()));
    let weights: Vec<f64> = forest.centres.iter().map(|centre| centre.weight.unwrap()).collect();
    assert_eq!(weights, model.shares());
    assert!((forest.margin + 0.03).abs() < 1e-12);
    assert!(forest.in_words.contains(" of four centre intervals hold"), "{}", forest.in_words);
    assert!(forest.in_words.contains("on 3 degrees of freedom"), "{}", forest.in_words);
}

#[test]
fn the_planned_row_is_marked_and_is_the_one_that_decided() {
    let report = of(network());
    let forest = &report.by_centre[0];
    let planned: Vec<SummaryRow> =
        forest.summaries.iter().filter(|row| row.planned).map(|row| row.row).collect();
    assert_eq!(planned, [SummaryRow::Standardised]);
    let adjusted = &report.planned.endpoints[0].as_intended.adjusted.standardised;
    let row = forest.summaries.iter().find(|row| row.planned).unwrap();
    assert_eq!(row.difference.estimated().copied(), adjusted.estimated().map(|found| found.difference));
    // Nobody had a major complication: nothing to pool, and it is said why.
    let harm = &report.by_centre[1];
    assert_eq!(harm.centres.len(), 2);
    assert!(harm.pooled.estimated().is_none() && harm.heterogeneity.estimated().is_none());
    assert!(harm.in_words.contains("there is no planned estimate"), "{}", harm.in_words);
}
