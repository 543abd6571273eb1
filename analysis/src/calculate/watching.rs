//! Watching centres between reports.

use std::num::NonZeroU32;

use super::answer::{Each, Key};
use super::calculation::{Calculation, Shape};
use super::cells::{Cells, Estimate, number};
use super::centres::Centres;
use super::column::{Column, Output};
use super::input::Input;
use super::line::Cell;
use super::named::Centre;
use super::table::{Row, Table};
use super::trouble::Trouble;
use crate::methods::cusum::{
    CusumPoint, ExpectedProbability, Threshold, WatchedCase, WatchedChange,
    cumulative_observed_minus_expected, log_likelihood_ratio_score, running_cusum, signalling_cusum,
};
use crate::methods::funnel::{FunnelLimits, Target, exact_funnel_limits, normal_funnel_limits};
use crate::methods::interval::{Confidence, NotEstimable};
use crate::methods::observed_expected::{
    ExpectedEvents, ObservedExpected, PoissonTest, byar_interval, exact_poisson_interval, exact_poisson_test,
    mid_p_poisson_interval,
};
use crate::methods::over_dispersion::{
    WinsorisedShare, additive_scores, multiplicative_scores, unadjusted_scores, winsorised_scores,
};

pub(super) fn family() -> Vec<Calculation> {
    let mut family = sums();
    family.extend(funnels());
    family.extend(scores());
    family.extend(observed_expected());
    family
}

fn sums() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "log_likelihood_ratio_score",
            "steiner2000",
            "What one case adds to the evidence for a changed risk",
            |case: WatchedCase, change: WatchedChange| Estimate(log_likelihood_ratio_score(case, change)),
        ),
        C::new(
            "running_cusum",
            "steiner2000",
            "Cumulative sum after every case, never reset",
            |cases: Cases, change: WatchedChange| {
                by_case(running_cusum(&cases.0, change).into_iter().map(Estimate))
            },
        ),
        C::new(
            "signalling_cusum",
            "steiner2000",
            "Cumulative sum that signals at a threshold and starts afresh",
            |cases: Cases, change: WatchedChange, threshold: Threshold| {
                by_case(signalling_cusum(&cases.0, change, threshold))
            },
        ),
        C::new(
            "cumulative_observed_minus_expected",
            "steiner2000",
            "Events observed minus expected after every case",
            |cases: Cases| by_case(cumulative_observed_minus_expected(&cases.0).into_iter().map(Estimate)),
        ),
    ]
}

fn funnels() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "normal_funnel_limits",
            "spiegelhalter2005a",
            "Normal control limits of a funnel at a number of cases",
            |target: Target, cases: NonZeroU32, level: Confidence| normal_funnel_limits(target, cases, level),
        ),
        C::new(
            "exact_funnel_limits",
            "spiegelhalter2005a",
            "Exact control limits of a funnel at a number of cases",
            |target: Target, cases: NonZeroU32, level: Confidence| exact_funnel_limits(target, cases, level),
        ),
    ]
}

fn scores() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "unadjusted_scores",
            "spiegelhalter2005b",
            "Standardised distance of each centre from the target",
            |centres: Centres, target: Target| {
                let scores = unadjusted_scores(&centres.counts, target);
                by_centre(centres, scores.into_iter().map(Estimate))
            },
        ),
        C::new(
            "winsorised_scores",
            "spiegelhalter2005b",
            "Scores with the most extreme pulled in",
            winsorised,
        ),
        C::new(
            "multiplicative_scores",
            "spiegelhalter2005b",
            "Scores of the centres stretched for over-dispersion",
            |centres: Centres, target: Target, share: WinsorisedShare| {
                let stretched = multiplicative_scores(&centres.counts, target, share)?;
                let phi = stretched.phi;
                let score = move |score| Score { score, phi, tau_squared: None };
                Ok::<_, NotEstimable>(by_centre(centres, stretched.scores.into_iter().map(score)))
            },
        ),
        C::new(
            "additive_scores",
            "spiegelhalter2005b",
            "Scores of the centres widened by a variance between them",
            |centres: Centres, target: Target, share: WinsorisedShare| {
                let widened = additive_scores(&centres.counts, target, share)?;
                let (phi, tau_squared) = (widened.phi, Some(widened.tau_squared));
                let score = move |score| Score { score, phi, tau_squared };
                Ok::<_, NotEstimable>(by_centre(centres, widened.scores.into_iter().map(score)))
            },
        ),
    ]
}

fn observed_expected() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "exact_poisson",
            "garwood1936",
            "Exact interval of observed over expected events",
            exact_poisson_interval,
        ),
        C::new(
            "mid_p_poisson",
            "lancaster1961",
            "Mid-P interval of observed over expected events",
            mid_p_poisson_interval,
        ),
        C::new("byar", "breslow_day1987", "Byar's interval of observed over expected events", byar_interval),
        C::new(
            "exact_poisson_test",
            "breslow_day1987",
            "Exact test of observed against expected events",
            exact_poisson_test,
        ),
    ]
}

const EVENT: Column = Column::value("event", "1 with the event, 0 without");
const EXPECTED: Column =
    Column::value("expected", "the probability of the event that the case was expected to have");

fn watched(row: Row<'_>) -> Result<WatchedCase, Trouble> {
    let event = row.one_of("event", EVENT.takes, &[("1", true), ("0", false)])?;
    Ok(WatchedCase { event, expected: row.checked("expected", ExpectedProbability::new)? })
}

impl Input for WatchedCase {
    fn columns() -> Vec<Column> {
        vec![EVENT, EXPECTED]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        watched(table.first())
    }
}

/// The cases of one chart, in their order.
struct Cases(Vec<WatchedCase>);

impl Input for Cases {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![EVENT, EXPECTED]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.rows().map(watched).collect::<Result<_, _>>().map(Self)
    }
}

struct OfCase;

impl Key for OfCase {
    const COLUMN: Output = Output::new("case", "number of the case in its set, from 1");
}

fn by_case<A>(values: impl IntoIterator<Item = A>) -> Each<A, OfCase> {
    Each::of(values.into_iter().enumerate().map(|(place, value)| ((place + 1).to_string(), value)))
}

fn by_centre<A>(centres: Centres, values: impl IntoIterator<Item = A>) -> Each<A, Centre> {
    Each::of(centres.names.into_iter().zip(values))
}

impl Input for WatchedChange {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("odds_ratio", "the change of odds to watch for, such as 2")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("odds_ratio")?.checked("odds_ratio", Self::new)
    }
}

impl Input for Threshold {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("threshold", "the height at which the sum signals, such as 4.5")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("threshold")?.checked("threshold", Self::new)
    }
}

impl Input for Target {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("target", "the proportion that centres are compared with, such as 0.02")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("target")?.checked("target", Self::new)
    }
}

impl Input for WinsorisedShare {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("share", "the share of scores to pull in at each end, such as 0.1")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("share")?.checked("share", Self::new)
    }
}

/// Scores of one set.
struct Scores(Vec<f64>);

impl Input for Scores {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![Column::value("score", "a standardised distance")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.rows().map(|row| row.number("score")).collect::<Result<_, _>>().map(Self)
    }
}

fn winsorised(scores: Scores, share: WinsorisedShare) -> Each<Estimate, OfCase> {
    by_case(winsorised_scores(&scores.0, share).into_iter().map(Estimate))
}

impl Input for ObservedExpected {
    fn columns() -> Vec<Column> {
        vec![
            Column::value("observed", "the number of events"),
            Column::value("expected", "the number of events expected, above 0"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let row = table.first();
        Ok(Self { observed: row.whole("observed")?, expected: row.checked("expected", ExpectedEvents::new)? })
    }
}

impl Cells for CusumPoint {
    const COLUMNS: &'static [Output] = &[
        Output::new("height", "height of the sum"),
        Output::new("signal", "1 where it signals, otherwise 0"),
    ];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.height), number(f64::from(u8::from(self.signal)))]
    }
}

impl Cells for FunnelLimits {
    const COLUMNS: &'static [Output] = &[
        Output::new("lower", "lower control limit, not clipped"),
        Output::new("upper", "upper control limit, not clipped"),
    ];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.lower), number(self.upper)]
    }
}

/// An adjusted score with what it was adjusted by.
struct Score {
    score: f64,
    phi: f64,
    tau_squared: Option<f64>,
}

impl Cells for Score {
    const COLUMNS: &'static [Output] = &[
        Output::new("score", "adjusted distance from the target"),
        Output::new("phi", "mean square of the winsorised scores"),
        Output::new("tau_squared", "variance between centres; blank where scores are stretched"),
    ];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.score), number(self.phi), self.tau_squared.map_or(Cell::Blank, number)]
    }
}

impl Cells for PoissonTest {
    const COLUMNS: &'static [Output] = &[
        Output::new("p_more", "one-sided p of more events than expected"),
        Output::new("p_fewer", "one-sided p of fewer"),
        Output::new("p_two_sided", "two-sided p"),
    ];

    fn cells(&self) -> Vec<Cell> {
        [self.p_more, self.p_fewer, self.p_two_sided].map(number).to_vec()
    }
}
