//! An effect of one arm against the other, with its limits where it has any.

use super::cells::{Cells, number};
use super::column::Output;
use super::line::Cell;
use crate::methods::interval::{Confidence, NotEstimable};
use crate::methods::wald::WaldEstimate;

/// A risk alone, or a risk or contrast with its limits; a ratio on its own scale.
pub(super) struct Effect {
    estimate: f64,
    limits: Option<(f64, f64, WaldEstimate)>,
}

impl Effect {
    pub(super) fn risk(estimate: f64) -> Self {
        Self { estimate, limits: None }
    }

    pub(super) fn plain(wald: WaldEstimate, level: Confidence) -> Result<Self, NotEstimable> {
        let interval = wald.interval(level)?;
        Ok(Self { estimate: interval.estimate, limits: Some((interval.lower, interval.upper, wald)) })
    }

    pub(super) fn ratio(wald: WaldEstimate, level: Confidence) -> Result<Self, NotEstimable> {
        let interval = wald.ratio_interval(level)?;
        let estimate = interval.estimate.ok_or(NotEstimable::NoFiniteRatio)?.or_infinity();
        Ok(Self { estimate, limits: Some((interval.lower, interval.upper.or_infinity(), wald)) })
    }
}

impl Cells for Effect {
    const COLUMNS: &'static [Output] = &[
        Output::new("estimate", "the effect"),
        Output::new("lower", "lower confidence limit"),
        Output::new("upper", "upper confidence limit; Inf without bound"),
        Output::new("se", "standard error; of the logarithm for a ratio"),
        Output::new("df", "degrees of freedom; blank for the normal distribution"),
    ];

    fn cells(&self) -> Vec<Cell> {
        let blank = || Cell::Blank;
        let Some((lower, upper, wald)) = self.limits else {
            return vec![number(self.estimate), blank(), blank(), blank(), blank()];
        };
        let mut cells = [self.estimate, lower, upper, wald.standard_error].map(number).to_vec();
        cells.push(wald.degrees_of_freedom.map_or_else(blank, number));
        cells
    }

    fn remark(&self) -> Option<&'static str> {
        self.limits.is_none().then_some("limits are given for the difference and the ratio")
    }
}
