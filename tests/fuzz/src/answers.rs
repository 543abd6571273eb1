//! What every answer must be.

use quietbeam_analysis::methods::interval::{Interval, NotEstimable, Ratio, RatioInterval};
use quietbeam_analysis::methods::null_test::OneSidedTest;

/// Not NaN and not infinite.
#[track_caller]
pub fn number(value: f64) {
    assert!(value.is_finite(), "{value}");
}

#[track_caller]
pub fn p_value(p: f64) {
    assert!((0.0..=1.0).contains(&p), "p = {p}");
}

#[track_caller]
pub fn interval(interval: Interval) {
    let Interval { estimate, lower, upper, .. } = interval;
    [estimate, lower, upper].into_iter().for_each(number);
    assert!(lower <= upper, "{interval:?}");
}

#[track_caller]
pub fn ratio(interval: RatioInterval) {
    assert!(interval.lower >= 0.0 && interval.lower.is_finite(), "{interval:?}");
    for value in interval.estimate.into_iter().chain([interval.upper]) {
        if let Ratio::Finite(value) = value {
            assert!(value >= 0.0 && value.is_finite(), "{interval:?}");
        }
    }
    assert!(interval.lower <= interval.upper.or_infinity(), "{interval:?}");
}

/// A z may be infinite only where nothing varies, which is a reason instead.
#[track_caller]
pub fn test<Null: std::fmt::Debug>(test: OneSidedTest<Null>) {
    assert!(!test.z.is_nan(), "{test:?}");
    p_value(test.p_greater);
    p_value(test.p_less);
}

/// An answer to look at, or a reason that has a sentence.
#[track_caller]
pub fn maybe<T>(answer: Result<T, NotEstimable>, look: impl FnOnce(T)) {
    match answer {
        Ok(found) => look(found),
        Err(why) => assert!(!why.to_string().is_empty()),
    }
}
