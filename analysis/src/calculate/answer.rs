//! What a calculation says: the columns of every result type of the methods.

use super::cells::{Cells, number};
use super::column::Output;
use super::line::{Cell, Line};
use crate::methods::association::ChiSquareTest;
use crate::methods::dose::GeometricMeanRatio;
use crate::methods::exact_odds_ratio::ExactTest;
use crate::methods::interval::{Interval, NotEstimable, Ratio, RatioInterval};
use crate::methods::log_rank::LogRankTest;
use crate::methods::non_inferiority::Conclusion;
use crate::methods::null_test::OneSidedTest;
use crate::methods::plan::CannotPlan;
use crate::methods::rank::RankSumTest;
use crate::methods::stratified_score::StratifiedDifference;
use crate::methods::survival::{RestrictedMean, RestrictedMeanDifference};
use std::marker::PhantomData;

/// A result as rows of named cells.
pub(super) trait Answer {
    /// The columns, the same for every answer of the type.
    fn outputs() -> Vec<Output>;

    /// The rows: one, or one for each group.
    fn lines(self) -> Vec<Line>;
}

impl<T: Cells> Answer for T {
    fn outputs() -> Vec<Output> {
        T::COLUMNS.to_vec()
    }

    fn lines(self) -> Vec<Line> {
        let reason = self.remark().map(str::to_owned);
        vec![Line { cells: self.cells(), reason }]
    }
}

/// Why there is no answer, in words for the table.
pub(super) trait Reason: std::fmt::Display {}

impl Reason for NotEstimable {}
impl Reason for CannotPlan {}

/// An answer, or why there is none.
impl<T: Cells, E: Reason> Answer for Result<T, E> {
    fn outputs() -> Vec<Output> {
        T::COLUMNS.to_vec()
    }

    fn lines(self) -> Vec<Line> {
        match self {
            Ok(answer) => answer.lines(),
            Err(why) => {
                vec![Line { cells: vec![Cell::Blank; T::COLUMNS.len()], reason: Some(why.to_string()) }]
            }
        }
    }
}

/// What tells the rows of one answer apart.
pub(super) trait Key {
    /// The column in front of each row.
    const COLUMN: Output;
}

/// Groups of cases.
pub(super) struct Group;

impl Key for Group {
    const COLUMN: Output = Output::new("group", "the group that the row is about");
}

/// An answer for each of several things, told apart in a column in front.
pub(super) struct Each<A, K = Group> {
    rows: Vec<(String, A)>,
    key: PhantomData<K>,
}

impl<A, K> Each<A, K> {
    pub(super) fn of(rows: impl IntoIterator<Item = (String, A)>) -> Self {
        Self { rows: rows.into_iter().collect(), key: PhantomData }
    }
}

impl<A: Answer, K: Key> Answer for Each<A, K> {
    fn outputs() -> Vec<Output> {
        let mut outputs = vec![K::COLUMN];
        outputs.extend(A::outputs());
        outputs
    }

    fn lines(self) -> Vec<Line> {
        let named = |(name, answer): (String, A)| {
            answer.lines().into_iter().map(move |mut line| {
                line.cells.insert(0, Cell::Word(name.clone()));
                line
            })
        };
        self.rows.into_iter().flat_map(named).collect()
    }
}

/// Several answers for all rows together, or why there are none: then one row says so.
impl<A: Answer, K: Key, E: Reason> Answer for Result<Each<A, K>, E> {
    fn outputs() -> Vec<Output> {
        Each::<A, K>::outputs()
    }

    fn lines(self) -> Vec<Line> {
        match self {
            Ok(answer) => answer.lines(),
            Err(why) => {
                vec![Line { cells: vec![Cell::Blank; Self::outputs().len()], reason: Some(why.to_string()) }]
            }
        }
    }
}

const ESTIMATE: Output = Output::new("estimate", "point estimate");
const LOWER: Output = Output::new("lower", "lower confidence limit");
const UPPER: Output = Output::new("upper", "upper confidence limit; Inf without bound");

impl Cells for Interval {
    const COLUMNS: &'static [Output] = &[ESTIMATE, LOWER, UPPER];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.estimate), number(self.lower), number(self.upper)]
    }
}

impl Cells for RatioInterval {
    const COLUMNS: &'static [Output] = &[ESTIMATE, LOWER, UPPER];

    fn cells(&self) -> Vec<Cell> {
        let ratio = |ratio: Ratio| match ratio {
            Ratio::Finite(value) => number(value),
            Ratio::Unbounded => Cell::Unbounded,
        };
        vec![self.estimate.map_or(Cell::Blank, ratio), number(self.lower), ratio(self.upper)]
    }

    fn remark(&self) -> Option<&'static str> {
        self.estimate.is_none().then_some("no estimate: both sides of the ratio are 0")
    }
}

impl<Null> Cells for OneSidedTest<Null> {
    const COLUMNS: &'static [Output] = &[
        Output::new("z", "standardised distance from the null"),
        Output::new("p_greater", "one-sided p; small when the observation lies above the null"),
        Output::new("p_less", "one-sided p; small when it lies below"),
    ];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.z), number(self.p_greater), number(self.p_less)]
    }
}

const STATISTIC: Output = Output::new("statistic", "chi-square statistic");
const DF: Output = Output::new("df", "degrees of freedom");
const P: Output = Output::new("p", "two-sided p value");

impl Cells for ChiSquareTest {
    const COLUMNS: &'static [Output] = &[STATISTIC, DF, P];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.statistic), number(self.degrees_of_freedom), number(self.p)]
    }
}

const P_LESS: Output = Output::new("p_less", "one-sided p of less in the first arm");
const P_GREATER: Output = Output::new("p_greater", "one-sided p of more in the first arm");
const P_TWO_SIDED: Output = Output::new("p_two_sided", "two-sided p");

impl Cells for ExactTest {
    const COLUMNS: &'static [Output] = &[P_LESS, P_GREATER, P_TWO_SIDED];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.p_less), number(self.p_greater), number(self.p_two_sided)]
    }
}

impl Cells for RankSumTest {
    const COLUMNS: &'static [Output] = &[
        Output::new("pairs_won", "pairs in which the first arm is larger, ties as one half"),
        P_LESS,
        P_GREATER,
        P_TWO_SIDED,
    ];

    fn cells(&self) -> Vec<Cell> {
        let Self { pairs_won, p_less, p_greater, p_two_sided } = *self;
        [pairs_won, p_less, p_greater, p_two_sided].map(number).to_vec()
    }
}

impl Cells for GeometricMeanRatio {
    const COLUMNS: &'static [Output] =
        &[ESTIMATE, LOWER, UPPER, Output::new("se", "standard error of the logarithm of the ratio"), DF, P];

    fn cells(&self) -> Vec<Cell> {
        let mut cells = self.interval.cells();
        cells.extend([self.log_standard_error, self.degrees_of_freedom, self.p_two_sided].map(number));
        cells
    }
}

impl Cells for StratifiedDifference {
    const COLUMNS: &'static [Output] =
        &[ESTIMATE, LOWER, UPPER, Output::new("strata_left_out", "strata in which one arm has no cases")];

    fn cells(&self) -> Vec<Cell> {
        let mut cells = self.interval.cells();
        cells.push(Cell::Word(self.left_out().to_string()));
        cells
    }
}

impl Cells for LogRankTest {
    const COLUMNS: &'static [Output] = &[
        Output::new("estimate", "observed minus expected events of the first group"),
        Output::new("variance", "variance of the estimate"),
        STATISTIC,
        DF,
        P,
    ];

    fn cells(&self) -> Vec<Cell> {
        let mut cells = vec![number(self.excess), number(self.variance)];
        cells.extend(self.test.cells());
        cells
    }
}

impl Cells for RestrictedMean {
    const COLUMNS: &'static [Output] = &[
        Output::new("estimate", "mean days free of the event"),
        Output::new("se", "standard error in days"),
    ];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.days), number(self.standard_error)]
    }
}

impl Cells for RestrictedMeanDifference {
    const COLUMNS: &'static [Output] =
        &[ESTIMATE, LOWER, UPPER, Output::new("se", "standard error in days"), P];

    fn cells(&self) -> Vec<Cell> {
        let mut cells = self.interval.cells();
        cells.extend([self.standard_error, self.p_two_sided].map(number));
        cells
    }
}

impl Cells for Conclusion {
    const COLUMNS: &'static [Output] =
        &[Output::new("conclusion", "shown, not_shown, worse_beyond_margin or cannot_conclude")];

    fn cells(&self) -> Vec<Cell> {
        let word = match self {
            Self::Shown => "shown",
            Self::NotShown => "not_shown",
            Self::WorseBeyondMargin => "worse_beyond_margin",
            Self::CannotConclude { .. } => "cannot_conclude",
        };
        vec![Cell::Word(word.to_owned())]
    }
}
