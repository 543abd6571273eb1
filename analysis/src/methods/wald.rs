//! Estimates with a standard error, and what follows from the two.

use serde::{Deserialize, Serialize};

use super::distribution::{normal_upper_tail, student_two_sided_p, student_upper_quantile};
use super::interval::{Confidence, Interval, IntervalMethod, NotEstimable, RatioInterval};

/// An estimate on a scale on which it is about normal.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WaldEstimate {
    /// Point estimate.
    pub estimate: f64,
    /// Standard error, above 0.
    pub standard_error: f64,
    /// Degrees of freedom of Student's distribution; `None` for the normal distribution.
    pub degrees_of_freedom: Option<f64>,
    /// How the standard error was computed.
    pub method: IntervalMethod,
}

impl WaldEstimate {
    /// Refuses a standard error that is 0 or not a number.
    pub(super) fn new(
        estimate: f64,
        variance: f64,
        degrees_of_freedom: Option<f64>,
        method: IntervalMethod,
    ) -> Result<Self, NotEstimable> {
        let standard_error = variance.sqrt();
        if !(standard_error > 0.0 && standard_error.is_finite() && estimate.is_finite()) {
            return Err(NotEstimable::NoVariation);
        }
        Ok(Self { estimate, standard_error, degrees_of_freedom, method })
    }

    /// Estimate ± quantile × standard error, on the scale of the estimate.
    pub fn interval(self, level: Confidence) -> Result<Interval, NotEstimable> {
        let quantile = match self.degrees_of_freedom {
            None => level.z(),
            Some(df) => student_upper_quantile(level.tail(), df),
        };
        let reach = quantile * self.standard_error;
        let (estimate, method) = (self.estimate, self.method);
        let interval = Interval { estimate, lower: estimate - reach, upper: estimate + reach, level, method };
        if reach.is_finite() { Ok(interval) } else { Err(NotEstimable::LimitsTooWide) }
    }

    /// The interval of an estimate that is the logarithm of a ratio, as a ratio.
    pub fn ratio_interval(self, level: Confidence) -> Result<RatioInterval, NotEstimable> {
        self.interval(level).map(RatioInterval::of_logarithm)
    }

    /// Two-sided p of the estimate being 0.
    pub fn p_two_sided(self) -> f64 {
        let statistic = self.estimate / self.standard_error;
        match self.degrees_of_freedom {
            None => 2.0 * normal_upper_tail(statistic.abs()),
            Some(df) => student_two_sided_p(statistic, df),
        }
    }
}
