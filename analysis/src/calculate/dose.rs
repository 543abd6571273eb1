//! Doses and other measured values of a group or of two.

use super::answer::Each;
use super::calculation::{Calculation, Shape};
use super::cells::{Cells, Estimate, number};
use super::column::{Column, Output};
use super::groups::{ByGroup, NAMED, OF_TWO, TwoGroups};
use super::input::Input;
use super::line::Cell;
use super::table::{Row, Table};
use super::trouble::{Shown, Trouble, Wrong};
use crate::methods::counts::EventCount;
use crate::methods::dose::{
    GeometricMeanRatio, geometric_mean_interval, geometric_mean_ratio_welch, split_by_exposure,
};
use crate::methods::interval::{Arm, Confidence, Interval, NotEstimable};
use crate::methods::sample::{PositiveSample, Probability, Sample, median, quantile_type_6, quantile_type_7};
use crate::methods::shift::median_interval;

pub(super) fn family() -> Vec<Calculation> {
    let mut family = geometric();
    family.extend(order());
    family
}

fn geometric() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "geometric_mean_ratio_welch",
            "welch1947",
            "Ratio of geometric means, all doses above 0",
            |doses: TwoDoses<Positive>, level: Confidence| ratio_of(&doses.0, level),
        ),
        C::new(
            "geometric_mean_ratio_exposed",
            "welch1947",
            "Ratio of geometric means among cases with a dose above 0",
            |mut doses: TwoDoses<FromZero>, level: Confidence| {
                doses.0.first.retain(|dose| *dose > 0.0);
                doses.0.second.retain(|dose| *dose > 0.0);
                ratio_of(&doses.0, level)
            },
        ),
        C::new(
            "geometric_mean",
            "altman1991",
            "Geometric mean of each group, all doses above 0",
            |doses: DosesByGroup<Positive>, level: Confidence| {
                doses.each(|doses| geometric_mean_interval(&positive(doses, Arm::First)?, level))
            },
        ),
        C::new("exposure", "lachenbruch2002", "Share of cases with a dose above 0 in each group", exposure),
    ]
}

fn order() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new("median", "hyndman_fan1996", "Median of each group", |doses: DosesByGroup<Any>| {
            doses.each(|doses| sample(doses, Arm::First).map(|sample| Estimate(median(&sample))))
        }),
        C::new(
            "median_order_statistics",
            "conover1999",
            "Median of each group with limits that are observed values",
            |doses: DosesByGroup<Any>, level: Confidence| {
                doses.each(|doses| median_interval(&sample(doses, Arm::First)?, level).map(Median::of))
            },
        ),
        C::new(
            "quantile_type_7",
            "hyndman_fan1996",
            "Quantile of each group, type 7",
            |doses: DosesByGroup<Any>, q: Probability| {
                doses.each(|doses| {
                    sample(doses, Arm::First).map(|sample| Estimate(quantile_type_7(&sample, q)))
                })
            },
        ),
        C::new(
            "quantile_type_6",
            "hyndman_fan1996",
            "Quantile of each group, type 6",
            |doses: DosesByGroup<Any>, q: Probability| {
                doses.each(|doses| {
                    sample(doses, Arm::First).map(|sample| Estimate(quantile_type_6(&sample, q)))
                })
            },
        ),
    ]
}

/// What a dose may be.
pub(super) trait Allowed: 'static {
    /// In words that follow "takes".
    const TAKES: &'static str;

    /// What is wrong with a value, if anything.
    fn wrong(value: f64) -> Option<fn(Shown) -> Wrong>;
}

/// Any value.
pub(super) struct Any;

impl Allowed for Any {
    const TAKES: &'static str = "a measured value, in one unit";

    fn wrong(_: f64) -> Option<fn(Shown) -> Wrong> {
        None
    }
}

/// A value from 0.
pub(super) struct FromZero;

impl Allowed for FromZero {
    const TAKES: &'static str = "a dose from 0, in one unit";

    fn wrong(value: f64) -> Option<fn(Shown) -> Wrong> {
        (value < 0.0).then_some(Wrong::BelowZero)
    }
}

/// A value above 0.
pub(super) struct Positive;

impl Allowed for Positive {
    const TAKES: &'static str = "a dose above 0, in one unit";

    fn wrong(value: f64) -> Option<fn(Shown) -> Wrong> {
        (value <= 0.0).then_some(Wrong::NotPositive)
    }
}

/// Reads a dose.
fn dose<A: Allowed>(row: Row<'_>) -> Result<f64, Trouble> {
    let value = row.number("dose")?;
    let beyond = (value.abs() > 1e100).then_some(Wrong::TooLarge as fn(Shown) -> Wrong);
    match beyond.or(A::wrong(value)) {
        None => Ok(value),
        Some(wrong) => Err(row.trouble("dose", wrong(Shown::of(row.text("dose"))))),
    }
}

/// Doses of two groups.
pub(super) struct TwoDoses<A>(pub(super) TwoGroups<f64>, std::marker::PhantomData<A>);

impl<A: Allowed> Input for TwoDoses<A> {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![OF_TWO, Column::value("dose", A::TAKES)]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        Ok(Self(TwoGroups::read(table, dose::<A>)?, std::marker::PhantomData))
    }
}

/// Doses of each group.
pub(super) struct DosesByGroup<A>(ByGroup<f64>, std::marker::PhantomData<A>);

impl<A: Allowed> Input for DosesByGroup<A> {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![NAMED, Column::value("dose", A::TAKES)]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        Ok(Self(ByGroup::read(table, dose::<A>)?, std::marker::PhantomData))
    }
}

impl<A> DosesByGroup<A> {
    fn each<T>(self, answer: impl Fn(Vec<f64>) -> T) -> Each<T> {
        Each::of((self.0).0.into_iter().map(|(group, doses)| (group, answer(doses))))
    }
}

/// Values that were read are usable numbers: only a group without any is not a sample.
pub(super) fn sample(values: Vec<f64>, arm: Arm) -> Result<Sample, NotEstimable> {
    Sample::new(values).map_err(|_| NotEstimable::EmptyArm { arm })
}

fn positive(values: Vec<f64>, arm: Arm) -> Result<PositiveSample, NotEstimable> {
    PositiveSample::new(values).map_err(|_| NotEstimable::EmptyArm { arm })
}

fn ratio_of(doses: &TwoGroups<f64>, level: Confidence) -> Result<GeometricMeanRatio, NotEstimable> {
    let first = positive(doses.first.clone(), Arm::First)?;
    geometric_mean_ratio_welch(&first, &positive(doses.second.clone(), Arm::Second)?, level)
}

/// Cases with a dose, out of all.
struct Exposed(EventCount);

impl Cells for Exposed {
    const COLUMNS: &'static [Output] = &[
        Output::new("x", "cases with a dose above 0"),
        Output::new("n", "cases"),
        Output::new("estimate", "share of cases with a dose"),
    ];

    fn cells(&self) -> Vec<Cell> {
        let Self(count) = self;
        let whole = |count: u32| number(f64::from(count));
        vec![whole(count.events()), whole(count.total()), number(count.proportion())]
    }
}

fn exposure(doses: DosesByGroup<FromZero>) -> Each<Result<Exposed, NotEstimable>> {
    let empty = NotEstimable::EmptyArm { arm: Arm::First };
    doses.each(|doses| split_by_exposure(&doses).map(|split| Exposed(split.exposed)).map_err(|_| empty))
}

/// A median with the coverage of its limits.
struct Median {
    interval: Interval,
    coverage: f64,
}

impl Median {
    fn of((interval, coverage): (Interval, f64)) -> Self {
        Self { interval, coverage }
    }
}

impl Cells for Median {
    const COLUMNS: &'static [Output] = &[
        Output::new("estimate", "median"),
        Output::new("lower", "lower limit, an observed value"),
        Output::new("upper", "upper limit, an observed value"),
        Output::new("coverage", "level that the limits have for certain"),
    ];

    fn cells(&self) -> Vec<Cell> {
        let mut cells = self.interval.cells();
        cells.push(number(self.coverage));
        cells
    }
}
