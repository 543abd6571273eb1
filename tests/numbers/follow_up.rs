//! Follow-up against the survival package of R and lifelines.

use proptest::prelude::*;
use quietbeam_analysis::methods::follow_up::{Curve, Ended, FollowUp};
use quietbeam_analysis::methods::interval::NotEstimable;
use quietbeam_analysis::methods::log_rank::{TwoGroups, log_rank_test};
use quietbeam_analysis::methods::null_test::NullDifference;
use quietbeam_analysis::methods::survival::{
    kaplan_meier_linear_interval, kaplan_meier_log_interval, kaplan_meier_log_log_interval, restricted_mean,
    restricted_mean_difference, survival_difference_interval, survival_difference_recovered_interval,
    survival_difference_test,
};

use crate::laws::level;
use crate::reference::{Comparison, Row, Tolerance, rows};

/// Products of a few hundred factors.
const NEAR: Tolerance = Tolerance::Absolute(1e-9);

fn case(row: &Row) -> FollowUp {
    let ended = if row.text("status") == "1" { Ended::Event } else { Ended::Censored };
    FollowUp { days: row.number("time"), ended }
}

fn group(all: &[Row], set: &str, group: &str) -> Vec<FollowUp> {
    all.iter().filter(|row| row.text("set_id") == set && row.text("group") == group).map(case).collect()
}

#[test]
fn kaplan_meier() {
    let all = rows("follow_up.csv");
    let mut comparison = Comparison::new("kaplan_meier", "R survfit; lifelines KaplanMeierFitter");
    for row in &rows("survival.csv") {
        let curve = Curve::of(&group(&all, row.text("set_id"), row.text("group"))).unwrap();
        let method = match row.text("limits") {
            "plain" => kaplan_meier_linear_interval,
            "log" => kaplan_meier_log_interval,
            _ => kaplan_meier_log_log_interval,
        };
        let interval = method(&curve, row.number("t"), row.level()).unwrap();
        for (column, value) in
            [("survival", interval.estimate), ("lower", interval.lower), ("upper", interval.upper)]
        {
            comparison.value(&format!("{} {column}", row.name()), value, row.number(column), NEAR);
        }
    }
    comparison.finish(800);
}

#[test]
fn differences_means_and_log_rank() {
    let all = rows("follow_up.csv");
    let mut comparison =
        Comparison::new("survival tests", "R survival 3.5-3 (survdiff), formula for differences and means");
    for row in &rows("survival_tests.csv") {
        let set = row.text("set_id");
        let (first, second) = (group(&all, set, "1"), group(&all, set, "0"));
        let (a, b) = (Curve::of(&first).unwrap(), Curve::of(&second).unwrap());
        let (test, end) = row.text("test").rsplit_once('_').unwrap_or((row.text("test"), ""));
        let mut value = |column: &str, computed: f64| {
            comparison.value(&format!("{} {column}", row.name()), computed, row.number(column), NEAR);
        };
        let day = || row.number::<u32>("t");
        let at = || quietbeam_analysis::methods::interval::Confidence::new(end.parse().unwrap()).unwrap();
        match test {
            "km_diff_linear" | "km_diff_mover_loglog" => {
                let method = if test == "km_diff_linear" {
                    survival_difference_interval
                } else {
                    survival_difference_recovered_interval
                };
                let interval = method(&a, &b, day(), at()).unwrap();
                value("estimate", interval.estimate);
                value("lower", interval.lower);
                value("upper", interval.upper);
            }
            "km_diff_ni_margin" => {
                let null = NullDifference::new(-end.parse::<f64>().unwrap()).unwrap();
                let result = survival_difference_test(&a, &b, day(), null).unwrap();
                value("statistic", result.z);
                value("p", result.p_greater);
            }
            "rmst" => {
                let curve = if end == "group1" { &a } else { &b };
                let mean = restricted_mean(curve, day()).unwrap();
                value("estimate", mean.days);
                value("se", mean.standard_error);
            }
            "rmst_diff" => {
                let result = restricted_mean_difference(&a, &b, day(), at()).unwrap();
                value("estimate", result.interval.estimate);
                value("lower", result.interval.lower);
                value("upper", result.interval.upper);
                value("se", result.standard_error);
                value("p", result.p_two_sided);
            }
            _ => {
                let strata =
                    if row.text("test") == "logrank" { vec![(first, second)] } else { strata(&all, set) };
                let groups: Vec<TwoGroups<'_>> =
                    strata.iter().map(|(first, second)| TwoGroups { first, second }).collect();
                let result = log_rank_test(&groups).unwrap();
                value("estimate", result.excess);
                value("se", result.variance.sqrt());
                value("statistic", result.test.statistic);
                value("p", result.test.p);
            }
        }
    }
    comparison.finish(300);
}

fn strata(all: &[Row], set: &str) -> Vec<(Vec<FollowUp>, Vec<FollowUp>)> {
    let mut names: Vec<&str> =
        all.iter().filter(|row| row.text("set_id") == set).map(|row| row.text("stratum")).collect();
    names.sort_unstable();
    names.dedup();
    let part = |name: &str, group: &str| {
        let belongs = |row: &&Row| {
            row.text("set_id") == set && row.text("stratum") == name && row.text("group") == group
        };
        all.iter().filter(belongs).map(case).collect()
    };
    names.iter().map(|name| (part(name, "1"), part(name, "0"))).collect()
}

#[test]
fn beyond_the_follow_up_nothing_is_estimated() {
    let censored = |days| FollowUp { days, ended: Ended::Censored };
    let event = |days| FollowUp { days, ended: Ended::Event };
    let level = quietbeam_analysis::methods::interval::Confidence::NINETY_FIVE;
    let curve = Curve::of(&[event(3), censored(5), censored(9)]).unwrap();
    let late = kaplan_meier_log_log_interval(&curve, 10, level);
    assert_eq!(late, Err(NotEstimable::FollowUpTooShort { day: 10, last_day: 9 }));
    assert!(restricted_mean(&curve, 10).is_err());
    assert_eq!(kaplan_meier_linear_interval(&curve, 2, level), Err(NotEstimable::NoVariation));
    // Once everybody had the event the curve stays at 0.
    let gone = Curve::of(&[event(3), event(5)]).unwrap();
    assert_eq!(restricted_mean(&gone, 100).unwrap().days, 4.0);
    assert!(Curve::of(&[]).is_err());
}

fn cases() -> impl Strategy<Value = Vec<FollowUp>> {
    let case = (0..40_u32, any::<bool>()).prop_map(|(days, event)| FollowUp {
        days,
        ended: if event { Ended::Event } else { Ended::Censored },
    });
    prop::collection::vec(case, 1..60)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn curves(a in cases(), b in cases(), day in 0..40_u32, at in level()) {
        let (first, second) = (Curve::of(&a).unwrap(), Curve::of(&b).unwrap());
        let mut previous = 1.0;
        for step in first.event_days() {
            prop_assert!(step.survival < previous && step.survival >= 0.0);
            previous = step.survival;
        }
        // Without censoring the curve is a proportion.
        let all_events: Vec<FollowUp> = a.iter().map(|case| FollowUp { ended: Ended::Event, ..*case }).collect();
        let whole = Curve::of(&all_events).unwrap();
        let free = all_events.iter().filter(|case| case.days > day).count() as f64;
        if let Ok(interval) = kaplan_meier_linear_interval(&whole, day, at) {
            prop_assert!((interval.estimate - free / a.len() as f64).abs() < 1e-12);
        }
        for method in [kaplan_meier_linear_interval, kaplan_meier_log_interval, kaplan_meier_log_log_interval] {
            if let Ok(interval) = method(&first, day, at) {
                prop_assert!(0.0 <= interval.lower && interval.lower <= interval.estimate);
                prop_assert!(interval.estimate <= interval.upper && interval.upper <= 1.0);
            }
        }
        for method in [survival_difference_interval, survival_difference_recovered_interval] {
            if let (Ok(one), Ok(two)) = (method(&first, &second, day, at), method(&second, &first, day, at)) {
                prop_assert!((one.lower + two.upper).abs() < 1e-12);
                prop_assert!(one.lower <= one.estimate && one.estimate <= one.upper);
            }
        }
        if let Ok(mean) = restricted_mean(&first, day) {
            prop_assert!(mean.days <= f64::from(day) + 1e-9 && mean.standard_error.is_finite());
        }
        let groups = |first, second| log_rank_test(&[TwoGroups { first, second }]);
        if let (Ok(one), Ok(two)) = (groups(&a, &b), groups(&b, &a)) {
            prop_assert!((one.excess + two.excess).abs() < 1e-9);
            prop_assert!((one.test.statistic - two.test.statistic).abs() < 1e-9 * (1.0 + one.test.statistic));
        }
    }
}
