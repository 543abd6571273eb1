//! Something estimated, or why it cannot be.

use crate::methods::interval::NotEstimable;
use serde::{Serialize, Serializer};

/// Something estimated, or the reason why it cannot be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Estimate<T> {
    /// The estimate.
    Estimated(T),
    /// Why there is none; written as a sentence.
    #[serde(serialize_with = "write_reason")]
    CannotBeEstimated(NotEstimable),
}

/// Writes why something cannot be estimated as a sentence that names the arms.
pub(super) fn write_reason<S: Serializer>(why: &NotEstimable, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(&reason_in_words(*why))
}

/// Why something cannot be estimated, with the arms by their names.
pub fn reason_in_words(why: NotEstimable) -> String {
    if let NotEstimable::SeparatedByColumn { .. } = why {
        // A reader knows no columns; the adjustment names the variable.
        return "one variable of the model alone separates events from non-events: no finite estimate exists"
            .to_owned();
    }
    why.to_string()
        .replace("first arm", "zero-fluoroscopy arm")
        .replace("second arm", "conventional arm")
        .replace("stratum", "centre or group of one")
}

impl<T> From<Result<T, NotEstimable>> for Estimate<T> {
    fn from(result: Result<T, NotEstimable>) -> Self {
        match result {
            Ok(estimate) => Self::Estimated(estimate),
            Err(why) => Self::CannotBeEstimated(why),
        }
    }
}

impl<T> Estimate<T> {
    /// The estimate, if there is one.
    pub fn estimated(&self) -> Option<&T> {
        match self {
            Self::Estimated(estimate) => Some(estimate),
            Self::CannotBeEstimated(_) => None,
        }
    }

    /// The estimate, or why there is none.
    pub(super) fn result(self) -> Result<T, NotEstimable> {
        match self {
            Self::Estimated(estimate) => Ok(estimate),
            Self::CannotBeEstimated(why) => Err(why),
        }
    }
}
