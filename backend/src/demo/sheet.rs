//! A delimited text file in the making: the dictionary's keys as header, commas
//! between fields, quotes where a field needs them (RFC 4180).

use quietbeam_schema::dictionary::Variable;
use quietbeam_schema::reported::MissingCode;
use quietbeam_schema::vocabulary::Coded;
use std::collections::HashMap;

/// One file.
pub(super) struct Sheet {
    positions: HashMap<String, usize>,
    cells: Vec<String>,
    text: String,
}

impl Sheet {
    /// A file with a column, or a pair of columns, for each variable.
    pub(super) fn new(variables: &[&'static Variable]) -> Self {
        let columns: Vec<String> = variables.iter().flat_map(|variable| variable.columns()).collect();
        let positions = columns.iter().enumerate().map(|(at, key)| (key.clone(), at)).collect();
        let mut sheet = Self { positions, cells: columns, text: String::new() };
        sheet.end_row();
        sheet
    }

    /// Fills a field of the present row.
    pub(super) fn put(&mut self, key: &str, text: impl Into<String>) {
        let at = self.positions.get(key).copied();
        debug_assert!(at.is_some(), "no column {key}");
        if let Some(cell) = at.and_then(|at| self.cells.get_mut(at)) {
            *cell = text.into();
        }
    }

    pub(super) fn whole(&mut self, key: &str, number: i64) {
        self.put(key, number.to_string());
    }

    pub(super) fn code(&mut self, key: &str, code: impl Coded) {
        self.put(key, code.code());
    }

    pub(super) fn codes<C: Coded>(&mut self, key: &str, codes: &[C]) {
        self.put(key, codes.iter().map(|code| code.code()).collect::<Vec<_>>().join(";"));
    }

    pub(super) fn missing(&mut self, key: &str, why: MissingCode) {
        self.put(key, why.code());
    }

    /// A quantity with the unit beside it.
    pub(super) fn quantity(&mut self, key: &str, number: impl Into<String>, unit: &str) {
        self.put(key, number);
        self.put(&format!("{key}_unit"), unit);
    }

    /// Closes the present row and opens a blank one.
    pub(super) fn end_row(&mut self) {
        for (at, cell) in self.cells.iter_mut().enumerate() {
            if at > 0 {
                self.text.push(',');
            }
            if cell.contains(['"', ',', '\r', '\n']) {
                self.text.push('"');
                self.text.push_str(&cell.replace('"', "\"\""));
                self.text.push('"');
            } else {
                self.text.push_str(cell);
            }
            cell.clear();
        }
        self.text.push_str("\r\n");
    }

    /// The file's text.
    pub(super) fn into_text(self) -> String {
        self.text
    }
}

/// A positive number with three significant digits, as a person copies it.
pub(super) fn three_digits(number: f64) -> String {
    let before_point = libm::floor(libm::log10(number)) as i32;
    let decimals = (2 - before_point).clamp(0, 8) as usize;
    format!("{number:.decimals$}")
}
