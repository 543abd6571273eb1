//! Covariates: columns that the person names, because every study has others.

use super::answer::Key;
use super::column::{Column, Output};
use super::table::{Row, Table};
use super::trouble::{Shown, Trouble, Wrong};
use crate::methods::design::{Design, indicators};
use std::collections::{BTreeMap, BTreeSet};

/// The parameter that names the columns.
pub(super) const TERMS: &str = "terms";

/// The covariate whose values are names and not numbers.
const CENTRE: &str = "centre";

/// The column of the parameter.
pub(super) const COLUMN: Column =
    Column::parameter(TERMS, "names of the covariate columns with spaces between; centre gives one for each");

/// The names, in their order.
pub(super) fn terms_of(text: &str) -> impl Iterator<Item = String> {
    text.split([' ', ',', '+']).filter(|name| !name.is_empty()).map(str::to_ascii_lowercase)
}

/// The terms of a regression, one a row.
pub(super) struct Term;

impl Key for Term {
    const COLUMN: Output = Output::new("term", "the covariate that the row is about");
}

/// The covariates of all cases, with their names.
pub(super) struct Terms {
    pub(super) names: Vec<String>,
    pub(super) design: Design,
}

impl Terms {
    pub(super) fn read(table: &Table) -> Result<Self, Trouble> {
        Self::and(table, Vec::new())
    }

    /// The covariates named, and then columns of the calculation's own.
    pub(super) fn and(table: &Table, own: Vec<(String, Vec<f64>)>) -> Result<Self, Trouble> {
        let said = table.parameter(TERMS)?.text(TERMS);
        let (mut names, mut columns) = (Vec::new(), Vec::new());
        for term in terms_of(said) {
            if term == CENTRE {
                let centres = Labels::read(table, CENTRE)?;
                names.extend(centres.names.iter().skip(1).map(|name| format!("centre {name}")));
                columns.extend(indicators(&centres.of_case));
                continue;
            }
            let value = |row: Row<'_>| match row.number(&term) {
                Ok(value) if value.abs() > 1e15 => {
                    Err(row.trouble(&term, Wrong::TooLarge(Shown::of(row.text(&term)))))
                }
                read => read,
            };
            columns.push(table.rows().map(value).collect::<Result<Vec<f64>, Trouble>>()?);
            names.push(term);
        }
        let (own_names, own_columns): (Vec<String>, Vec<Vec<f64>>) = own.into_iter().unzip();
        names.extend(own_names);
        columns.extend(own_columns);
        let nothing = || table.first().trouble(TERMS, Wrong::Blank("the names of the covariate columns"));
        match Design::new(table.rows().count(), &columns) {
            Ok(design) if !names.is_empty() => Ok(Self { names, design }),
            _ => Err(nothing()),
        }
    }
}

/// Names as numbers from 0, in the order of the names.
pub(super) struct Labels {
    pub(super) names: Vec<String>,
    pub(super) of_case: Vec<u32>,
}

impl Labels {
    pub(super) fn read(table: &Table, column: &str) -> Result<Self, Trouble> {
        let filled = table.rows().map(|row| row.filled(column, "a name"));
        let given: Vec<&str> = filled.collect::<Result<_, _>>()?;
        let distinct: BTreeSet<&str> = given.iter().copied().collect();
        let numbers: BTreeMap<&str, u32> = distinct.into_iter().zip(0..).collect();
        let of_case = given.iter().filter_map(|name| numbers.get(name).copied()).collect();
        Ok(Self { names: numbers.into_keys().map(str::to_owned).collect(), of_case })
    }

    /// One name for all where the column is absent.
    pub(super) fn if_any(table: &Table, column: &str) -> Result<Option<Self>, Trouble> {
        table.has(column).then(|| Self::read(table, column)).transpose()
    }
}
