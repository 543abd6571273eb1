//! A cause that nobody recorded: how strong it would have to be to explain the result away.

use crate::methods::e_value::{EValue, RatioLimits, e_value_of_risk_ratio};
use crate::methods::interval::{NotEstimable, Ratio, RatioInterval};
use crate::study::endpoint::Estimate;
use crate::study::numerals;
use crate::study::planned::PlannedResult;
use serde::Serialize;

/// E-values of the ratio of what nobody wants: failures, or major complications.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Unrecorded {
    /// The crude risk ratio (zero-fluoroscopy / conventional) with score limits, as intended.
    pub crude_ratio: Estimate<RatioInterval>,
    /// Its E-value, and that of the limit nearer to 1.
    pub crude: Estimate<EValue>,
    /// The ratio of the adjusted risks; absent where they cannot be estimated.
    pub adjusted_ratio: Option<f64>,
    /// The E-value of the adjusted ratio; it has no limits of its own.
    pub adjusted: Option<Ratio>,
    /// The same in words.
    pub in_words: String,
}

impl Unrecorded {
    pub(super) fn new(result: &PlannedResult) -> Self {
        let crude_ratio = result.as_intended.crude.ratio.miettinen_nurminen;
        let crude = match crude_ratio {
            Estimate::Estimated(ratio) => RatioLimits::try_from(ratio).map(e_value_of_risk_ratio),
            Estimate::CannotBeEstimated(why) => Err(why),
        };
        let adjusted_ratio = adjusted(result);
        let alone = |ratio: f64| {
            RatioLimits::new(Ratio::Finite(ratio), ratio, Ratio::Finite(ratio))
                .ok()
                .map(|limits| e_value_of_risk_ratio(limits).estimate)
        };
        Self {
            in_words: in_words(&crude),
            crude_ratio,
            crude: crude.into(),
            adjusted: adjusted_ratio.and_then(alone),
            adjusted_ratio,
        }
    }
}

fn adjusted(result: &PlannedResult) -> Option<f64> {
    match result.as_intended.adjusted.standardised.estimated()?.ratio.estimated()?.estimate? {
        Ratio::Finite(ratio) => Some(ratio),
        Ratio::Unbounded => None,
    }
}

fn in_words(crude: &Result<EValue, NotEstimable>) -> String {
    match crude {
        Ok(EValue { estimate: Ratio::Finite(estimate), limit }) => {
            let limit = match limit {
                Ratio::Finite(limit) => numerals::measured(*limit),
                Ratio::Unbounded => "more than any number".to_owned(),
            };
            format!(
                "An unrecorded cause would have to be tied to strategy and outcome by a risk ratio of {} each to explain the crude ratio away, and of {limit} to move its nearer limit to 1.",
                numerals::measured(*estimate)
            )
        }
        Ok(EValue { estimate: Ratio::Unbounded, .. }) => {
            "No unrecorded cause of finite strength explains the crude ratio away.".to_owned()
        }
        Err(why) => format!(
            "How strong an unrecorded cause would have to be cannot be estimated, because {}.",
            crate::study::endpoint::reason_in_words(*why)
        ),
    }
}
