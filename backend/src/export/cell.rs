//! A stored record as the rows of the three tables, in the columns of the import.

use quietbeam_schema::case::CASE_CODE;
use quietbeam_schema::dictionary::column;
use quietbeam_schema::value::Kind;
use serde_json::{Map, Value};

use super::ExportError;
use crate::intake::{FileKind, guarded, header, variables};
use crate::store::CaseRow;

/// What stands in one cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Cell {
    /// Nothing.
    Blank,
    /// A number in its own digits.
    Number(serde_json::Number),
    /// Codes, units, words.
    Text(String),
}

impl Cell {
    /// The cell as text.
    pub(super) fn into_text(self) -> String {
        match self {
            Self::Blank => String::new(),
            Self::Number(number) => number.to_string(),
            Self::Text(text) => text,
        }
    }
}

/// The columns of the three tables.
pub(super) struct Columns([Vec<Column>; 3]);

struct Column {
    key: String,
    /// What people wrote, which might look like a formula.
    free_text: bool,
}

impl Columns {
    pub(super) fn new() -> Self {
        Self(FileKind::ALL.map(|kind| {
            let known = variables(kind);
            let free = |key: &str| {
                column(&known, key).is_some_and(|(of, unit)| !unit && matches!(of.kind, Kind::Text { .. }))
            };
            header(kind).into_iter().map(|key| Column { free_text: free(&key), key }).collect()
        }))
    }

    /// The rows that hold a case, each with its table.
    pub(super) fn rows(&self, case: &CaseRow) -> Result<Vec<(FileKind, Vec<Cell>)>, ExportError> {
        let record: Value =
            serde_json::from_str(&case.content.record).map_err(|_| ExportError::Unreadable)?;
        let record = record.as_object().ok_or(ExportError::Unreadable)?;
        let row = |kind: FileKind, of: &Map<String, Value>| (kind, self.row(kind, case, of));
        let mut rows = vec![row(FileKind::Cases, record)];
        let complications = record.get("complications").and_then(Value::as_array);
        for event in complications.into_iter().flatten() {
            rows.push(row(FileKind::Complications, event.as_object().ok_or(ExportError::Unreadable)?));
        }
        if let Some(follow_up) = record.get("follow_up").and_then(Value::as_object) {
            rows.push(row(FileKind::FollowUps, follow_up));
        }
        Ok(rows)
    }

    fn row(&self, kind: FileKind, case: &CaseRow, of: &Map<String, Value>) -> Vec<Cell> {
        let cell = |column: &Column| match of.get(&column.key) {
            _ if column.key == CASE_CODE.key => Cell::Text(case.code.to_string()),
            None | Some(Value::Null) => Cell::Blank,
            Some(Value::Number(number)) => Cell::Number(number.clone()),
            Some(Value::Array(codes)) => {
                let codes: Vec<&str> = codes.iter().filter_map(Value::as_str).collect();
                Cell::Text(codes.join(";"))
            }
            Some(Value::String(text)) if column.free_text => Cell::Text(guarded(text)),
            Some(Value::String(text)) => Cell::Text(text.clone()),
            Some(other) => Cell::Text(other.to_string()),
        };
        self.0[kind as usize].iter().map(cell).collect()
    }
}
