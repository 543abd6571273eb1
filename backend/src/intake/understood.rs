//! How each column of a kept file is read, and the one question that cannot be answered from
//! the file: in which unit a column of numbers is.

use quietbeam_schema::dictionary::{Variable, column};
use quietbeam_schema::quantity::{Dimension, Unit};
use quietbeam_schema::value::{Kind, decimal_point};
use serde::{Deserialize, Serialize};
use std::io;

use super::FileKind;
use super::header::variables;
use super::mending::is_reading;
use super::staged::Staged;

/// How a column is read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ColumnRead {
    /// Which file.
    pub file: FileKind,
    /// Its header.
    pub given: String,
    /// The field it is taken as; `None` when the record has none.
    pub field: Option<String>,
    /// A text of the file that is read as something else, and as what.
    pub reading: Option<(String, String)>,
}

impl ColumnRead {
    /// Whether there is nothing to say about it.
    pub fn is_plain(&self) -> bool {
        self.field.is_some() && self.reading.is_none()
    }
}

/// A column of numbers without a unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Question {
    /// Which file.
    pub file: FileKind,
    /// The column.
    pub key: String,
    /// Its header.
    pub given: String,
    /// Rows with a number in it.
    pub rows: u64,
    /// The smallest number as it stands there.
    pub lowest: String,
    /// The middle one.
    pub middle: String,
    /// The largest.
    pub highest: String,
    /// What it can be.
    pub units: Vec<UnitChoice>,
}

/// A unit, and what the middle number would mean in it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct UnitChoice {
    /// The unit as it is written in files.
    pub ucum: String,
    /// The unit as it is read.
    pub label: String,
    /// What the middle number would be in the unit of the record, in words.
    pub means: String,
    /// Whether a middle case can be like that.
    pub plausible: bool,
}

impl Staged {
    /// How each column is read, and the first question about a unit.
    ///
    /// # Errors
    /// When the text is no longer what was written.
    pub fn understood(&self) -> io::Result<(Vec<ColumnRead>, Option<Question>)> {
        let known = variables(self.layout.kind);
        let mut looks: Vec<Look> =
            self.layout.columns.iter().map(|given| Look::of(&known, &given.key)).collect();
        let unit_places: Vec<Option<usize>> = looks.iter().map(|look| self.unit_place(look)).collect();
        self.each(|_, record| {
            for (place, look) in looks.iter_mut().enumerate() {
                let unit = unit_places[place].and_then(|place| record.get(place)).unwrap_or_default();
                look.see(record.get(place).unwrap_or_default().trim(), unit.trim());
            }
            Ok(())
        })?;
        let question = looks
            .iter_mut()
            .zip(&self.layout.columns)
            .find_map(|(look, column)| look.question(self.layout.kind, &column.key, &column.given));
        let read = |(look, column): (Look, &super::GivenColumn)| ColumnRead {
            file: self.layout.kind,
            given: column.given.clone(),
            field: Some(look.field),
            reading: look.reading,
        };
        let mut columns: Vec<ColumnRead> = looks.into_iter().zip(&self.layout.columns).map(read).collect();
        columns.extend(self.layout.without_field.iter().map(|given| ColumnRead {
            file: self.layout.kind,
            given: given.clone(),
            field: None,
            reading: None,
        }));
        Ok((columns, question))
    }

    fn unit_place(&self, look: &Look) -> Option<usize> {
        let unit_key = look.variable?.unit_key()?;
        self.layout.columns.iter().position(|column| column.key == unit_key)
    }
}

/// What is seen of one column while the rows go by.
struct Look {
    field: String,
    variable: Option<&'static Variable>,
    reading: Option<(String, String)>,
    without_unit: Vec<(f64, String)>,
}

impl Look {
    fn of(known: &[&'static Variable], key: &str) -> Self {
        let (field, variable) = match column(known, key) {
            Some((variable, true)) => (format!("{}, unit", variable.label), None),
            Some((variable, false)) => (variable.label.to_owned(), Some(variable)),
            None if key == quietbeam_schema::case::CASE_CODE.key => {
                (quietbeam_schema::case::CASE_CODE.label.to_owned(), None)
            }
            None => ("Reason for the change".to_owned(), None),
        };
        Self { field, variable, reading: None, without_unit: Vec::new() }
    }

    fn see(&mut self, text: &str, unit: &str) {
        let Some(variable) = self.variable.filter(|_| !text.is_empty()) else { return };
        match variable.kind {
            Kind::Whole { .. } | Kind::Decimal { .. } => self.see_number(text),
            Kind::Quantity(_) => {
                self.see_number(text);
                if unit.is_empty() && is_reading(text) {
                    let number = decimal_point(text).ok().and_then(|text| text.parse::<f64>().ok());
                    self.without_unit.extend(number.map(|number| (number, text.to_owned())));
                }
            }
            _ => {}
        }
    }

    fn see_number(&mut self, text: &str) {
        if self.reading.is_none()
            && text.contains(',')
            && let Ok(number) = decimal_point(text)
            && number.parse::<f64>().is_ok()
        {
            self.reading = Some((text.to_owned(), number));
        }
    }

    fn question(&mut self, file: FileKind, key: &str, given: &str) -> Option<Question> {
        let Some(Variable { kind: Kind::Quantity(dimension), query, .. }) = self.variable else {
            return None;
        };
        self.without_unit.sort_by(|one, other| one.0.total_cmp(&other.0));
        let text = |at: usize| self.without_unit.get(at).map(|(_, text)| text.clone());
        let count = self.without_unit.len();
        let (lowest, middle, highest) = (text(0)?, text((count - 1) / 2)?, text(count - 1)?);
        let choices = dimension.units.iter().map(|unit| choice(dimension, *query, unit, &middle));
        let mut units: Vec<UnitChoice> = choices.collect();
        units.sort_by_key(|unit| !unit.plausible);
        Some(Question {
            file,
            key: key.to_owned(),
            given: given.to_owned(),
            rows: count as u64,
            lowest,
            middle,
            highest,
            units,
        })
    }
}

fn choice(dimension: &Dimension, query: Option<(f64, f64)>, unit: &Unit, middle: &str) -> UnitChoice {
    let (said, plausible) = match dimension.read(middle, unit.ucum) {
        Ok((_, _, canonical)) => {
            let inside = query.is_none_or(|(low, high)| (low..=high).contains(&canonical));
            let doubt = if inside { "" } else { ", implausible" };
            (format!("middle {} {}{doubt}", short(canonical), dimension.canonical().label), inside)
        }
        Err(_) => ("beyond what any record takes".to_owned(), false),
    };
    UnitChoice { ucum: unit.ucum.to_owned(), label: unit.label.to_owned(), means: said, plausible }
}

/// At most four digits that count.
fn short(value: f64) -> String {
    let decimals = match value.abs() {
        size if size >= 1000.0 => 0,
        size if size >= 100.0 => 1,
        size if size >= 10.0 => 2,
        size if size >= 1.0 => 3,
        _ => 4,
    };
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}
