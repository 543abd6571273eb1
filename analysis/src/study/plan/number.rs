//! Numbers of a plan, each with what is wrong where it cannot be one.

use super::{PlannedMargin, Trouble};
use crate::methods::interval::Confidence;
use crate::methods::non_inferiority::MarginSize;
use crate::methods::ratio_margin::RatioMargin;
use crate::study::endpoint::Endpoint;
use quietbeam_schema::vocabulary::MarginScale;

/// Beyond that a claim would say nothing (common practice, no source).
const WIDEST_RATIO: f64 = 5.0;

/// The two-sided level of every interval.
pub(in crate::study) fn level(level: f64) -> Result<Confidence, Trouble> {
    let read = (0.9..=0.999).contains(&level).then(|| Confidence::new(level).ok()).flatten();
    read.ok_or(Trouble::Level(level))
}

/// How much worse is still acceptable.
pub(in crate::study) fn margin(size: f64) -> Result<MarginSize, Trouble> {
    let read = (size < 0.5).then(|| MarginSize::new(size).ok()).flatten();
    read.ok_or(Trouble::Margin(size))
}

/// How much worse is still acceptable, on the scale that the plan chose.
pub(in crate::study) fn planned_margin(
    (endpoint, scale): (Endpoint, MarginScale),
    size: f64,
) -> Result<PlannedMargin, Trouble> {
    match scale {
        MarginScale::RiskDifference => {
            margin(size).map(|size| PlannedMargin::Difference(endpoint.margin_of(size)))
        }
        MarginScale::RiskRatio => {
            let read = (size <= WIDEST_RATIO).then(|| RatioMargin::for_harm(size).ok()).flatten();
            read.map(PlannedMargin::Ratio).ok_or(Trouble::RatioMargin(size))
        }
    }
}

/// The proportion expected in the conventional arm.
pub(in crate::study) fn expected(proportion: f64) -> Result<f64, Trouble> {
    if proportion > 0.0 && proportion < 1.0 { Ok(proportion) } else { Err(Trouble::Expected(proportion)) }
}
