//! Laws of sample sizes and of approximate power.

use proptest::prelude::*;
use quietbeam_analysis::methods::non_inferiority::Margin;
use quietbeam_analysis::methods::plan::{ArmSizes, CannotPlan, Goal, Planned};
use quietbeam_analysis::methods::power::{
    blackwelder_power, farrington_manning_power, farrington_manning_ratio_power, wald_log_ratio_power,
};
use quietbeam_analysis::methods::ratio_margin::RatioMargin;
use quietbeam_analysis::methods::sample_size::{
    SampleSize, blackwelder_sample_size, farrington_manning_ratio_sample_size,
    farrington_manning_sample_size, wald_log_ratio_sample_size,
};

use crate::planning::{alpha, benefit, goal, harm, proportions, sizes};

type Size<M> = fn(&Planned<M>, Goal) -> Result<SampleSize, CannotPlan>;
type Power<M> = fn(&Planned<M>, ArmSizes) -> f64;

const DIFFERENCE: [(Size<Margin>, Power<Margin>); 2] = [
    (blackwelder_sample_size, blackwelder_power),
    (farrington_manning_sample_size, farrington_manning_power),
];
const RATIO: [(Size<RatioMargin>, Power<RatioMargin>); 2] = [
    (farrington_manning_ratio_sample_size, farrington_manning_ratio_power),
    (wald_log_ratio_sample_size, wald_log_ratio_power),
];

/// Rare, ordinary and frequent outcomes.
fn share() -> impl Strategy<Value = f64> {
    prop_oneof![0.000_01..0.01_f64, 0.01..0.99_f64, 0.99..0.999_99_f64]
}

fn difference() -> impl Strategy<Value = Planned<Margin>> {
    let margin = prop_oneof![0.000_1..0.9_f64, 0.005..0.1_f64];
    (share(), share(), margin, any::<bool>(), 0.000_1..0.2_f64).prop_map(|(p1, p2, m, harmful, a)| Planned {
        proportions: proportions(p1, p2),
        margin: if harmful { harm(m) } else { benefit(m) },
        alpha: alpha(a),
    })
}

fn ratio() -> impl Strategy<Value = Planned<RatioMargin>> {
    (share(), 0.7..1.3_f64, 1.01..10.0_f64, any::<bool>(), 0.000_1..0.2_f64).prop_map(
        |(p2, times, phi, harmful, a)| Planned {
            proportions: proportions((p2 * times).min(0.999), p2),
            margin: if harmful { RatioMargin::for_harm(phi) } else { RatioMargin::for_benefit(1.0 / phi) }
                .unwrap(),
            alpha: alpha(a),
        },
    )
}

/// With whole allocation the rounded sizes keep it, so that the formula is the same one.
fn whole_allocation() -> impl Strategy<Value = f64> {
    prop_oneof![Just(1.0), Just(2.0), Just(5.0), Just(100.0)]
}

/// The size reaches the power; one case fewer in the first arm, with its share, does not.
fn check_size<M>(
    planned: &Planned<M>,
    goal: Goal,
    (size, power): (Size<M>, Power<M>),
) -> Result<(), TestCaseError> {
    let Ok(found) = size(planned, goal) else { return Ok(()) };
    let wanted = goal.power.power();
    prop_assert!(f64::from(found.first) >= found.first_unrounded);
    let reached = power(planned, sizes(found.first, found.second));
    prop_assert!(reached >= wanted - 1e-9, "{reached} {wanted}");
    let whole = found.second / found.first;
    if found.first > 1 {
        let fewer = power(planned, sizes(found.first - 1, (found.first - 1) * whole));
        prop_assert!(fewer < wanted + 1e-9, "{fewer} {wanted}");
    }
    Ok(())
}

fn check_growth<M>(planned: &Planned<M>, n: u32, theta: u32, power: Power<M>) -> Result<(), TestCaseError> {
    let (few, many) = (power(planned, sizes(n, n * theta)), power(planned, sizes(2 * n, 2 * n * theta)));
    prop_assert!((0.0..=1.0).contains(&few));
    // Beyond the margin more cases make the wrong claim less likely, not more.
    prop_assert!(many >= few || many < 0.5, "{few} {many}");
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_size_is_enough_and_one_fewer_is_not(
        by_difference in difference(), by_ratio in ratio(), power in 0.5..0.999_f64, theta in whole_allocation(),
    ) {
        for pair in DIFFERENCE {
            check_size(&by_difference, goal(power, theta), pair)?;
        }
        for pair in RATIO {
            check_size(&by_ratio, goal(power, theta), pair)?;
        }
    }

    #[test]
    fn power_rises_with_the_number_of_cases(
        by_difference in difference(), by_ratio in ratio(), n in 1..1_000_000_u32, theta in 1..100_u32,
    ) {
        for (_, power) in DIFFERENCE {
            check_growth(&by_difference, n, theta, power)?;
        }
        for (_, power) in RATIO {
            check_growth(&by_ratio, n, theta, power)?;
        }
    }

    #[test]
    fn a_stricter_margin_lowers_the_power(
        planned in difference(), n1 in 1..200_000_u32, n2 in 1..200_000_u32, times in 0.3..1.0_f64,
    ) {
        let stricter = match planned.margin {
            Margin::Harm(size) => harm(size.size() * times),
            Margin::Benefit(size) => benefit(size.size() * times),
        };
        let at = |margin| blackwelder_power(&Planned { margin, ..planned }, sizes(n1, n2));
        prop_assert!(at(stricter) <= at(planned.margin) + 1e-12);
    }

    #[test]
    fn successes_and_failures_need_the_same_cases(
        p1 in 0.01..0.99_f64, p2 in 0.01..0.99_f64, margin in 0.01..0.5_f64, theta in 0.01..50.0_f64,
    ) {
        let of = |margin, truth| {
            let planned = Planned { proportions: truth, margin, alpha: alpha(0.025) };
            farrington_manning_sample_size(&planned, goal(0.9, theta))
        };
        let as_harm = of(harm(margin), proportions(p1, p2));
        let as_benefit = of(benefit(margin), proportions(1.0 - p1, 1.0 - p2));
        match (as_harm, as_benefit) {
            (Ok(a), Ok(b)) => {
                // Rounding of 1 − p beside the margin is all that may differ.
                let distance = (margin - (p1 - p2)).abs();
                let slack = 1e-10 + 1e-14 / distance;
                prop_assert!((a.first_unrounded / b.first_unrounded - 1.0).abs() < slack, "{a:?} {b:?}");
            }
            (a, b) => prop_assert!(a.is_err() && b.is_err(), "{a:?} {b:?}"),
        }
    }
}

#[test]
fn what_is_assumed_to_be_unacceptable_cannot_be_planned() {
    let planned = Planned { proportions: proportions(0.05, 0.02), margin: harm(0.03), alpha: alpha(0.025) };
    // 0.05 − 0.02 is a hair above 0.03 in binary: on the margin or beyond, there is no plan.
    let refused = farrington_manning_sample_size(&planned, goal(0.9, 1.0)).unwrap_err();
    assert!(
        matches!(refused, CannotPlan::BeyondMargin { margin, .. } if margin.to_bits() == 0.03_f64.to_bits())
    );
    assert!(refused.to_string().contains("no number of cases"), "{refused}");
    let better = Planned { margin: benefit(0.03), ..planned };
    assert!(blackwelder_sample_size(&better, goal(0.9, 1.0)).is_ok());
    let ratio = Planned {
        proportions: proportions(0.03, 0.02),
        margin: RatioMargin::for_harm(1.5).unwrap(),
        alpha: alpha(0.025),
    };
    for (size, power) in RATIO {
        // At the margin the power is the error rate itself.
        let at_margin = power(&ratio, sizes(500, 500));
        assert!((at_margin - 0.025).abs() < 1e-9, "{at_margin}");
        let hair = Planned { margin: RatioMargin::for_harm(1.5 + 1e-7).unwrap(), ..ratio };
        assert_eq!(size(&hair, goal(0.9, 1.0)), Err(CannotPlan::TooManyCases));
        let beyond = Planned { proportions: proportions(0.04, 0.02), ..ratio };
        assert!(matches!(size(&beyond, goal(0.9, 1.0)), Err(CannotPlan::BeyondMargin { .. })));
    }
}

/// 0.1 % of harm against a margin of one point: the formula of Blackwelder promises what its
/// test does not keep; that of Farrington and Manning asks for more cases.
#[test]
fn a_rare_harm_needs_more_cases_than_blackwelder_says() {
    let planned = Planned { proportions: proportions(0.001, 0.001), margin: harm(0.01), alpha: alpha(0.025) };
    let size = |of: Size<Margin>| of(&planned, goal(0.9, 1.0)).unwrap().first;
    let (short, enough) = (size(blackwelder_sample_size), size(farrington_manning_sample_size));
    assert!(2 * short < enough, "{short} {enough}");
    let large = Planned { margin: harm(0.000_2), ..planned };
    let found = farrington_manning_sample_size(&large, goal(0.9, 1.0)).unwrap();
    assert!((400_000..900_000).contains(&found.first), "{found:?}");
}
