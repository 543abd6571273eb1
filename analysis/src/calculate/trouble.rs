//! Why a row cannot be read: the line, the column, the value and the mend.

use std::fmt;

use crate::methods::centre_effects::CentreEffectError;
use crate::methods::counts::CountError;
use crate::methods::cusum::{ExpectedProbabilityError, ThresholdError, WatchedChangeError};
use crate::methods::design_effect::CentresError;
use crate::methods::e_value::RatioLimitsError;
use crate::methods::funnel::TargetError;
use crate::methods::interval::ConfidenceError;
use crate::methods::missing_outcomes::PartlySeenError;
use crate::methods::non_inferiority::MarginError;
use crate::methods::null_test::{NullDifferenceError, NullRatioError};
use crate::methods::observed_expected::ExpectedEventsError;
use crate::methods::over_dispersion::WinsorisedShareError;
use crate::methods::plan::PlanError;
use crate::methods::positivity::PropensityBoundsError;
use crate::methods::posterior::PriorError;
use crate::methods::ratio_margin::RatioMarginError;
use crate::methods::run_length::{ActualOddsRatioError, RunLengthError, SteadyChartError};
use crate::methods::sample::ProbabilityError;
use crate::methods::spending::{AlphaPerSideError, LooksError, SpendingError, SpendingExponentError};

/// A value as it may be repeated: short, and without control characters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Shown(String);

impl Shown {
    pub(super) fn of(text: &str) -> Self {
        const LONGEST: usize = 40;
        let mut shown: String = text.chars().filter(|c| !c.is_control()).take(LONGEST).collect();
        if text.chars().count() > LONGEST {
            shown.push('…');
        }
        Self(shown)
    }
}

impl fmt::Display for Shown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "\"{}\"", self.0)
    }
}

/// What is wrong with a value.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Wrong {
    /// Nothing stands there.
    #[error("nothing stands there; it takes {0}, and a row whose value is missing is left out")]
    Blank(&'static str),
    /// Something else than the column takes.
    #[error("{0} is not {1}; {2}")]
    NotTaken(Shown, &'static str, &'static str),
    /// A parameter that changes within a set.
    #[error("{0} differs from {1} on line {2} of the same set; one set takes one value")]
    Differs(Shown, Shown, u64),
    /// A name that stands twice in a set.
    #[error("{0} stands twice in this set, on line {1} too; join the two rows, or name one otherwise")]
    Twice(Shown, u64),
    /// Other codes for the second arm within a set.
    #[error("{0} and {1} both stand for the second group of this set; use one of them")]
    GroupCodes(Shown, Shown),
    /// A set that was already calculated.
    #[error("{0} comes back after another set; sort the rows so that a set stands together")]
    SetComesBack(Shown),
    /// Another number of fields than the header.
    #[error(
        "the row has {found} fields where the header has {expected}; a text with a comma needs quotation marks, and decimals take a point"
    )]
    Ragged {
        /// Fields of the row.
        found: usize,
        /// Fields of the header.
        expected: usize,
    },
    /// Counts that contradict each other.
    #[error("{error}; {}", count_mend(.error))]
    Count {
        /// What contradicts what.
        #[from]
        error: CountError,
    },
    /// A confidence level out of range.
    #[error(transparent)]
    Level(#[from] ConfidenceError),
    /// A null difference out of range.
    #[error("{0}; write 2 points as 0.02")]
    NullDifference(#[from] NullDifferenceError),
    /// A null ratio out of range.
    #[error("{0}; write it as first / second")]
    NullRatio(#[from] NullRatioError),
    /// A margin out of range.
    #[error(transparent)]
    Margin(#[from] MarginError),
    /// A ratio margin out of range.
    #[error("{0}; a benefit takes less than 1, a harm more")]
    RatioMargin(#[from] RatioMarginError),
    /// A value that has no logarithm.
    #[error(
        "{0} has no logarithm; a dose of 0 belongs to the share of exposed cases: see the calculation exposure"
    )]
    NotPositive(Shown),
    /// A dose below 0.
    #[error("{0} is below 0, which no dose is; mend the value")]
    BelowZero(Shown),
    /// A value beyond what can be squared and added up.
    #[error("{0} is beyond 1e100, which no measurement is; mend the value or its unit")]
    TooLarge(Shown),
    /// A probability out of range.
    #[error("{0}; write 25 % as 0.25")]
    Probability(#[from] ProbabilityError),
    /// Bounds of a propensity out of order.
    #[error(transparent)]
    PropensityBounds(#[from] PropensityBoundsError),
    /// An expected probability out of range.
    #[error(transparent)]
    ExpectedProbability(#[from] ExpectedProbabilityError),
    /// A change to watch for out of range.
    #[error(transparent)]
    WatchedChange(#[from] WatchedChangeError),
    /// A threshold out of range.
    #[error(transparent)]
    Threshold(#[from] ThresholdError),
    /// An expected probability too near to 0 or 1 to plan a chart on.
    #[error("{0}; plan on the average of the cases to come")]
    SteadyChart(#[from] SteadyChartError),
    /// An odds ratio at work out of range.
    #[error("{0}; 1 is as expected")]
    ActualOddsRatio(#[from] ActualOddsRatioError),
    /// A run length out of range.
    #[error("{0}; it is a number of cases")]
    RunLength(#[from] RunLengthError),
    /// Looks that do not rise.
    #[error("{0}; write the looks in their order, half of the information as 0.5")]
    Looks(#[from] LooksError),
    /// An error rate on one side out of range.
    #[error(transparent)]
    AlphaPerSide(#[from] AlphaPerSideError),
    /// An exponent out of range.
    #[error("{0}; 1 spends in proportion to the information")]
    SpendingExponent(#[from] SpendingExponentError),
    /// Error rates that do not rise.
    #[error("{0}; write what was spent by this look and those before, on one side")]
    Spending(#[from] SpendingError),
    /// A target out of range.
    #[error(transparent)]
    Target(#[from] TargetError),
    /// A share to winsorise out of range.
    #[error(transparent)]
    WinsorisedShare(#[from] WinsorisedShareError),
    /// An expected count out of range.
    #[error("{0}; add up the expected probabilities of the cases")]
    ExpectedEvents(#[from] ExpectedEventsError),
    /// A part of a plan out of range.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// A prior out of range.
    #[error(transparent)]
    Prior(#[from] PriorError),
    /// A correlation within centres out of range.
    #[error(transparent)]
    Centres(#[from] CentresError),
    /// An effect of a centre without a usable variance.
    #[error(transparent)]
    CentreEffect(#[from] CentreEffectError),
    /// A ratio outside its limits.
    #[error(transparent)]
    RatioLimits(#[from] RatioLimitsError),
    /// Counts with missing outcomes that contradict each other.
    #[error(transparent)]
    PartlySeen(#[from] PartlySeenError),
    /// A choice that needs a column.
    #[error("{0} needs the column {1}; add it, or choose another")]
    Needs(Shown, &'static str),
    /// More than the calculation lists.
    #[error("{0} is more than {1}, the most that is listed here")]
    TooMany(Shown, u32),
}

fn count_mend(error: &CountError) -> &'static str {
    match error {
        CountError::NoCases => "leave the row out if nobody was observed",
        CountError::MoreEventsThanCases { .. } => "perhaps two columns are swapped",
    }
}

/// A value that cannot be read, and where.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{}: {wrong}", place(.line, .column))]
pub struct Trouble {
    /// Number of the row as it was given; none for a value that stands beside the rows.
    pub line: Option<u64>,
    /// The column, where one is to blame.
    pub column: Option<String>,
    /// What is wrong with it.
    pub wrong: Wrong,
}

fn place(line: &Option<u64>, column: &Option<String>) -> String {
    match (line, column) {
        (Some(line), Some(column)) => format!("line {line}, column {column}"),
        (Some(line), None) => format!("line {line}"),
        (None, Some(column)) => format!("the value given for {column}"),
        (None, None) => "the values given".to_owned(),
    }
}
