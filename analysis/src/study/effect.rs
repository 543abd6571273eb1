//! What was estimated, on the scale on which a plan decides: a difference of proportions, or the
//! ratio of what nobody wants.

use super::adjustment::Adjusted;
use super::endpoint::Endpoint;
use super::estimate::{Estimate, reason_in_words};
use super::numerals;
use crate::methods::centre_effects::{
    CentreEffect, log_risk_ratios_size_matched, risk_differences_by_common_rates,
};
use crate::methods::counts::{Stratum, TwoArms};
use crate::methods::interval::{Confidence, Interval, NotEstimable, RatioInterval};
use crate::methods::ratio::miettinen_nurminen_ratio_interval;
use crate::methods::score::miettinen_nurminen_interval;
use quietbeam_schema::vocabulary::MarginScale;
use serde::Serialize;

/// An effect of zero-fluoroscopy against conventional fluoroscopy, or why there is none.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Effect {
    /// The difference of the proportions, zero-fluoroscopy − conventional.
    Difference(Estimate<Interval>),
    /// The ratio of the proportions of what nobody wants, zero-fluoroscopy / conventional.
    Ratio(Estimate<RatioInterval>),
}

/// An effect as it is drawn: a difference, or the natural logarithm of a ratio, so that no effect
/// lies at 0 either way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawn {
    /// The lower limit.
    pub lower: f64,
    /// The estimate.
    pub estimate: f64,
    /// The upper limit.
    pub upper: f64,
}

/// Beyond every ratio that can be told from data, as a natural logarithm.
const WITHOUT_BOUND: f64 = 14.0;

fn logarithm(ratio: f64) -> f64 {
    if ratio > 0.0 { libm::log(ratio).clamp(-WITHOUT_BOUND, WITHOUT_BOUND) } else { -WITHOUT_BOUND }
}

impl Effect {
    /// The one of both that stands on a scale.
    pub(super) fn on(
        scale: MarginScale,
        difference: impl Into<Estimate<Interval>>,
        ratio: impl Into<Estimate<RatioInterval>>,
    ) -> Self {
        match scale {
            MarginScale::RiskDifference => Self::Difference(difference.into()),
            MarginScale::RiskRatio => Self::Ratio(ratio.into()),
        }
    }

    /// What a model says.
    pub(super) fn adjusted(scale: MarginScale, found: Result<Adjusted, NotEstimable>) -> Self {
        match found {
            Ok(adjusted) => Self::on(scale, Estimate::Estimated(adjusted.difference), adjusted.ratio),
            Err(why) => Self::none(scale, why),
        }
    }

    /// No effect, because nothing can be estimated.
    pub(super) fn none(scale: MarginScale, why: NotEstimable) -> Self {
        Self::on(scale, Estimate::CannotBeEstimated(why), Estimate::CannotBeEstimated(why))
    }

    /// Of two arms thrown together, with score limits.
    pub(super) fn crude(
        scale: MarginScale,
        endpoint: Endpoint,
        arms: Result<TwoArms, NotEstimable>,
        level: Confidence,
    ) -> Self {
        match (scale, arms) {
            (_, Err(why)) => Self::none(scale, why),
            (MarginScale::RiskDifference, Ok(two)) => {
                Self::Difference(Estimate::Estimated(miettinen_nurminen_interval(two, level)))
            }
            (MarginScale::RiskRatio, Ok(two)) => {
                let two = endpoint.unwanted_of_arms(two);
                Self::Ratio(Estimate::Estimated(miettinen_nurminen_ratio_interval(two, level)))
            }
        }
    }

    /// Of an interval that was computed as centres are pooled: as a difference, or as the natural
    /// logarithm of a ratio.
    pub(super) fn pooled(scale: MarginScale, found: Result<Interval, NotEstimable>) -> Self {
        Self::on(scale, found, found.map(RatioInterval::of_logarithm))
    }

    /// Why it cannot be estimated, if so.
    pub fn obstacle(&self) -> Option<NotEstimable> {
        match self {
            Self::Difference(Estimate::CannotBeEstimated(why))
            | Self::Ratio(Estimate::CannotBeEstimated(why)) => Some(*why),
            Self::Difference(Estimate::Estimated(_)) | Self::Ratio(Estimate::Estimated(_)) => None,
        }
    }

    /// The numbers as a table tells them: +0.88 (−0.41 to +2.19) in points, or 1.18 (0.82 to 1.71).
    ///
    /// # Errors
    /// Why there are none, as a part of a sentence.
    pub fn in_numbers(&self) -> Result<String, String> {
        match self {
            Self::Difference(Estimate::Estimated(found)) => Ok(numerals::difference(found)),
            Self::Ratio(Estimate::Estimated(found)) => Ok(numerals::ratio(found)),
            Self::Difference(Estimate::CannotBeEstimated(why))
            | Self::Ratio(Estimate::CannotBeEstimated(why)) => Err(reason_in_words(*why)),
        }
    }

    /// Where it is drawn; `None` where there is nothing to draw.
    pub fn drawn(&self) -> Option<Drawn> {
        match self {
            Self::Difference(found) => found.estimated().map(|found| Drawn {
                lower: found.lower,
                estimate: found.estimate,
                upper: found.upper,
            }),
            Self::Ratio(found) => found.estimated().and_then(|found| {
                Some(Drawn {
                    lower: logarithm(found.lower),
                    estimate: logarithm(found.estimate?.or_infinity()),
                    upper: logarithm(found.upper.or_infinity()),
                })
            }),
        }
    }
}

/// The effect of each centre as centres are pooled; a centre without either arm has none. Of a
/// ratio the logarithm, with the size-matched correction where a cell is empty.
pub(super) fn centre_effects(
    scale: MarginScale,
    endpoint: Endpoint,
    strata: &[Stratum],
) -> Result<Vec<Option<CentreEffect>>, NotEstimable> {
    match scale {
        MarginScale::RiskDifference => risk_differences_by_common_rates(strata),
        MarginScale::RiskRatio => {
            let unwanted: Vec<Stratum> = strata.iter().map(|own| endpoint.unwanted_of_stratum(own)).collect();
            let effects = log_risk_ratios_size_matched(&unwanted);
            if effects.iter().all(Option::is_none) {
                return Err(NotEstimable::NoStratumWithBothArms);
            }
            Ok(effects)
        }
    }
}
