//! Interim looks: what each may spend, and what stops a trial there.

use super::answer::{Each, Key};
use super::calculation::{Calculation, Shape};
use super::cells::{Cells, number};
use super::column::{Column, Output};
use super::input::Input;
use super::line::Cell;
use super::table::Table;
use super::trouble::Trouble;
use crate::methods::group_sequential::{
    LookBoundary, obrien_fleming_one_sided_boundaries, obrien_fleming_two_sided_boundaries,
    one_sided_boundaries, pocock_one_sided_boundaries, pocock_two_sided_boundaries, two_sided_boundaries,
};
use crate::methods::group_sequential_power::group_sequential_inflation;
use crate::methods::plan::WantedPower;
use crate::methods::spending::{
    AlphaPerSide, Looks, Spending, SpendingExponent, obrien_fleming_type_spending, pocock_type_spending,
    power_family_spending,
};

pub(super) fn family() -> Vec<Calculation> {
    let mut family = spendings();
    family.extend(spent_boundaries());
    family.extend(constant_boundaries());
    family
}

fn spendings() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "obrien_fleming_type_spending",
            "lan_demets1983",
            "Error rate spent by each look, little early",
            |looks: Looks, alpha: AlphaPerSide| spent(&obrien_fleming_type_spending(alpha, looks)),
        ),
        C::new(
            "pocock_type_spending",
            "lan_demets1983",
            "Error rate spent by each look, nearly evenly",
            |looks: Looks, alpha: AlphaPerSide| spent(&pocock_type_spending(alpha, looks)),
        ),
        C::new(
            "power_family_spending",
            "kim_demets1987",
            "Error rate spent by each look, as a power of the information",
            |looks: Looks, alpha: AlphaPerSide, exponent: SpendingExponent| {
                spent(&power_family_spending(alpha, exponent, looks))
            },
        ),
    ]
}

fn spent_boundaries() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "one_sided_boundaries",
            "armitage1969, lan_demets1983",
            "Boundaries of a one-sided design that spends as laid down",
            |spending: Spending| by_look(one_sided_boundaries(&spending)),
        ),
        C::new(
            "two_sided_boundaries",
            "armitage1969, lan_demets1983",
            "Boundaries of a two-sided design that spends as laid down on each side",
            |spending: Spending| by_look(two_sided_boundaries(&spending)),
        ),
        C::new(
            "group_sequential_inflation",
            "jennison_turnbull2000",
            "How many times the cases of one look a one-sided design with several takes",
            |spending: Spending, power: WantedPower| {
                group_sequential_inflation(&spending, power).map(Inflation)
            },
        ),
    ]
}

fn constant_boundaries() -> Vec<Calculation> {
    use Calculation as C;
    vec![
        C::new(
            "pocock_one_sided_boundaries",
            "pocock1977",
            "Pocock's boundaries of a one-sided design",
            |looks: Looks, alpha: AlphaPerSide| by_look(pocock_one_sided_boundaries(alpha, &looks)),
        ),
        C::new(
            "pocock_two_sided_boundaries",
            "pocock1977",
            "Pocock's boundaries of a two-sided design",
            |looks: Looks, alpha: AlphaPerSide| by_look(pocock_two_sided_boundaries(alpha, &looks)),
        ),
        C::new(
            "obrien_fleming_one_sided_boundaries",
            "obrien_fleming1979",
            "O'Brien and Fleming's boundaries of a one-sided design",
            |looks: Looks, alpha: AlphaPerSide| by_look(obrien_fleming_one_sided_boundaries(alpha, &looks)),
        ),
        C::new(
            "obrien_fleming_two_sided_boundaries",
            "obrien_fleming1979",
            "O'Brien and Fleming's boundaries of a two-sided design",
            |looks: Looks, alpha: AlphaPerSide| by_look(obrien_fleming_two_sided_boundaries(alpha, &looks)),
        ),
    ]
}

struct OfLook;

impl Key for OfLook {
    const COLUMN: Output = Output::new("look", "number of the look in its set, from 1");
}

fn by_look<A>(values: impl IntoIterator<Item = A>) -> Each<A, OfLook> {
    Each::of(values.into_iter().enumerate().map(|(place, value)| ((place + 1).to_string(), value)))
}

fn spent(spending: &Spending) -> Each<Spent, OfLook> {
    let looks = spending.looks().fractions().iter().zip(spending.cumulative());
    by_look(looks.map(|(fraction, spent)| Spent { fraction: *fraction, spent: *spent }))
}

impl Input for AlphaPerSide {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("alpha", "the error rate on one side, such as 0.025")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("alpha")?.checked("alpha", Self::new)
    }
}

impl Input for SpendingExponent {
    fn columns() -> Vec<Column> {
        vec![Column::parameter("exponent", "the exponent of the information, such as 2")]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        table.parameter("exponent")?.checked("exponent", Self::new)
    }
}

const FRACTION: Column =
    Column::value("fraction", "the fraction of the planned information, rising, at most 1");

impl Input for Looks {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![FRACTION]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let mut fractions = Vec::new();
        let mut row = table.first();
        // The first look that does not fit to those before is to blame; fifty at most are tried.
        for next in table.rows() {
            row = next;
            fractions.push(row.number("fraction")?);
            Self::new(fractions.clone()).map_err(|error| row.trouble("fraction", error.into()))?;
        }
        Self::new(fractions).map_err(|error| row.trouble("fraction", error.into()))
    }
}

impl Input for Spending {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![
            FRACTION,
            Column::value("spent", "the error rate spent on one side by this look and those before"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let looks = Looks::read(table)?;
        let rates = table.rows().map(|row| row.number("spent")).collect::<Result<Vec<_>, _>>()?;
        Self::new(looks, rates).map_err(|error| table.first().trouble("spent", error.into()))
    }
}

/// Cases of several looks over those of one.
struct Inflation(f64);

impl Cells for Inflation {
    const COLUMNS: &'static [Output] = &[Output::new("inflation", "factor of the number of cases")];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.0)]
    }
}

const FRACTION_OF_LOOK: Output = Output::new("fraction", "fraction of the planned information");

/// What a look may spend.
struct Spent {
    fraction: f64,
    spent: f64,
}

impl Cells for Spent {
    const COLUMNS: &'static [Output] = &[
        FRACTION_OF_LOOK,
        Output::new("spent", "error rate spent on one side by this look and those before"),
    ];

    fn cells(&self) -> Vec<Cell> {
        vec![number(self.fraction), number(self.spent)]
    }
}

impl Cells for LookBoundary {
    const COLUMNS: &'static [Output] = &[
        FRACTION_OF_LOOK,
        Output::new(
            "spent",
            "error rate spent by this look and those before, both sides together if two-sided",
        ),
        Output::new("z", "statistic at or beyond which the trial stops"),
        Output::new("nominal_p", "the same as a one-sided p"),
    ];

    fn cells(&self) -> Vec<Cell> {
        let (z, p) = match self.critical {
            Some(critical) => (number(critical.z), number(critical.nominal_p)),
            None => (Cell::Blank, Cell::Blank),
        };
        vec![number(self.fraction), number(self.spent), z, p]
    }

    fn remark(&self) -> Option<&'static str> {
        self.critical.is_none().then_some("this look has nothing to spend, so nothing stops the trial here")
    }
}
