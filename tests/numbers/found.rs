//! Input on which a method once panicked, said something that is no number, or did not end.
//! `tests/fuzz` looks for more.

use std::num::NonZeroU32;

use quietbeam_analysis::methods::association::{breslow_day_tarone_test, breslow_day_test};
use quietbeam_analysis::methods::bootstrap::{Replicates, Statistic, TwoSamples, bca_interval};
use quietbeam_analysis::methods::counts::Stratum;
use quietbeam_analysis::methods::cox::{CoxCases, cox_regression};
use quietbeam_analysis::methods::design::Design;
use quietbeam_analysis::methods::follow_up::{Ended, FollowUp};
use quietbeam_analysis::methods::interval::{Confidence, NotEstimable};
use quietbeam_analysis::methods::plan::{ArmSizes, OneSidedAlpha, Planned, Proportions};
use quietbeam_analysis::methods::power::wald_log_ratio_power;
use quietbeam_analysis::methods::ratio_margin::RatioMargin;
use quietbeam_analysis::methods::stratified_newcombe::stratified_newcombe_yan_su_interval;

use crate::published::arms;

#[test]
fn strata_of_billions_of_events_are_added_up() {
    let most = u32::MAX;
    let strata: Vec<Stratum> =
        vec![arms(most, most, most - 1, most).into(), arms(most - 9, most, most - 7, most).into()];
    for test in [breslow_day_test(&strata), breslow_day_tarone_test(&strata)] {
        assert!((0.0..=1.0).contains(&test.unwrap().p));
    }
}

#[test]
fn weights_that_round_to_more_than_one_leave_a_width() {
    let level = Confidence::new(1.0 - f64::EPSILON / 2.0).unwrap();
    for strata in 2..40_u32 {
        let stratum = |k: u32| arms(0, 3 * k, 7 * k * k, 7 * k * k).into();
        let strata: Vec<Stratum> = (1..=strata).map(stratum).collect();
        let found = stratified_newcombe_yan_su_interval(&strata, level).unwrap();
        assert!(found.lower <= found.estimate && found.estimate <= found.upper, "{found:?}");
    }
}

#[test]
fn the_power_for_events_too_rare_for_a_double_is_a_probability() {
    let planned = Planned {
        proportions: Proportions::new(1e-320, 0.5).unwrap(),
        margin: RatioMargin::for_benefit(0.5).unwrap(),
        alpha: OneSidedAlpha::TWO_AND_A_HALF_PERCENT,
    };
    let size = NonZeroU32::MAX;
    let power = wald_log_ratio_power(&planned, ArmSizes { first: size, second: size });
    assert!((0.0..=0.025).contains(&power), "{power}");
}

#[test]
fn limits_of_a_skewed_bootstrap_do_not_change_sides() {
    let (first, second) = ([1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 40.0], [1.0, 1.5, 1.0]);
    let samples = TwoSamples { first: &first, second: &second };
    let replicates = Replicates::of_cases(samples, Statistic::MEAN_DIFFERENCE, 400, 3).unwrap();
    let at = |level| {
        bca_interval(samples, Statistic::MEAN_DIFFERENCE, &replicates, Confidence::new(level).unwrap())
    };
    let usual = at(0.95).unwrap();
    assert!(usual.lower < usual.upper);
    assert_eq!(at(1.0 - f64::EPSILON / 2.0), Err(NotEstimable::LimitsTooWide));
}

#[test]
fn a_hazard_ratio_beyond_every_number_is_not_given() {
    let follow_up: Vec<FollowUp> = (1..=8)
        .map(|day| FollowUp { days: day, ended: if day % 3 == 0 { Ended::Censored } else { Ended::Event } })
        .collect();
    let column = [3.0, 1.0, 4.0, 1.0, 5.0, 9.0, 2.0, 6.0].map(|value| -value * 1e-6).to_vec();
    let design = Design::new(8, &[column]).unwrap();
    let labels = [0, 1, 2, 3, 4, 5, 6, 7];
    let fit = cox_regression(CoxCases::new(&follow_up, &design, &[0; 8], &labels).unwrap()).unwrap();
    assert!(fit.coefficients[0].log_hazard_ratio > 800.0);
    assert_eq!(fit.coefficients[0].hazard_ratio(Confidence::NINETY_FIVE), Err(NotEstimable::LimitsTooWide));
}
