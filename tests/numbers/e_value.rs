//! E-values: reference rows, the printed example, and the bound they invert.

use proptest::prelude::*;
use quietbeam_analysis::methods::e_value::{
    EValue, RatioLimits, e_value_of_common_odds_ratio, e_value_of_risk_ratio,
};
use quietbeam_analysis::methods::interval::Ratio;

use crate::published::digits_agree;
use crate::reference::{Comparison, Tolerance, rows};

fn limits(estimate: f64, lower: f64, upper: f64) -> RatioLimits {
    RatioLimits::new(Ratio::Finite(estimate), lower, Ratio::Finite(upper)).unwrap()
}

#[test]
fn e_values() {
    let mut comparison = Comparison::new("e_value", "formula of the paper in Python");
    let near = Tolerance::Relative(1e-13);
    for row in &rows("e_value.csv") {
        let (rr, lower, upper): (f64, f64, f64) =
            (row.number("rr"), row.number("lower"), row.number("upper"));
        let EValue { estimate, limit } = e_value_of_risk_ratio(limits(rr, lower, upper));
        comparison.value(&row.name(), estimate.or_infinity(), row.number("point"), near);
        comparison.value(&row.name(), limit.or_infinity(), row.number("limit"), near);
        let common = e_value_of_common_odds_ratio(limits(rr, lower, upper));
        comparison.value(
            &row.name(),
            common.estimate.or_infinity(),
            row.number("point_by_square_root"),
            near,
        );
        let by_root = e_value_of_risk_ratio(limits(rr.sqrt(), lower.sqrt(), upper.sqrt()));
        assert_eq!(common, by_root);
    }
    comparison.finish(90);
    let EValue { estimate, limit } = e_value_of_risk_ratio(limits(3.9, 1.8, 8.7));
    let source = "VanderWeele and Ding, Ann Intern Med 2017;167:268-274, risk ratio 3.9 (1.8 to 8.7)";
    digits_agree(source, "E-value", &format!("{:.2}", estimate.or_infinity()), "7.26");
    digits_agree(source, "E-value of the limit", &format!("{:.1}", limit.or_infinity()), "3.0");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_cause_so_strong_just_explains_the_ratio(
        log_ratio in prop_oneof![-3.0..3.0_f64, -1e-9..1e-9, -200.0..200.0], below in 0.0..3.0_f64, above in 0.0..3.0_f64,
    ) {
        let ratio = f64::exp(log_ratio);
        let (lower, upper) = (f64::exp(log_ratio - below), f64::exp(log_ratio + above));
        let EValue { estimate, limit } = e_value_of_risk_ratio(limits(ratio, lower.min(ratio), upper.max(ratio)));
        let (e, limit) = (estimate.or_infinity(), limit.or_infinity());
        // The largest bias of a cause tied to arm and outcome by e each is e²/(2e − 1).
        let bound = e / (2.0 - 1.0 / e);
        let expected = if ratio < 1.0 { 1.0 / ratio } else { ratio };
        prop_assert!((bound / expected - 1.0).abs() < 1e-12, "{ratio} {e}");
        prop_assert!(limit >= 1.0 && limit <= e);
        let swapped = e_value_of_risk_ratio(limits(1.0 / ratio, 1.0 / upper.max(ratio), 1.0 / lower.min(ratio)));
        // Near 1 the root magnifies the rounding of the reciprocal.
        prop_assert!((swapped.estimate.or_infinity() / e - 1.0).abs() < 1e-7);
    }
}
