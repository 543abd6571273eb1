//! Before a comparison starts: how many cases, and what they can show.

use std::num::NonZeroU32;

use super::calculation::{Calculation, Shape};
use super::cells::{Cells, number};
use super::column::{Column, Output};
use super::input::Input;
use super::line::Cell;
use super::table::{Row, Table};
use super::trouble::Trouble;
use crate::methods::counts::CountError;
use crate::methods::design_effect::{
    CentreSizes, IntraclassCorrelation, cases_over_centres, effective_sample_size,
    equal_centres_design_effect, unequal_centres_design_effect,
};
use crate::methods::exact_power::{
    ShowingTables, farrington_manning_showing, miettinen_nurminen_showing, wald_showing,
};
use crate::methods::interval::NotEstimable;
use crate::methods::non_inferiority::Margin;
use crate::methods::plan::{Allocation, ArmSizes, Goal, OneSidedAlpha, Planned, Proportions, WantedPower};
use crate::methods::power::{
    blackwelder_power, farrington_manning_power, farrington_manning_ratio_power, wald_log_ratio_power,
};
use crate::methods::ratio_margin::RatioMargin;
use crate::methods::sample_size::{
    SampleSize, blackwelder_sample_size, farrington_manning_ratio_sample_size,
    farrington_manning_sample_size, wald_log_ratio_sample_size,
};

pub(super) fn family() -> Vec<Calculation> {
    let mut family = sizes();
    family.extend(powers());
    family.extend(exact_powers());
    family.extend(centres());
    family
}

fn sizes() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "blackwelder_sample_size",
            "blackwelder1982",
            "Sample size for non-inferiority of a difference after Blackwelder",
            |planned: Planned<Margin>, goal: Goal| blackwelder_sample_size(&planned, goal),
        ),
        C::new(
            "farrington_manning_sample_size",
            "farrington_manning1990",
            "Sample size for non-inferiority of a difference after Farrington and Manning",
            |planned: Planned<Margin>, goal: Goal| farrington_manning_sample_size(&planned, goal),
        ),
        C::new(
            "farrington_manning_ratio_sample_size",
            "farrington_manning1990",
            "Sample size for non-inferiority of a ratio after Farrington and Manning",
            |planned: Planned<RatioMargin>, goal: Goal| farrington_manning_ratio_sample_size(&planned, goal),
        ),
        C::new(
            "wald_log_ratio_sample_size",
            "katz1978",
            "Sample size for non-inferiority of a ratio on the log scale",
            |planned: Planned<RatioMargin>, goal: Goal| wald_log_ratio_sample_size(&planned, goal),
        ),
    ]
}

fn powers() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "blackwelder_power",
            "blackwelder1982",
            "Approximate power for a difference after Blackwelder",
            |planned: Planned<Margin>, sizes: ArmSizes| Power(blackwelder_power(&planned, sizes)),
        ),
        C::new(
            "farrington_manning_power",
            "farrington_manning1990",
            "Approximate power for a difference after Farrington and Manning",
            |planned: Planned<Margin>, sizes: ArmSizes| Power(farrington_manning_power(&planned, sizes)),
        ),
        C::new(
            "farrington_manning_ratio_power",
            "farrington_manning1990",
            "Approximate power for a ratio after Farrington and Manning",
            |planned: Planned<RatioMargin>, sizes: ArmSizes| {
                Power(farrington_manning_ratio_power(&planned, sizes))
            },
        ),
        C::new(
            "wald_log_ratio_power",
            "katz1978",
            "Approximate power for a ratio on the log scale",
            |planned: Planned<RatioMargin>, sizes: ArmSizes| Power(wald_log_ratio_power(&planned, sizes)),
        ),
    ]
}

fn exact_powers() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "farrington_manning_exact_power",
            "farrington_manning1990",
            "Exact power and error rate of the Farrington–Manning test",
            |planned: Planned<Margin>, sizes: ArmSizes| {
                ExactPower::of(&planned, farrington_manning_showing(planned.margin, planned.alpha, sizes))
            },
        ),
        C::new(
            "miettinen_nurminen_exact_power",
            "miettinen_nurminen1985",
            "Exact power and error rate of the Miettinen–Nurminen test",
            |planned: Planned<Margin>, sizes: ArmSizes| {
                ExactPower::of(&planned, miettinen_nurminen_showing(planned.margin, planned.alpha, sizes))
            },
        ),
        C::new(
            "wald_exact_power",
            "blackwelder1982",
            "Exact power and error rate of the Wald test",
            |planned: Planned<Margin>, sizes: ArmSizes| {
                ExactPower::of(&planned, wald_showing(planned.margin, planned.alpha, sizes))
            },
        ),
    ]
}

fn centres() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "equal_centres_design_effect",
            "donner_klar2000",
            "How many times more cases centres of equal size need",
            |cases: NonZeroU32, correlation: IntraclassCorrelation| {
                Factor(equal_centres_design_effect(cases, correlation).factor())
            },
        ),
        C::new(
            "unequal_centres_design_effect",
            "eldridge2006",
            "How many times more cases centres of unequal size need",
            |sizes: CentreSizes, correlation: IntraclassCorrelation| {
                Factor(unequal_centres_design_effect(&sizes, correlation).factor())
            },
        ),
        C::new(
            "effective_sample_size",
            "donner_klar2000",
            "How many independent cases the cases of all centres are worth",
            |sizes: CentreSizes, correlation: IntraclassCorrelation| {
                Cases(effective_sample_size(&sizes, correlation))
            },
        ),
        C::new(
            "cases_over_centres",
            "hemming2011",
            "Cases needed over a fixed number of centres in place of independent ones",
            |independent: NonZeroU32, centres: NumberOfCentres, correlation: IntraclassCorrelation| {
                cases_over_centres(independent, centres.0, correlation).map(|cases| Cases(f64::from(cases)))
            },
        ),
    ]
}

impl Input for Proportions {
    fn columns() -> Vec<Column> {
        vec![
            Column::value("p1", "the proportion assumed in the first arm"),
            Column::value("p2", "the proportion assumed in the second arm"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let row = table.first();
        let first = row.number("p1")?;
        // The arm that is wrong is to blame; a half is known to be a proportion.
        row.checked("p1", |p1| Self::new(p1, 0.5))?;
        row.checked("p2", |p2| Self::new(first, p2))
    }
}

impl Input for Allocation {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("allocation", "cases of the second arm for one of the first").or("1")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("allocation")?.checked("allocation", Self::new)
    }
}

impl<M: Input> Input for Planned<M> {
    fn columns() -> Vec<Column> {
        let alpha = Column::parameter("alpha", "the one-sided error rate").or("0.025");
        [Proportions::columns(), M::columns(), vec![alpha]].concat()
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let alpha = table.parameter("alpha")?.checked("alpha", OneSidedAlpha::new)?;
        Ok(Self { proportions: Proportions::read(table)?, margin: M::read(table)?, alpha })
    }
}

impl Input for WantedPower {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("power", "the power wanted, such as 0.9")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("power")?.checked("power", Self::new)
    }
}

impl Input for Goal {
    fn columns() -> Vec<Column> {
        [WantedPower::columns(), Allocation::columns()].concat()
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        Ok(Self { power: WantedPower::read(table)?, allocation: Allocation::read(table)? })
    }
}

fn from_one(row: Row<'_>, column: &str) -> Result<NonZeroU32, Trouble> {
    let none = || row.trouble(column, CountError::NoCases.into());
    NonZeroU32::new(row.whole(column)?).ok_or_else(none)
}

impl Input for ArmSizes {
    fn columns() -> Vec<Column> {
        vec![
            Column::value("n1", "cases of the first arm, from 1"),
            Column::value("n2", "cases of the second arm, from 1"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let row = table.first();
        Ok(Self { first: from_one(row, "n1")?, second: from_one(row, "n2")? })
    }
}

impl Input for IntraclassCorrelation {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("correlation", "how much cases of one centre resemble each other, 0 to 1")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("correlation")?.checked("correlation", Self::new)
    }
}

impl Input for CentreSizes {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![Column::value("n", "the number of cases of a centre, from 1")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let sizes = table.rows().map(|row| from_one(row, "n")).collect::<Result<_, _>>()?;
        Self::new(sizes).map_err(|error| table.first().trouble("n", error.into()))
    }
}

/// How many centres there will be.
struct NumberOfCentres(NonZeroU32);

impl Input for NumberOfCentres {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("centres", "the number of centres, from 1")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        from_one(table.parameter("centres")?, "centres").map(Self)
    }
}

impl Cells for SampleSize {
    const COLUMNS: &'static [Output] = &[
        Output::new("n1", "cases of the first arm"),
        Output::new("n2", "cases of the second arm"),
        Output::new("n1_unrounded", "cases of the first arm before rounding up"),
    ];

    fn cells(&self) -> Vec<Cell> {
        vec![number(f64::from(self.first)), number(f64::from(self.second)), number(self.first_unrounded)]
    }
}

struct Power(f64);

impl Cells for Power {
    const COLUMNS: &'static [Output] = &[Output::new("power", "probability of showing non-inferiority")];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.0)]
    }
}

struct ExactPower {
    power: f64,
    type_one_error: Option<f64>,
}

impl ExactPower {
    fn of(
        planned: &Planned<Margin>,
        showing: Result<ShowingTables, NotEstimable>,
    ) -> Result<Self, NotEstimable> {
        let (showing, proportions) = (showing?, planned.proportions);
        Ok(Self { power: showing.power(proportions), type_one_error: showing.type_one_error(proportions) })
    }
}

impl Cells for ExactPower {
    const COLUMNS: &'static [Output] = &[
        Output::new("power", "probability of showing non-inferiority"),
        Output::new("type_one_error", "the same where the first arm lies on the margin; blank if it cannot"),
    ];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.power), self.type_one_error.map_or(Cell::Blank, number)]
    }
}

struct Factor(f64);

impl Cells for Factor {
    const COLUMNS: &'static [Output] = &[Output::new("design_effect", "factor of the number of cases")];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.0)]
    }
}

struct Cases(f64);

impl Cells for Cases {
    const COLUMNS: &'static [Output] = &[Output::new("cases", "number of cases")];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.0)]
    }
}
