//! Whether a logistic regression has events enough for its columns.

use serde::{Deserialize, Serialize};

/// The rarer outcome against the columns of a regression.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct EventsPerParameter {
    /// Cases of the rarer outcome.
    pub rarer: usize,
    /// Columns of the regression, without the intercept.
    pub parameters: usize,
}

impl EventsPerParameter {
    /// Cases of the rarer outcome for each column.
    ///
    /// Formula: min(events, non-events) / columns.
    /// Units: cases a column.
    /// Edges: `None` without a column.
    /// Source: [peduzzi1996].
    /// Checked: tests/numbers/logistic.rs.
    pub fn ratio(self) -> Option<f64> {
        (self.parameters > 0).then(|| self.rarer as f64 / self.parameters as f64)
    }

    /// Fewer than ten a column: coefficients are biased away from none, and Wald limits are
    /// unreliable. The ten is a rule of thumb.
    pub fn are_few(self) -> bool {
        self.rarer < 10 * self.parameters
    }
}
