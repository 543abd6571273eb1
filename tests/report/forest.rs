//! A planned endpoint by centre.

use crate::cases::{Cell, difference, in_order, network, of};
use quietbeam_analysis::methods::between_centres::paule_mandel;
use quietbeam_analysis::methods::centre_effects::risk_differences_by_common_rates;
use quietbeam_analysis::methods::counts::{EventCount, Stratum};
use quietbeam_analysis::methods::heterogeneity::heterogeneity;
use quietbeam_analysis::methods::interval::Confidence;
use quietbeam_analysis::methods::pooling::prediction_interval;
use quietbeam_analysis::study::effect::{Drawn, Effect};
use quietbeam_analysis::study::estimate::Estimate;
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
        let found = difference(&forest.centres[place].effect);
        for (number, expected) in [(found.estimate, estimate), (found.lower, lower), (found.upper, upper)] {
            assert!((number - expected).abs() < 5.1e-5, "{number} is not {expected}");
        }
    }
    let alone = &forest.centres[2];
    assert!(alone.effect.obstacle().is_some() && alone.weight.is_none());
    let weights: f64 = forest.centres.iter().filter_map(|centre| centre.weight).sum();
    assert!((weights - 1.0).abs() < 1e-12, "{weights}");
    // With two centres no distribution of a third can be told.
    assert!(forest.prediction.obstacle().is_some());
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
    let level = Confidence::NINETY_FIVE;
    assert_eq!(forest.heterogeneity.estimated(), Some(&heterogeneity(&effects).unwrap()));
    let prediction = prediction_interval(&model, level).unwrap();
    assert_eq!(forest.prediction, Effect::Difference(Estimate::Estimated(prediction)));
    let weights: Vec<f64> = forest.centres.iter().map(|centre| centre.weight.unwrap()).collect();
    assert_eq!(weights, model.shares());
    assert!((forest.margin.drawn() + 0.03).abs() < 1e-12);
    assert!(forest.in_words.contains(" of four centre intervals reach"), "{}", forest.in_words);
    assert!(forest.in_words.contains("on 3 degrees of freedom"), "{}", forest.in_words);
}

/// A centre that is worse by far allows for the margin as one that crosses it does; only the ones
/// that stay on the better side do not. 4/50 against 48/50 lies below −3 points, 500/500 against
/// 500/500 above it.
#[test]
fn an_interval_beyond_the_margin_reaches_it_too() {
    let forest = centres(&[(1, [4, 50, 48, 50]), (2, [500, 500, 500, 500]), (3, [45, 50, 46, 50])]);
    let limits: Vec<Drawn> = forest.centres.iter().map(|centre| centre.effect.drawn().unwrap()).collect();
    let margin = forest.margin.drawn();
    assert!(limits[0].upper < margin && limits[1].lower > margin, "{limits:?}");
    assert!(
        forest.in_words.starts_with("Two of three centre intervals reach the margin"),
        "{}",
        forest.in_words
    );
}

/// What is not shown is not the contrary: I² of half is told beside a p value above 0.05.
#[test]
fn centres_that_are_not_shown_to_differ_are_not_called_alike() {
    let forest = centres(&[(1, [90, 100, 92, 100]), (2, [91, 100, 90, 100])]);
    let found = forest.heterogeneity.estimated().unwrap();
    assert!(found.q.p > 0.05, "{}", found.q.p);
    assert!(forest.in_words.contains("is not shown, which does not make them alike"), "{}", forest.in_words);
    let apart = centres(&[(1, [40, 100, 92, 100]), (2, [91, 100, 40, 100])]);
    assert!(apart.in_words.contains("differ beyond chance is shown (Q"), "{}", apart.in_words);
    assert!(apart.in_words.contains("p < 0.0001"), "{}", apart.in_words);
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
    let adjusted = adjusted.estimated().unwrap().difference;
    assert_eq!(row.effect, Effect::Difference(Estimate::Estimated(adjusted)));
    // Nobody had a major complication: nothing to pool, and it is said why.
    let harm = &report.by_centre[1];
    assert_eq!(harm.centres.len(), 2);
    assert!(harm.pooled.estimated().is_none() && harm.heterogeneity.estimated().is_none());
    assert!(harm.in_words.contains("there is no planned one"), "{}", harm.in_words);
}
