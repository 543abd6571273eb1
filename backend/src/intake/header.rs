//! The header: which column holds which field of the dictionary.

use super::FileKind;
use super::labels::{coded, key_of};
use super::problem::{At, Problem};
use super::trouble::FileTrouble;
use csv::StringRecord;
use quietbeam_schema::case::{CASE_CODE, case_variables, complication_variables, follow_up_variables};
use quietbeam_schema::dictionary::{Need, Variable, column};
use quietbeam_schema::entries::{Entries, unknown_field};
use quietbeam_schema::finding::Part;

/// The column that says why a stored case changes.
pub(super) const CHANGE_REASON: &str = "change_reason";

/// The full header of a kind of file, in the order of the dictionary.
pub fn header(kind: FileKind) -> Vec<String> {
    let own = variables(kind).into_iter().flat_map(|variable| variable.columns().collect::<Vec<_>>());
    match kind {
        FileKind::Cases => own.chain([CHANGE_REASON.to_owned()]).collect(),
        FileKind::Complications | FileKind::FollowUps => {
            std::iter::once(CASE_CODE.key.to_owned()).chain(own).collect()
        }
    }
}

/// The variables of a kind of file.
pub(crate) fn variables(kind: FileKind) -> Vec<&'static Variable> {
    match kind {
        FileKind::Cases => case_variables(),
        FileKind::Complications => complication_variables(),
        FileKind::FollowUps => follow_up_variables(),
    }
}

/// The columns of one file.
#[derive(Debug)]
pub(super) struct Header {
    keys: Vec<String>,
    /// The variable whose value, not unit, each column holds.
    variables: Vec<Option<&'static Variable>>,
    code: Option<usize>,
    reason: Option<usize>,
    /// Whether the case code is one of the row's own fields.
    code_is_field: bool,
}

impl Header {
    /// Reads the header, telling everything that is wrong with it.
    pub(super) fn read(kind: FileKind, record: &StringRecord) -> Result<Self, Vec<Problem>> {
        let known = variables(kind);
        // Spreadsheets write empty columns to the right of the last one.
        let named = record.iter().enumerate().filter(|(_, name)| !name.trim().is_empty());
        let width = named.last().map_or(0, |(last, _)| last + 1);
        let mut keys: Vec<String> = Vec::with_capacity(width);
        let mut problems = Vec::new();
        for (position, name) in record.iter().take(width).enumerate() {
            let key = key_of(&known, name);
            let beside = (key == CASE_CODE.key) || (kind == FileKind::Cases && key == CHANGE_REASON);
            let trouble = if key.is_empty() {
                Some(FileTrouble::Nameless(position + 1))
            } else if keys.contains(&key) {
                Some(FileTrouble::ColumnTwice(key.clone()))
            } else {
                None
            };
            if key.is_empty() || beside || column(&known, &key).is_some() {
                problems.extend(trouble.map(|trouble| trouble.at(kind, At::HEADER)));
            } else {
                problems.push(unknown_column(kind, name.trim()));
            }
            keys.push(key);
        }
        problems.extend(missing_columns(kind, &known, &keys).map(|trouble| trouble.at(kind, At::HEADER)));
        let position_of = |wanted: &str| keys.iter().position(|key| key == wanted);
        let (code, reason) = (position_of(CASE_CODE.key), position_of(CHANGE_REASON));
        let code_is_field = kind == FileKind::Cases;
        let value_of = |key: &String| column(&known, key).and_then(|(of, unit)| (!unit).then_some(of));
        let variables = keys.iter().map(value_of).collect();
        if problems.is_empty() {
            Ok(Self { keys, variables, code, reason, code_is_field })
        } else {
            Err(problems)
        }
    }

    /// How many columns.
    pub(super) fn len(&self) -> usize {
        self.keys.len()
    }

    /// The case code as given, if it is not blank.
    pub(super) fn code<'r>(&self, row: &'r StringRecord) -> Option<&'r str> {
        filled(row, self.code)
    }

    /// The reason for the change as given, if it is not blank.
    pub(super) fn reason<'r>(&self, row: &'r StringRecord) -> Option<&'r str> {
        filled(row, self.reason)
    }

    /// The row's own fields that are not blank.
    pub(super) fn entries<'r>(&self, fields: impl Iterator<Item = &'r str>) -> Entries {
        let mut entries = Entries::default();
        for (position, (key, text)) in self.keys.iter().zip(fields).enumerate() {
            let beside =
                Some(position) == self.reason || (Some(position) == self.code && !self.code_is_field);
            if !beside && !text.trim().is_empty() {
                let variable = self.variables[position];
                entries.put(key.as_str(), variable.map_or(text.into(), |variable| coded(variable, text)));
            }
        }
        entries
    }
}

fn filled(row: &StringRecord, position: Option<usize>) -> Option<&str> {
    row.get(position?).map(str::trim).filter(|text| !text.is_empty())
}

/// The separator that a header of a single "column" was meant to have.
pub(super) fn other_delimiter(record: &StringRecord) -> Option<&'static str> {
    let only = (record.len() == 1).then(|| record.get(0)).flatten()?;
    [(';', "semicolons"), ('\t', "tabs"), ('|', "vertical bars")]
        .into_iter()
        .find_map(|(separator, name)| only.contains(separator).then_some(name))
}

fn unknown_column(kind: FileKind, name: &str) -> Problem {
    // The part plays no role: a column is named by its key alone.
    let finding = unknown_field(Part::Case, name);
    Problem {
        file: kind,
        at: At::HEADER,
        column: finding.places.first().map(|place| place.key.clone()).filter(|key| !key.is_empty()),
        rule: finding.rule,
        weight: finding.weight,
        sentence: finding.sentence,
    }
}

/// Columns without which every single row would be refused.
fn missing_columns(kind: FileKind, known: &[&'static Variable], keys: &[String]) -> Option<FileTrouble> {
    let code = (kind != FileKind::Cases).then_some(CASE_CODE.key);
    let always = known.iter().filter(|variable| variable.need == Need::Always).map(|variable| variable.key);
    let missing: Vec<&str> =
        code.into_iter().chain(always).filter(|key| !keys.iter().any(|given| given == key)).collect();
    (!missing.is_empty()).then(|| FileTrouble::ColumnsMissing(missing.join(", ")))
}
