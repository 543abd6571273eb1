//! What a comparison may claim, and when it may claim nothing.

use super::arm::{Arm, ByArm};
use super::endpoint::Endpoint;
use super::estimate::{reason_in_words, write_reason};
use super::look::NoVerdict;
use super::plan::PlannedMargin;
use super::population_result::ArmResult;
use crate::methods::interval::NotEstimable;
use crate::methods::non_inferiority::{Conclusion, claim};
use serde::Serialize;
use std::fmt;

/// What one population says about an endpoint.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "outcome", rename_all = "snake_case")]
pub enum Decision {
    /// The whole interval lies on the acceptable side of the margin.
    Shown,
    /// The interval contains the margin. That is not proof of the contrary.
    NotShown,
    /// The whole interval lies beyond the margin.
    WorseBeyondTheMargin,
    /// The data do not allow a conclusion.
    CannotConclude {
        /// Why not.
        reason: Reason,
    },
}

/// Why nothing can be concluded.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "code", rename_all = "snake_case")]
pub enum Reason {
    /// An arm has no case with a known outcome.
    EmptyArm {
        /// The arm.
        arm: Arm,
    },
    /// The outcome is known in too few cases of an arm.
    KnownTooRarely {
        /// The arm.
        arm: Arm,
        /// Cases whose outcome is known.
        known: u32,
        /// Cases whose outcome should be known.
        of: u32,
        /// The least share that must be known.
        least: f64,
    },
    /// An endpoint that the plan tests earlier is not shown, so this one is not tested.
    NotTested {
        /// The earlier endpoint.
        after: Endpoint,
    },
    /// The look at the data is none that the plan lets decide.
    NoVerdictAtThisLook {
        /// Why not.
        why: NoVerdict,
    },
    /// No case of either arm had the event, and the arms are too small to exclude the margin.
    NoEventInEitherArm,
    /// Every case of both arms had the event, and the arms are too small to exclude the margin.
    EventInEveryCase,
    /// The interval cannot be estimated.
    NotEstimable {
        /// Why not.
        #[serde(serialize_with = "write_reason")]
        why: NotEstimable,
    },
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::EmptyArm { arm } => write!(f, "the {} arm has no case with a known outcome", arm.name()),
            Self::KnownTooRarely { arm, known, of, least } => write!(
                f,
                "in the {} arm the outcome is known in only {known} of {of} cases, fewer than {} %",
                arm.name(),
                (least * 1e4).round() / 100.0
            ),
            Self::NotTested { after } => write!(
                f,
                "{} comes before it in the plan and is not shown, so it is not tested",
                after.label().to_lowercase()
            ),
            Self::NoVerdictAtThisLook { why } => why.fmt(f),
            Self::NoEventInEitherArm => f.write_str(
                "no case of either arm had the event, and the arms are too small to exclude the margin",
            ),
            Self::EventInEveryCase => f.write_str(
                "every case of both arms had the event, and the arms are too small to exclude the margin",
            ),
            Self::NotEstimable { why } => f.write_str(&reason_in_words(*why)),
        }
    }
}

impl Decision {
    /// Decides one population by what its interval says against the margin, unless the data forbid
    /// a conclusion.
    pub fn of_population(arms: &ByArm<ArmResult>, said: Conclusion, least_known: f64) -> Self {
        if let Some(reason) = obstacle(arms, least_known) {
            return Self::CannotConclude { reason };
        }
        let decision = Self::from(said);
        match (decision, same_everywhere(arms)) {
            (Self::NotShown, Some(reason)) => Self::CannotConclude { reason },
            (decision, _) => decision,
        }
    }

    /// What both populations say together: a claim stands only where both make it.
    pub fn of_both(as_intended: Self, per_protocol: Self) -> Self {
        match (as_intended.conclusion(), per_protocol.conclusion()) {
            (Ok(first), Ok(second)) => Self::from(claim(first, second)),
            (Err(reason), _) | (_, Err(reason)) => Self::CannotConclude { reason },
        }
    }

    fn conclusion(self) -> Result<Conclusion, Reason> {
        match self {
            Self::Shown => Ok(Conclusion::Shown),
            Self::NotShown => Ok(Conclusion::NotShown),
            Self::WorseBeyondTheMargin => Ok(Conclusion::WorseBeyondMargin),
            Self::CannotConclude { reason } => Err(reason),
        }
    }

    /// The decision in a word or three.
    pub fn label(self) -> &'static str {
        match self {
            Self::Shown => "shown",
            Self::NotShown => "not shown",
            Self::WorseBeyondTheMargin => "worse beyond the margin",
            Self::CannotConclude { .. } => "cannot conclude",
        }
    }

    /// The decision as one plain sentence about an endpoint and its margin.
    pub fn sentence(self, endpoint: Endpoint, margin: PlannedMargin) -> String {
        let (what, verb) = margin.subject(endpoint);
        let with = format!("{what} with zero-fluoroscopy {verb}");
        let amount =
            format!("than {} {} with conventional fluoroscopy", margin.amount(endpoint), margin.than());
        match self {
            Self::Shown => capital(&format!("{with} less {amount}.")),
            Self::NotShown => {
                format!("It is not shown that {with} less {amount}. This is no proof of the contrary.")
            }
            Self::WorseBeyondTheMargin => capital(&format!("{with} more {amount}.")),
            Self::CannotConclude { reason } => {
                format!("It cannot be concluded whether {with} less {amount}: {reason}.")
            }
        }
    }
}

impl From<Conclusion> for Decision {
    fn from(conclusion: Conclusion) -> Self {
        match conclusion {
            Conclusion::Shown => Self::Shown,
            Conclusion::NotShown => Self::NotShown,
            Conclusion::WorseBeyondMargin => Self::WorseBeyondTheMargin,
            Conclusion::CannotConclude { why } => {
                Self::CannotConclude { reason: Reason::NotEstimable { why } }
            }
        }
    }
}

fn obstacle(arms: &ByArm<ArmResult>, least: f64) -> Option<Reason> {
    if let Some((arm, _)) = arms.each().into_iter().find(|(_, result)| result.tally.known == 0) {
        return Some(Reason::EmptyArm { arm });
    }
    arms.each().into_iter().find_map(|(arm, result)| {
        let (known, of) = (result.tally.known, result.tally.known + result.tally.missing);
        (f64::from(known) < least * f64::from(of)).then_some(Reason::KnownTooRarely { arm, known, of, least })
    })
}

fn same_everywhere(arms: &ByArm<ArmResult>) -> Option<Reason> {
    let all = |test: fn(&ArmResult) -> bool| arms.each().into_iter().all(|(_, result)| test(result));
    if all(|result| result.tally.events == 0) {
        Some(Reason::NoEventInEitherArm)
    } else if all(|result| result.tally.events == result.tally.known) {
        Some(Reason::EventInEveryCase)
    } else {
        None
    }
}

/// A proportion in percentage points: "3 points", "1 point", "0.5 points".
pub fn points(proportion: f64) -> String {
    let points = (proportion * 1e8).round() / 1e6;
    let unit = if points == 1.0 { "point" } else { "points" };
    format!("{points} {unit}")
}

fn capital(sentence: &str) -> String {
    let mut letters = sentence.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
