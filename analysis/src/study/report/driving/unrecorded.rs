//! A cause that nobody recorded: how strong it would have to be to explain the result away.

use crate::methods::e_value::{EValue, RatioLimits, e_value_of_risk_ratio};
use crate::methods::interval::{NotEstimable, Ratio, RatioInterval};
use crate::study::estimate::{Estimate, reason_in_words};
use crate::study::numerals;
use crate::study::planned::PlannedResult;
use quietbeam_schema::vocabulary::PrimaryMethod;
use serde::Serialize;

/// E-values of the ratio of what nobody wants: failures, or major complications.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Unrecorded {
    /// The crude risk ratio (zero-fluoroscopy / conventional) with score limits, as intended.
    pub crude_ratio: Estimate<RatioInterval>,
    /// Its E-value, and that of the limit nearer to 1.
    pub crude: Estimate<EValue>,
    /// The ratio by the plan's method.
    pub planned_ratio: Estimate<RatioInterval>,
    /// Its E-value, and that of the limit nearer to 1.
    pub planned: Estimate<EValue>,
    /// The same in words.
    pub in_words: String,
}

impl Unrecorded {
    pub(super) fn new(result: &PlannedResult, method: PrimaryMethod) -> Self {
        let crude_ratio = result.as_intended.crude.ratio.miettinen_nurminen;
        let planned_ratio = result.as_intended.ratio(method);
        let of = |ratio: Estimate<RatioInterval>| -> Result<EValue, NotEstimable> {
            RatioLimits::try_from(ratio.result()?).map(e_value_of_risk_ratio)
        };
        let (crude, planned) = (of(crude_ratio), of(planned_ratio));
        let in_words = format!("{} {}", of_crude(&crude), of_planned(&planned));
        Self { crude_ratio, crude: crude.into(), planned_ratio, planned: planned.into(), in_words }
    }
}

fn strength(ratio: Ratio) -> String {
    match ratio {
        Ratio::Finite(ratio) => numerals::measured(ratio),
        Ratio::Unbounded => "more than any number".to_owned(),
    }
}

fn of_crude(crude: &Result<EValue, NotEstimable>) -> String {
    match crude {
        Ok(EValue { estimate: Ratio::Unbounded, .. }) => {
            "No unrecorded cause of finite strength explains the crude ratio away.".to_owned()
        }
        Ok(EValue { estimate, limit }) => format!(
            "An unrecorded cause would have to be tied to strategy and outcome by a risk ratio of {} each to explain the crude ratio away, and of {} to move its nearer limit to 1.",
            strength(*estimate),
            strength(*limit)
        ),
        Err(why) => format!(
            "How strong an unrecorded cause would have to be cannot be estimated, because {}.",
            reason_in_words(*why)
        ),
    }
}

fn of_planned(planned: &Result<EValue, NotEstimable>) -> String {
    match planned {
        Ok(EValue { estimate, limit }) => {
            format!(
                "Of the ratio by the planned method it takes {} and {}.",
                strength(*estimate),
                strength(*limit)
            )
        }
        Err(why) => {
            format!("Of the planned method there is no such ratio, because {}.", reason_in_words(*why))
        }
    }
}
