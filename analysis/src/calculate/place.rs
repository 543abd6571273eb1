//! Where each column of a calculation comes from: the header, or a value given beside it.

use super::calculation::{Calculation, Shape};
use super::column::{Column, Need, Role, SET_ID};
use super::terms::{TERMS, terms_of};

/// Why a header does not suit a calculation.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum HeaderError {
    /// Columns that the calculation cannot do without.
    #[error("{} missing; {method} reads {}", missing(.columns), .reads.join(", "))]
    Missing {
        /// What is missing.
        columns: Vec<String>,
        /// The calculation.
        method: &'static str,
        /// All that it reads.
        reads: Vec<&'static str>,
    },
    /// A column without a name.
    #[error("column {0} of the header has no name; name it, or delete the column")]
    Nameless(usize),
    /// A column that stands twice.
    #[error("the column {0} stands twice in the header; keep one of the two")]
    Twice(String),
    /// A value given for a column that is there.
    #[error("{0} is given both beside the rows and as a column; keep one of the two")]
    GivenTwice(String),
    /// The names of covariates cannot change from row to row.
    #[error("{TERMS} names columns of the rows; give it beside them, not as a column")]
    TermsInRows,
    /// A value given for something that is no parameter.
    #[error("{name} is no parameter of {method}; {}", parameters(.takes))]
    NoParameter {
        /// The name given.
        name: String,
        /// The calculation.
        method: &'static str,
        /// Parameters it takes.
        takes: Vec<&'static str>,
    },
}

fn missing(columns: &[String]) -> String {
    let word = if columns.len() == 1 { "the column" } else { "the columns" };
    let verb = if columns.len() == 1 { "is" } else { "are" };
    format!("{word} {} {verb}", columns.join(", "))
}

fn parameters(takes: &[&str]) -> String {
    if takes.is_empty() { "it takes none".to_owned() } else { format!("it takes {}", takes.join(", ")) }
}

/// Where one cell of the table comes from.
#[derive(Clone, Debug)]
pub(super) enum Origin {
    /// This place of the row.
    Place(usize),
    /// The same text for every row.
    Fixed(String),
}

/// The places of a header.
#[derive(Debug)]
pub(super) struct Places {
    /// Names of the table's columns, and where each comes from.
    pub(super) read: Vec<(String, Origin)>,
    /// Places that are carried through to the result.
    pub(super) carried: Vec<usize>,
    /// Names of the result's columns.
    pub(super) header: Vec<String>,
    /// Columns of the rows that the result's own columns replace.
    pub(super) replaced: Vec<String>,
}

impl Places {
    pub(super) fn of(
        calculation: &Calculation,
        header: &[&str],
        given: &[(String, String)],
    ) -> Result<Self, HeaderError> {
        let names = names(header)?;
        let parameter = |name: &str| {
            let named = |column: &&Column| column.name == name && column.role == Role::Parameter;
            calculation.inputs().iter().find(named)
        };
        for (place, (name, _)) in given.iter().enumerate() {
            if parameter(name).is_none() {
                let own = calculation.inputs().iter().filter(|column| column.role == Role::Parameter);
                let takes = own.map(|column| column.name).collect();
                return Err(HeaderError::NoParameter {
                    name: name.clone(),
                    method: calculation.name(),
                    takes,
                });
            }
            if names.contains(name) || given[..place].iter().any(|(before, _)| before == name) {
                return Err(HeaderError::GivenTwice(name.clone()));
            }
        }
        let read = read(calculation, &names, given)?;
        Ok(Self::carrying(calculation, header, &names, read))
    }

    fn carrying(
        calculation: &Calculation,
        header: &[&str],
        names: &[String],
        read: Vec<(String, Origin)>,
    ) -> Self {
        let own = |name: &str| calculation.outputs().iter().any(|output| output.name == name);
        // A set has one result and as many values as rows: those are not carried through.
        let parameter = |name: &str| {
            let named = |column: &&Column| column.name == name;
            calculation.inputs().iter().find(named).is_some_and(|column| column.role == Role::Parameter)
        };
        let varies = |name: &str| {
            let is_read = read.iter().any(|(known, _)| known == name);
            calculation.shape() == Shape::Set && name != SET_ID.name && is_read && !parameter(name)
        };
        let (mut carried, mut kept, mut replaced) = (Vec::new(), Vec::new(), Vec::new());
        for (place, name) in names.iter().enumerate() {
            if varies(name) {
                continue;
            }
            if own(name) {
                replaced.push(header[place].trim().to_owned());
            } else {
                carried.push(place);
                kept.push(header[place].trim().to_owned());
            }
        }
        let fixed = read.iter().filter(|(_, origin)| matches!(origin, Origin::Fixed(_)));
        kept.extend(fixed.map(|(name, _)| name.clone()));
        kept.extend(calculation.outputs().iter().map(|output| output.name.to_owned()));
        Self { read, carried, header: kept, replaced }
    }
}

/// The names of a header in lower case, each once.
fn names(header: &[&str]) -> Result<Vec<String>, HeaderError> {
    let mut names: Vec<String> = Vec::with_capacity(header.len());
    for (place, name) in header.iter().enumerate() {
        let name = name.trim().to_ascii_lowercase();
        if name.is_empty() {
            return Err(HeaderError::Nameless(place + 1));
        }
        if names.contains(&name) {
            return Err(HeaderError::Twice(name));
        }
        names.push(name);
    }
    Ok(names)
}

fn read(
    calculation: &Calculation,
    names: &[String],
    given: &[(String, String)],
) -> Result<Vec<(String, Origin)>, HeaderError> {
    let mut found: Vec<(String, Origin)> = Vec::new();
    let mut absent: Vec<String> = Vec::new();
    for column in calculation.inputs() {
        let place = names.iter().position(|name| name == column.name);
        let beside = given.iter().find(|(name, _)| name == column.name);
        let origin = match (place, beside, column.need) {
            (Some(_), _, _) if column.name == TERMS => return Err(HeaderError::TermsInRows),
            (Some(place), _, _) => Origin::Place(place),
            (None, Some((_, value)), _) => Origin::Fixed(value.clone()),
            (None, None, Need::Default(value)) => Origin::Fixed(value.to_owned()),
            (None, None, Need::Optional) => continue,
            (None, None, Need::Required) => {
                absent.push(column.name.to_owned());
                continue;
            }
        };
        found.push((column.name.to_owned(), origin));
    }
    let terms = given.iter().filter(|(name, _)| name == TERMS).flat_map(|(_, terms)| terms_of(terms));
    for term in terms {
        match names.iter().position(|name| *name == term) {
            Some(_) if found.iter().any(|(known, _)| *known == term) => {}
            Some(place) => found.push((term, Origin::Place(place))),
            None => absent.push(term),
        }
    }
    if absent.is_empty() {
        return Ok(found);
    }
    let reads = calculation.inputs().iter().map(|column| column.name).collect();
    Err(HeaderError::Missing { columns: absent, method: calculation.name(), reads })
}
