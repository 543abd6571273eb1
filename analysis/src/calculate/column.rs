//! The columns that calculations take and give.

use serde::Serialize;

/// What a calculation does when a column is absent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Need {
    /// It cannot begin.
    Required,
    /// It takes this value.
    Default(&'static str),
    /// It does without.
    Optional,
}

/// What a column means for rows that belong together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Each row has its own value.
    Value,
    /// One value for all rows of a set; it may also be given once beside the rows.
    Parameter,
}

/// A column that a calculation reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Column {
    /// Its name in the header.
    pub name: &'static str,
    /// What its values are, in words that follow "takes".
    pub takes: &'static str,
    /// Value or parameter.
    pub role: Role,
    /// What happens without it.
    pub need: Need,
}

impl Column {
    /// A column of values that must be there.
    pub(super) const fn value(name: &'static str, takes: &'static str) -> Self {
        Self { name, takes, role: Role::Value, need: Need::Required }
    }

    /// A parameter that must be given.
    pub(super) const fn parameter(name: &'static str, takes: &'static str) -> Self {
        Self { name, takes, role: Role::Parameter, need: Need::Required }
    }

    /// The same, where the calculation can do without.
    pub(super) const fn optional(mut self) -> Self {
        self.need = Need::Optional;
        self
    }

    /// The same with a value that holds when none is given.
    pub(super) const fn or(mut self, default: &'static str) -> Self {
        self.need = Need::Default(default);
        self
    }
}

/// What joins the rows of one set.
pub(super) const SET_ID: Column =
    Column::value("set_id", "the name of the set; its rows stand together").optional();

/// A column that a calculation writes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Output {
    /// Its name in the header.
    pub name: &'static str,
    /// What it tells.
    pub meaning: &'static str,
}

impl Output {
    pub(super) const fn new(name: &'static str, meaning: &'static str) -> Self {
        Self { name, meaning }
    }
}

/// The calculation that made a row.
pub(super) const METHOD: Output = Output::new("method", "the calculation");

/// Why a row has no numbers.
pub(super) const REASON: Output = Output::new("reason", "why it cannot be estimated; blank when it can");
