//! The decision on non-inferiority: an interval against a margin fixed beforehand.

use serde::{Deserialize, Serialize};

use super::interval::{Interval, NotEstimable};
use super::null_test::{NullDifference, OneSidedTest};

/// Why a number is not a margin.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("a margin of {size} does not lie strictly between 0 and 1; write 3 points as 0.03, without a sign")]
pub struct MarginError {
    /// The number given.
    pub size: f64,
}

/// Size of the largest acceptable loss, as a difference of proportions above 0 and below 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct MarginSize(f64);

impl MarginSize {
    /// A size such as 0.03; never signed, the kind of outcome decides the side.
    ///
    /// # Errors
    /// 0 or less, 1 or more, or not a number.
    pub fn new(size: f64) -> Result<Self, MarginError> {
        if size > 0.0 && size < 1.0 { Ok(Self(size)) } else { Err(MarginError { size }) }
    }

    /// The size as a proportion, above 0.
    pub fn size(self) -> f64 {
        self.0
    }
}

impl TryFrom<f64> for MarginSize {
    type Error = MarginError;

    fn try_from(size: f64) -> Result<Self, MarginError> {
        Self::new(size)
    }
}

impl From<MarginSize> for f64 {
    fn from(margin: MarginSize) -> f64 {
        margin.0
    }
}

/// A margin on the side its outcome demands.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "outcome", content = "size", rename_all = "snake_case")]
pub enum Margin {
    /// More is better (success): the difference must stay above −size.
    Benefit(MarginSize),
    /// More is worse (complication): the difference must stay below +size.
    Harm(MarginSize),
}

impl Margin {
    /// The difference (first − second) at which the first arm is just unacceptable.
    pub fn null_difference(self) -> NullDifference {
        match self {
            Self::Benefit(size) => NullDifference::from_margin(-size.0),
            Self::Harm(size) => NullDifference::from_margin(size.0),
        }
    }

    /// The one-sided p value of non-inferiority from a test at the margin.
    ///
    /// `test` must have been taken at [`Margin::null_difference`]; otherwise `None`.
    pub fn one_sided_p(self, test: &OneSidedTest<NullDifference>) -> Option<f64> {
        if test.null != self.null_difference() {
            return None;
        }
        Some(match self {
            Self::Benefit(_) => test.p_greater,
            Self::Harm(_) => test.p_less,
        })
    }
}

/// What one population says about non-inferiority.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "conclusion", rename_all = "snake_case")]
pub enum Conclusion {
    /// The whole interval lies on the acceptable side of the margin.
    Shown,
    /// The interval contains the margin: neither shown nor refuted.
    NotShown,
    /// The whole interval lies on the unacceptable side of the margin.
    WorseBeyondMargin,
    /// There is no interval to decide with.
    CannotConclude {
        /// Why not.
        why: NotEstimable,
    },
}

/// Non-inferiority decided by a two-sided interval of the difference (first − second).
///
/// Formula: benefit is shown when lower > −margin and worse when upper < −margin; harm is
/// shown when upper < +margin and worse when lower > +margin; anything else is not shown.
/// Units: interval and margin are differences of proportions; the level is the interval's.
/// Edges: a limit exactly on the margin shows nothing; no interval, no conclusion.
/// Source: [consort_noninferiority2012].
/// Checked: beside the code and against the one-sided tests in tests/numbers.
pub fn decide(interval: &Result<Interval, NotEstimable>, margin: Margin) -> Conclusion {
    let interval = match interval {
        Ok(interval) => interval,
        Err(why) => return Conclusion::CannotConclude { why: *why },
    };
    let edge = margin.null_difference().difference();
    let (acceptable, unacceptable) = match margin {
        Margin::Benefit(_) => (interval.lower > edge, interval.upper < edge),
        Margin::Harm(_) => (interval.upper < edge, interval.lower > edge),
    };
    if acceptable {
        Conclusion::Shown
    } else if unacceptable {
        Conclusion::WorseBeyondMargin
    } else {
        Conclusion::NotShown
    }
}

/// What two populations say together: a claim stands only where both make it.
///
/// Formula: equal conclusions stand; if one population cannot conclude, neither can both
/// together (the primary's reason first); any other disagreement is "not shown".
/// Units: none.
/// Edges: "shown" beside "worse beyond the margin" is "not shown"; print both populations.
/// Source: [consort_noninferiority2012].
/// Checked: beside the code.
pub fn claim(primary: Conclusion, co_primary: Conclusion) -> Conclusion {
    match (primary, co_primary) {
        (why @ Conclusion::CannotConclude { .. }, _) | (_, why @ Conclusion::CannotConclude { .. }) => why,
        (a, b) if a == b => a,
        _ => Conclusion::NotShown,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::interval::{Confidence, IntervalMethod};
    use super::*;

    fn interval(lower: f64, upper: f64) -> Result<Interval, NotEstimable> {
        Ok(Interval {
            estimate: (lower + upper) / 2.0,
            lower,
            upper,
            level: Confidence::NINETY_FIVE,
            method: IntervalMethod::MiettinenNurminen,
        })
    }

    fn check(margin: Margin, lower: f64, upper: f64, expected: Conclusion) {
        assert_eq!(decide(&interval(lower, upper), margin), expected, "{margin:?} {lower} {upper}");
    }

    #[test]
    fn the_margin_sits_below_for_benefit_and_above_for_harm() {
        let size = MarginSize::new(0.03).unwrap();
        let benefit = Margin::Benefit(size);
        check(benefit, -0.029, 0.01, Conclusion::Shown);
        check(benefit, -0.03, 0.01, Conclusion::NotShown);
        check(benefit, -0.05, -0.031, Conclusion::WorseBeyondMargin);
        check(benefit, -0.05, -0.03, Conclusion::NotShown);
        check(benefit, 0.04, 0.06, Conclusion::Shown);
        let harm = Margin::Harm(size);
        check(harm, -0.01, 0.029, Conclusion::Shown);
        check(harm, -0.01, 0.03, Conclusion::NotShown);
        check(harm, 0.031, 0.05, Conclusion::WorseBeyondMargin);
        check(harm, -0.06, -0.04, Conclusion::Shown);
    }

    #[test]
    fn a_margin_has_no_sign_and_no_percentage() {
        for wrong in [0.0, -0.03, 1.0, 3.0, f64::NAN] {
            assert!(MarginSize::new(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn both_populations_must_agree() {
        let why = NotEstimable::NoStratumWithBothArms;
        let cannot = Conclusion::CannotConclude { why };
        let (shown, not, worse) = (Conclusion::Shown, Conclusion::NotShown, Conclusion::WorseBeyondMargin);
        for (a, b, both) in [
            (shown, shown, shown),
            (shown, not, not),
            (not, not, not),
            (worse, worse, worse),
            (worse, shown, not),
            (worse, not, not),
            (shown, cannot, cannot),
            (cannot, worse, cannot),
        ] {
            assert_eq!(claim(a, b), both);
            assert_eq!(claim(b, a), both);
        }
        assert_eq!(decide(&Err(why), Margin::Harm(MarginSize::new(0.01).unwrap())), cannot);
    }
}
