//! Whether two judges agree.

use super::calculation::{Calculation, Shape};
use super::column::Column;
use super::input::Input;
use super::table::Table;
use super::trouble::Trouble;
use crate::methods::agreement::{AgreementTable, cohen_kappa_interval};
use crate::methods::interval::{Confidence, NotEstimable};
use std::collections::BTreeMap;

pub(super) fn family() -> Vec<Calculation> {
    vec![Calculation::new(
        "cohen_kappa",
        "cohen1960, fleiss_cohen_everitt1969",
        "Cohen's kappa: agreement of two judges beyond chance",
        |judged: JudgedTwice, level: Confidence| cohen_kappa_interval(&judged.counted()?, level),
    )]
}

/// What two judges said of the same things, counted by what the first and the second said.
struct JudgedTwice(Vec<(String, String, u32)>);

impl JudgedTwice {
    fn counted(self) -> Result<AgreementTable, NotEstimable> {
        let mut places = BTreeMap::new();
        for (first, second, _) in &self.0 {
            places.insert(first.as_str(), 0);
            places.insert(second.as_str(), 0);
        }
        places.values_mut().zip(0_usize..).for_each(|(place, number)| *place = number);
        let mut counts = vec![vec![0_u32; places.len()]; places.len()];
        for (first, second, count) in &self.0 {
            let cell = &mut counts[places[first.as_str()]][places[second.as_str()]];
            *cell = cell.saturating_add(*count);
        }
        AgreementTable::new(counts).map_err(|_| NotEstimable::NothingToSpread)
    }
}

impl Input for JudgedTwice {
    const SHAPE: Shape = Shape::Set;

    fn columns() -> Vec<Column> {
        vec![
            Column::value("first", "the category that the first judge chose"),
            Column::value("second", "the category that the second judge chose"),
            Column::value("count", "how often they said so; a row for each pair of categories seen"),
        ]
    }

    fn read(table: &Table) -> Result<Self, Trouble> {
        let read = table.rows().map(|row| {
            let category = |column| row.filled(column, "a category").map(str::to_owned);
            Ok((category("first")?, category("second")?, row.whole("count")?))
        });
        read.collect::<Result<_, _>>().map(Self)
    }
}
