//! Posterior probabilities against scipy's and mpmath's quadrature.

use proptest::prelude::*;
use quietbeam_analysis::methods::counts::EventCount;
use quietbeam_analysis::methods::interval::Confidence;
use quietbeam_analysis::methods::null_test::{NullDifference, NullRatio};
use quietbeam_analysis::methods::posterior::{
    BetaPrior, Posterior, beta_posterior, difference_posterior, difference_posterior_interval,
    probability_margin_met, probability_ratio_margin_met, ratio_posterior,
};
use quietbeam_analysis::methods::ratio_margin::RatioMargin;
use quietbeam_analysis::methods::sample::Probability;

use crate::laws::count;
use crate::planning::{benefit, harm};
use crate::reference::{Comparison, Row, Tolerance, rows};

fn posteriors(row: &Row) -> (Posterior, Posterior) {
    let prior = BetaPrior::new(row.number("prior_a"), row.number("prior_b")).unwrap();
    let arms = row.arms();
    (beta_posterior(arms.first, prior), beta_posterior(arms.second, prior))
}

fn no_difference() -> NullDifference {
    NullDifference::new(0.0).unwrap()
}

#[test]
fn margin_met() {
    let mut comparison =
        Comparison::new("posterior", "Gauss-Legendre with 400 places a panel; scipy quad, mpmath quad");
    for row in &rows("posterior.csv") {
        let (first, second) = posteriors(row);
        let margin: f64 = row.number("margin");
        let ratio = RatioMargin::for_harm(row.number("ratio")).unwrap();
        let quantile = |q| first.quantile(Probability::new(q).unwrap());
        let sd = first.standard_deviation().hypot(second.standard_deviation());
        for (column, computed) in [
            ("mean_difference", first.mean() - second.mean()),
            ("sd_difference", sd),
            ("below_margin", probability_margin_met(first, second, harm(margin))),
            ("above_minus_margin", probability_margin_met(first, second, benefit(margin))),
            ("first_lower", difference_posterior(first, second, no_difference()).lower),
            ("below_ratio", probability_ratio_margin_met(first, second, ratio)),
            ("first_q025", quantile(0.025)),
            ("first_q975", quantile(0.975)),
        ] {
            let expected = row.number(column);
            comparison.value(
                &format!("{} {column}", row.name()),
                computed,
                expected,
                Tolerance::Absolute(1e-9),
            );
            // Where the reference did not subtract from 1, small probabilities keep their digits.
            if expected > 1e-250 && column != "mean_difference" && column != "above_minus_margin" {
                comparison.value(row.text("case_id"), computed, expected, Tolerance::Relative(1e-9));
            }
        }
    }
    comparison.finish(320);
}

#[test]
fn interval_of_a_difference() {
    let mut comparison =
        Comparison::new("posterior interval", "posterior_interval.py, SciPy beta and brentq");
    for row in &rows("posterior_interval.csv") {
        let (first, second) = posteriors(row);
        let interval = difference_posterior_interval(first, second, row.level());
        // The rule of the reference loses digits where its integrand has an infinite slope.
        comparison.interval(row, interval, Tolerance::Absolute(1e-9));
    }
    comparison.finish(120);
}

fn prior() -> impl Strategy<Value = BetaPrior> {
    let shape = || prop_oneof![Just(0.1), Just(0.5), Just(1.0), 0.1..50.0_f64];
    (shape(), shape()).prop_map(|(a, b)| BetaPrior::new(a, b).unwrap())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn both_sides_of_a_line_make_one(
        x in count(), y in count(), prior in prior(), delta in -0.999..0.999_f64, phi in -13.0..13.0_f64,
    ) {
        let (first, second) = (beta_posterior(x, prior), beta_posterior(y, prior));
        let by_difference = difference_posterior(first, second, NullDifference::new(delta).unwrap());
        prop_assert!((by_difference.lower + by_difference.upper - 1.0).abs() < 1e-9, "{by_difference:?}");
        let by_ratio = ratio_posterior(first, second, NullRatio::new(phi.exp()).unwrap());
        prop_assert!((by_ratio.lower + by_ratio.upper - 1.0).abs() < 1e-9, "{by_ratio:?}");
    }

    #[test]
    fn swapping_the_arms_swaps_the_sides(
        x in count(), y in count(), prior in prior(), delta in -0.5..0.5_f64,
    ) {
        let (first, second) = (beta_posterior(x, prior), beta_posterior(y, prior));
        let at = |delta| NullDifference::new(delta).unwrap();
        let here = difference_posterior(first, second, at(delta));
        let there = difference_posterior(second, first, at(-delta));
        prop_assert!((here.lower - there.upper).abs() < 1e-9, "{here:?} {there:?}");
        let level = difference_posterior(first, second, at(0.0));
        let ratio = ratio_posterior(first, second, NullRatio::new(1.0).unwrap());
        prop_assert!((level.lower - ratio.lower).abs() < 1e-9);
    }

    #[test]
    fn an_event_more_makes_a_met_margin_of_harm_less_likely(
        x in count(), y in count(), prior in prior(), margin in 0.001..0.5_f64,
    ) {
        prop_assume!(x.events() < x.total());
        let of = |x| probability_margin_met(beta_posterior(x, prior), beta_posterior(y, prior), harm(margin));
        let more = EventCount::new(x.events() + 1, x.total()).unwrap();
        prop_assert!(of(more) <= of(x) + 1e-9);
        prop_assert!(of(x) <= probability_margin_met(
            beta_posterior(x, prior), beta_posterior(y, prior), harm(margin * 1.5)) + 1e-9);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn an_interval_leaves_its_tails_outside(x in count(), y in count(), prior in prior(), level in 0.8..0.999_f64) {
        let (first, second) = (beta_posterior(x, prior), beta_posterior(y, prior));
        let interval = difference_posterior_interval(first, second, Confidence::new(level).unwrap());
        prop_assert!(-1.0 <= interval.lower && interval.lower <= interval.upper && interval.upper <= 1.0);
        if let Ok(at) = NullDifference::new(interval.lower) {
            let tail = difference_posterior(first, second, at).lower;
            prop_assert!((tail - (1.0 - level) / 2.0).abs() < 1e-8, "{interval:?} {tail}");
        }
        if let Ok(at) = NullDifference::new(interval.upper) {
            let tail = difference_posterior(first, second, at).upper;
            prop_assert!((tail - (1.0 - level) / 2.0).abs() < 1e-8, "{interval:?} {tail}");
        }
    }
}
