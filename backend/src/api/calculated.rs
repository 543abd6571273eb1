//! Rows of JSON through a calculation.

use quietbeam_analysis::calculate::{Calculation, Cell, HeaderError, Results, Sheet, Trouble};
use quietbeam_schema::entries::StrictJson;
use quietbeam_schema::finding::Weight;
use serde_json::Value;
use std::time::{Duration, Instant};

use super::problem::{Problem, ProblemError};

/// The most troubles that are told at once.
const MOST_TROUBLES: usize = 20;

/// What came with the request.
pub(super) struct Brought {
    pub(super) columns: Vec<String>,
    pub(super) rows: Vec<Vec<StrictJson>>,
    pub(super) with: StrictJson,
}

/// The names of the columns, and the rows.
type Table = (Vec<String>, Vec<Vec<Value>>);

/// The result, or everything that must be mended.
pub(super) fn calculated(
    calculation: &Calculation,
    brought: Brought,
    longest: Duration,
) -> Result<Table, Problem> {
    let begun = Instant::now();
    let given = parameters(&brought.with)?;
    let header: Vec<&str> = brought.columns.iter().map(String::as_str).collect();
    let mut sheet = Sheet::new(calculation, &header, &given).map_err(of_header)?;
    let numeric = numeric(&sheet, &brought);
    let (mut rows, mut troubles) = (Vec::new(), Vec::new());
    let mut keep = |taken: Result<Option<Results>, Trouble>| match taken {
        Ok(results) => rows.extend(results.iter().flat_map(|results| values(results, &numeric))),
        Err(trouble) => {
            let error = of_trouble(&trouble, &brought.columns);
            // A parameter beside the rows is as wrong for each of them.
            if troubles.len() < MOST_TROUBLES && !troubles.contains(&error) {
                troubles.push(error);
            }
        }
    };
    for (place, row) in brought.rows.iter().enumerate() {
        if begun.elapsed() > longest {
            let sentence = "These rows take too long here; send fewer, or use the command line.";
            return Err(Problem::field("/rows", "too_much_work", sentence));
        }
        let texts = texts(row, place)?;
        let texts: Vec<&str> = texts.iter().map(String::as_str).collect();
        keep(sheet.take(place as u64 + 1, &texts));
    }
    keep(sheet.finish());
    if troubles.is_empty() { Ok((sheet.header().to_vec(), rows)) } else { Err(Problem::mend(troubles)) }
}

/// A value as text: the calculation reads all numbers in one way.
fn text(json: &StrictJson) -> Option<String> {
    match json {
        StrictJson::Null => Some(String::new()),
        StrictJson::Number(text) | StrictJson::Text(text) => Some(text.clone()),
        StrictJson::Bool(_) | StrictJson::List(_) | StrictJson::Object(_) => None,
    }
}

fn not_a_value(pointer: &str) -> Problem {
    Problem::field(pointer, "json_type", "This takes a number, text or null.")
}

fn texts(row: &[StrictJson], place: usize) -> Result<Vec<String>, Problem> {
    let one = |(cell, json): (usize, &StrictJson)| {
        text(json).ok_or_else(|| not_a_value(&format!("/rows/{place}/{cell}")))
    };
    row.iter().enumerate().map(one).collect()
}

fn parameters(with: &StrictJson) -> Result<Vec<(String, String)>, Problem> {
    let fields = match with {
        StrictJson::Null => [].as_slice(),
        StrictJson::Object(fields) => fields,
        _ => return Err(Problem::field("/with", "json_type", "This takes a JSON object.")),
    };
    let one = |(name, json): &(String, StrictJson)| {
        let text = text(json).ok_or_else(|| not_a_value("/with"))?;
        Ok((name.clone(), text))
    };
    fields.iter().map(one).collect()
}

/// Which carried columns hold numbers, so that they go back as they came.
fn numeric(sheet: &Sheet<'_>, brought: &Brought) -> Vec<bool> {
    let is_number = |name: &String| {
        let Some(place) = brought.columns.iter().position(|column| column.trim() == name) else {
            return true;
        };
        let number = |json: &StrictJson| matches!(json, StrictJson::Number(_) | StrictJson::Null);
        brought.rows.iter().filter_map(|row| row.get(place)).all(number)
    };
    sheet.header().iter().map(is_number).collect()
}

fn values(results: &Results, numeric: &[bool]) -> Vec<Vec<Value>> {
    let carried: Vec<Value> = results
        .carried()
        .iter()
        .zip(numeric)
        .map(|(text, numeric)| match (text.as_str(), numeric) {
            ("", _) => Value::Null,
            (text, true) => text.parse().map_or_else(|_| Value::from(text), Value::Number),
            (text, false) => Value::from(text),
        })
        .collect();
    let row = |cells: &[Cell]| {
        let own = cells.iter().map(|cell| match cell {
            Cell::Number(number) => Value::from(*number),
            Cell::Blank => Value::Null,
            Cell::Unbounded | Cell::Word(_) => Value::from(cell.text()),
        });
        carried.iter().cloned().chain(own).collect()
    };
    results.lines().iter().map(|line| row(&line.cells)).collect()
}

fn of_header(error: HeaderError) -> Problem {
    let (pointer, rule) = match &error {
        HeaderError::Missing { .. } => ("/columns".to_owned(), "missing_column"),
        HeaderError::Nameless(place) => (format!("/columns/{}", place - 1), "column_without_name"),
        HeaderError::TermsInRows => ("/columns".to_owned(), "terms_in_rows"),
        HeaderError::Twice(_) => ("/columns".to_owned(), "duplicate_column"),
        HeaderError::GivenTwice(_) => ("/with".to_owned(), "given_twice"),
        HeaderError::NoParameter { .. } => ("/with".to_owned(), "unknown_parameter"),
    };
    Problem::field(&pointer, rule, sentence(&error.to_string()))
}

fn of_trouble(trouble: &Trouble, columns: &[String]) -> ProblemError {
    let place = trouble
        .column
        .as_ref()
        .and_then(|name| columns.iter().position(|column| column.trim().eq_ignore_ascii_case(name)));
    let pointer = match (trouble.line, place) {
        (None, _) => "/with".to_owned(),
        (Some(line), None) => format!("/rows/{}", line - 1),
        (Some(line), Some(place)) => format!("/rows/{}/{place}", line - 1),
    };
    let sentence = sentence(&trouble.to_string());
    ProblemError { pointer, rule: "value".to_owned(), weight: Weight::Hard, sentence }
}

fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    format!("{first}{}.", letters.as_str())
}
