//! Run lengths of cumulative sums against a finite Markov chain and a simulation, and their laws.

use proptest::prelude::*;
use quietbeam_analysis::methods::cusum::{
    ExpectedProbability, Threshold, WatchedCase, WatchedChange, signalling_cusum,
};
use quietbeam_analysis::methods::interval::NotEstimable;
use quietbeam_analysis::methods::run_length::{
    ActualOddsRatio, RunLength, SteadyChart, average_run_length, signal_within, threshold_for_run_length,
};

use crate::reference::{Comparison, Tolerance, rows};

fn chart(expected: f64, odds_ratio: f64) -> SteadyChart {
    let expected = ExpectedProbability::new(expected).unwrap();
    SteadyChart::new(expected, WatchedChange::new(odds_ratio).unwrap()).unwrap()
}

fn threshold(height: f64) -> Threshold {
    Threshold::new(height).unwrap()
}

fn actual(odds_ratio: f64) -> ActualOddsRatio {
    ActualOddsRatio::new(odds_ratio).unwrap()
}

#[test]
fn run_lengths() {
    for (route, least) in [("lattice", 160), ("simulation", 20)] {
        let mut comparison =
            Comparison::new(route, "NumPy: dense linear solve of a finite chain; simulation");
        for row in rows("run_length.csv").iter().filter(|row| row.text("route") == route) {
            let chart = chart(row.number("expected"), row.number("odds_ratio"));
            let (height, truth) = (threshold(row.number("threshold")), actual(row.number("actual")));
            // Four standard errors of the simulation; the solve of a few hundred equations keeps ten digits.
            let tolerance = |error: f64, exact: Tolerance| {
                if error > 0.0 { Tolerance::Absolute(4.0 * error) } else { exact }
            };
            let average = average_run_length(chart, height, truth).unwrap();
            let exact = Tolerance::Relative(1e-10);
            let name = format!("{} average", row.name());
            comparison.value(
                &name,
                average,
                row.number("average"),
                tolerance(row.number("average_error"), exact),
            );
            let within = signal_within(chart, height, truth, row.number("cases")).unwrap();
            let exact = Tolerance::Absolute(1e-12);
            let name = format!("{} within", row.name());
            comparison.value(
                &name,
                within,
                row.number("within"),
                tolerance(row.number("within_error"), exact),
            );
        }
        comparison.finish(least);
    }
}

fn any_chart() -> impl Strategy<Value = SteadyChart> {
    let ratio = prop_oneof![0.1..0.8_f64, 1.25..10.0_f64];
    (0.002..0.9_f64, ratio).prop_map(|(expected, ratio)| chart(expected, ratio))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn a_run_is_longer_the_higher_the_threshold_and_the_less_has_changed(
        expected in 0.005..0.5_f64, ratio in 1.3..5.0_f64, low in 0.2..3.0_f64, more in 0.0..1.0_f64,
        truth in 0.5..4.0_f64, worse in 1.0..2.0_f64, cases in 0_u32..300,
    ) {
        let chart = chart(expected, ratio);
        let (low, high, plain) = (threshold(low), threshold(low + more), actual(truth));
        let here = average_run_length(chart, low, plain).unwrap();
        prop_assert!(here >= 1.0);
        prop_assert!(average_run_length(chart, high, plain).unwrap() >= here * (1.0 - 1e-12));
        let sooner = average_run_length(chart, low, actual(truth * worse)).unwrap();
        prop_assert!(sooner <= here * (1.0 + 1e-12), "{sooner} {here}");
        let within = signal_within(chart, low, plain, cases).unwrap();
        prop_assert!((0.0..=1.0).contains(&within));
        prop_assert!(signal_within(chart, low, plain, cases + 10).unwrap() >= within);
        prop_assert!(signal_within(chart, high, plain, cases).unwrap() <= within + 1e-12);
        prop_assert!(signal_within(chart, low, actual(truth * worse), cases).unwrap() >= within - 1e-12);
    }

    /// Every sequence of a few cases, each drawn on the chart itself.
    #[test]
    fn the_probability_of_a_signal_is_that_of_the_sequences_that_signal(
        expected in 0.05..0.95_f64, ratio in prop_oneof![0.05..0.7_f64, 1.4..20.0_f64],
        height in 0.05..2.0_f64, truth in 0.2..5.0_f64, cases in 0_u32..11,
    ) {
        let (limit, change) = (threshold(height), WatchedChange::new(ratio).unwrap());
        let odds = truth * expected / (1.0 - expected);
        let p = odds / (1.0 + odds);
        let expected = ExpectedProbability::new(expected).unwrap();
        let mut sum = 0.0;
        for pattern in 0..1_u32 << cases {
            let sequence: Vec<WatchedCase> =
                (0..cases).map(|case| WatchedCase { event: pattern >> case & 1 == 1, expected }).collect();
            if signalling_cusum(&sequence, change, limit).iter().any(|point| point.signal) {
                let events = pattern.count_ones().cast_signed();
                sum += p.powi(events) * (1.0 - p).powi(cases.cast_signed() - events);
            }
        }
        let chart = SteadyChart::new(expected, change).unwrap();
        let within = signal_within(chart, limit, actual(truth), cases).unwrap();
        prop_assert!((within - sum).abs() < 1e-12, "{within} {sum}");
    }

    #[test]
    fn the_planned_threshold_is_the_lowest_that_suffices(chart in any_chart(), wanted in 1.0..5_000.0_f64) {
        let Ok(planned) = threshold_for_run_length(chart, RunLength::new(wanted).unwrap()) else {
            return Ok(());
        };
        let length = |height| average_run_length(chart, threshold(height), ActualOddsRatio::IN_CONTROL).unwrap();
        let height = planned.threshold.height();
        prop_assert!(planned.in_control_run_length >= wanted);
        prop_assert_eq!(length(height), planned.in_control_run_length);
        let lower = length(height * (1.0 - 1e-5));
        let one_step = (lower / planned.in_control_run_length - 1.0).abs() < 1e-9;
        prop_assert!(lower < wanted || one_step && length(height * 0.01) == lower, "{lower} {planned:?}");
    }
}

#[test]
fn mirrored_outcomes_on_the_opposite_chart_run_alike() {
    // Watching survivors halve is watching deaths double, seen from the other side.
    for (expected, ratio) in [(0.03, 2.0), (0.4, 1.5)] {
        for truth in [1.0, 1.7] {
            let (up, down) = (chart(expected, ratio), chart(1.0 - expected, 1.0 / ratio));
            let one = average_run_length(up, threshold(2.0), actual(truth)).unwrap();
            let other = average_run_length(down, threshold(2.0), actual(1.0 / truth)).unwrap();
            assert!((one / other - 1.0).abs() < 1e-9, "{one} {other}");
        }
    }
}

#[test]
fn what_takes_too_long_is_said_and_ends() {
    let slow = chart(1e-4, 1.01);
    let beyond = Err(NotEstimable::RunLengthOutOfReach);
    assert_eq!(average_run_length(slow, threshold(100.0), actual(1.0)), beyond);
    assert_eq!(signal_within(chart(0.1, 2.0), threshold(2.0), actual(1.0), u32::MAX), beyond);
    // So high that the probability of a signal on the way is less than a number holds.
    assert_eq!(average_run_length(chart(1e-4, 2.0), threshold(100.0), actual(1e-3)), beyond);
    for wrong in [1e-5, 0.99999] {
        let expected = ExpectedProbability::new(wrong).unwrap();
        assert!(SteadyChart::new(expected, WatchedChange::new(2.0).unwrap()).is_err());
    }
    for wrong in [0.0, 1.0, 1.005, 0.995, -2.0, 1000.0, f64::NAN] {
        assert!(WatchedChange::new(wrong).is_err(), "{wrong}");
    }
}
