//! What a registry can and cannot recover: every estimator of a comparison held to invented
//! networks whose truth is known, with the operator's sense of complexity recorded nowhere, half
//! visible in a recorded field, or recorded in full. Chance comes from outside.

mod estimators;
mod finding;
mod table;
mod world;

pub use estimators::Estimator;
pub use finding::{Finding, Recovered, TABLE, finding};
pub use table::Recovery;
pub use world::{Outcome, SimulatedCase, SimulatedOutcome};

use crate::methods::interval::{Interval, NotEstimable};
use estimators::answers;
use world::{moved_to, network};

/// How much of the operator's sense of complexity stands in a recorded field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Visibility {
    /// None of it.
    NotRecorded,
    /// A field that shares half of its variance.
    Half,
    /// All of it.
    Full,
}

impl Visibility {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::NotRecorded, Self::Half, Self::Full];

    /// The name in a table.
    pub fn label(self) -> &'static str {
        match self {
            Self::NotRecorded => "recorded nowhere",
            Self::Half => "half visible",
            Self::Full => "fully recorded",
        }
    }

    /// What is recorded of it in a case.
    fn column(self, case: &SimulatedCase) -> Option<f64> {
        match self {
            Self::NotRecorded => None,
            Self::Half => Some((case.complexity + case.noise) * std::f64::consts::FRAC_1_SQRT_2),
            Self::Full => Some(case.complexity),
        }
    }
}

/// One line of the table: what was estimated, how, and from what.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Line {
    /// The outcome.
    pub outcome: Outcome,
    /// The estimator.
    pub estimator: Estimator,
    /// What was recorded; absent where the estimator uses no covariate.
    pub visibility: Option<Visibility>,
}

/// What one estimator said of one network.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Answer {
    /// Its line.
    pub line: Line,
    /// Whether the true difference was moved to the margin.
    pub at_the_margin: bool,
    /// The true difference for whom it answers.
    pub truth: f64,
    /// What it said.
    pub said: Result<Interval, NotEstimable>,
}

/// Asks every estimator about one network, as it was built and with the truth at the margin.
pub fn trial(cases: &[SimulatedCase]) -> Vec<Answer> {
    let mut all = Vec::new();
    for outcome in Outcome::ALL {
        all.extend(answers(&network(cases, outcome), outcome, false));
        if let Some(margin) = outcome.margin() {
            let edge = margin.null_difference().difference();
            all.extend(answers(&moved_to(cases, outcome, edge), outcome, true));
        }
    }
    all
}
