//! How wide an interval will be, and how many cases make it narrow enough.

use std::num::NonZeroU32;

use super::calculation::Calculation;
use super::cells::{Cells, number};
use super::column::{Column, Output};
use super::input::Input;
use super::line::Cell;
use super::table::Table;
use super::trouble::Trouble;
use crate::methods::counts::{EventCount, TwoArms};
use crate::methods::difference::{agresti_caffo_interval, newcombe_corrected_interval, newcombe_interval};
use crate::methods::interval::{Confidence, Interval, RatioInterval};
use crate::methods::plan::{Allocation, ArmSizes, Proportions};
use crate::methods::precision::{
    AssumedProportion, PlannedPrecision, RatioReach, WantedHalfWidth, cases_for_difference_half_width,
    cases_for_half_width, expected_difference_half_width, expected_half_width, expected_ratio_reach,
};
use crate::methods::proportion::{
    clopper_pearson_interval, jeffreys_interval, mid_p_interval, wilson_corrected_interval, wilson_interval,
};
use crate::methods::ratio::{koopman_interval, miettinen_nurminen_ratio_interval};
use crate::methods::score::{mee_interval, miettinen_nurminen_interval};

pub(super) fn family() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "expected_half_width",
            "newcombe1998a",
            "Average half-width of the interval of a proportion",
            |cases: NonZeroU32, p: AssumedProportion, by: OneInterval, level: Confidence| {
                HalfWidth(expected_half_width(cases, p, level, by.0))
            },
        ),
        C::new(
            "expected_difference_half_width",
            "newcombe1998b",
            "Average half-width of the interval of a difference",
            |sizes: ArmSizes, assumed: Proportions, by: TwoInterval, level: Confidence| {
                HalfWidth(expected_difference_half_width(sizes, assumed, level, by.0))
            },
        ),
        C::new(
            "expected_ratio_reach",
            "newcombe1998b",
            "Average reach of the interval of a ratio, as a factor",
            |sizes: ArmSizes, assumed: Proportions, by: OfRatio, level: Confidence| {
                expected_ratio_reach(sizes, assumed, level, by.0)
            },
        ),
        C::new(
            "cases_for_half_width",
            "newcombe1998a",
            "Cases for which the interval of a proportion is narrow enough on average",
            |wanted: WantedHalfWidth, p: AssumedProportion, by: OneInterval, level: Confidence| {
                cases_for_half_width(wanted, p, level, by.0).map(Enough)
            },
        ),
        C::new(
            "cases_for_difference_half_width",
            "newcombe1998b",
            "Cases of both arms for which the interval of a difference is narrow enough on average",
            |planned: PlannedPrecision, by: TwoInterval| cases_for_difference_half_width(&planned, by.0),
        ),
    ]
}

impl Input for AssumedProportion {
    fn columns() -> Vec<Column> {
        vec![Column::value("p", "the proportion assumed")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.first().checked("p", Self::new)
    }
}

impl Input for WantedHalfWidth {
    fn columns() -> Vec<Column> {
        vec![Column::value("half_width", "half the width wanted, such as 0.01")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.first().checked("half_width", Self::new)
    }
}

impl Input for PlannedPrecision {
    fn columns() -> Vec<Column> {
        let (half_width, proportions) = (WantedHalfWidth::columns(), Proportions::columns());
        [half_width, proportions, Allocation::columns(), Confidence::columns()].concat()
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        Ok(Self {
            half_width: WantedHalfWidth::read(table)?,
            proportions: Proportions::read(table)?,
            allocation: Allocation::read(table)?,
            level: Confidence::read(table)?,
        })
    }
}

/// An interval of one proportion, by its name.
#[derive(Clone, Copy)]
struct OneInterval(fn(EventCount, Confidence) -> Interval);

const ONE: &str = "wilson, wilson_corrected, clopper_pearson, mid_p or jeffreys";

impl Input for OneInterval {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("interval", ONE)]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let words = [
            ("wilson", Self(wilson_interval)),
            ("wilson_corrected", Self(wilson_corrected_interval)),
            ("clopper_pearson", Self(clopper_pearson_interval)),
            ("mid_p", Self(mid_p_interval)),
            ("jeffreys", Self(jeffreys_interval)),
        ];
        table.parameter("interval")?.one_of("interval", ONE, &words)
    }
}

/// An interval of a difference, by its name.
#[derive(Clone, Copy)]
struct TwoInterval(fn(TwoArms, Confidence) -> Interval);

const TWO: &str = "newcombe, newcombe_corrected, miettinen_nurminen, mee or agresti_caffo";

impl Input for TwoInterval {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("interval", TWO)]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let words = [
            ("newcombe", Self(newcombe_interval)),
            ("newcombe_corrected", Self(newcombe_corrected_interval)),
            ("miettinen_nurminen", Self(miettinen_nurminen_interval)),
            ("mee", Self(mee_interval)),
            ("agresti_caffo", Self(agresti_caffo_interval)),
        ];
        table.parameter("interval")?.one_of("interval", TWO, &words)
    }
}

/// An interval of a ratio, by its name.
#[derive(Clone, Copy)]
struct OfRatio(fn(TwoArms, Confidence) -> RatioInterval);

const RATIO: &str = "koopman or miettinen_nurminen";

impl Input for OfRatio {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("interval", RATIO)]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let words = [
            ("koopman", Self(koopman_interval)),
            ("miettinen_nurminen", Self(miettinen_nurminen_ratio_interval)),
        ];
        table.parameter("interval")?.one_of("interval", RATIO, &words)
    }
}

impl Cells for RatioReach {
    const COLUMNS: &'static [Output] = &[
        Output::new("factor", "average reach: so many times the estimate either way"),
        Output::new("unbounded", "probability of an arm without events, which leaves a limit of 0 or none"),
    ];

    fn cells(&self) -> Vec<Cell> {
        [self.factor, self.unbounded].map(number).to_vec()
    }
}

struct HalfWidth(f64);

impl Cells for HalfWidth {
    const COLUMNS: &'static [Output] = &[Output::new("half_width", "average half-width")];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.0)]
    }
}

struct Enough(NonZeroU32);

impl Cells for Enough {
    const COLUMNS: &'static [Output] = &[Output::new("cases", "number of cases")];

    fn cells(&self) -> Vec<Cell> {
        vec![number(f64::from(self.0.get()))]
    }
}

impl Cells for ArmSizes {
    const COLUMNS: &'static [Output] =
        &[Output::new("n1", "cases of the first arm"), Output::new("n2", "cases of the second arm")];

    fn cells(&self) -> Vec<Cell> {
        [self.first, self.second].map(|cases| number(f64::from(cases.get()))).to_vec()
    }
}
