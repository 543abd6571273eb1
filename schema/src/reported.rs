//! A value, or the stated reason why there is none: never a blank.

use crate::value::ValueProblem;
use serde::Serialize;

/// Why a value is absent. A number and a reason are never present together,
/// and no reason is ever read as zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum MissingCode {
    /// The centre did not write it down.
    #[serde(rename = "nr")]
    NotRecorded,
    /// The question does not apply to this case.
    #[serde(rename = "na")]
    NotApplicable,
    /// Asked, and nobody knows.
    #[serde(rename = "unk")]
    Unknown,
    /// Known, and withheld for privacy.
    #[serde(rename = "wh")]
    Withheld,
    /// The test or step was not done.
    #[serde(rename = "nd")]
    NotDone,
}

impl MissingCode {
    /// All reasons, in the order in which they are offered.
    pub const ALL: [Self; 5] =
        [Self::NotRecorded, Self::NotApplicable, Self::Unknown, Self::Withheld, Self::NotDone];

    /// The code as written in files and JSON.
    pub fn code(self) -> &'static str {
        match self {
            Self::NotRecorded => "nr",
            Self::NotApplicable => "na",
            Self::Unknown => "unk",
            Self::Withheld => "wh",
            Self::NotDone => "nd",
        }
    }

    /// The reason in words.
    pub fn label(self) -> &'static str {
        match self {
            Self::NotRecorded => "not recorded",
            Self::NotApplicable => "not applicable",
            Self::Unknown => "asked and unknown",
            Self::Withheld => "withheld for privacy",
            Self::NotDone => "not done",
        }
    }

    /// Reads a code in upper or lower case.
    pub fn from_code(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|code| code.code().eq_ignore_ascii_case(text.trim()))
    }
}

/// A reported value, or the reason why there is none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Reported<T> {
    /// What was reported.
    Value(T),
    /// Why nothing was reported.
    Missing(MissingCode),
}

impl<T> Reported<T> {
    /// The value, if one was reported.
    pub fn value(&self) -> Option<&T> {
        match self {
            Self::Value(value) => Some(value),
            Self::Missing(_) => None,
        }
    }

    /// Whether a value was reported and it satisfies `test`.
    pub fn is(&self, test: impl FnOnce(&T) -> bool) -> bool {
        self.value().is_some_and(test)
    }

    /// The reason, if nothing was reported.
    pub fn missing(&self) -> Option<MissingCode> {
        match self {
            Self::Value(_) => None,
            Self::Missing(code) => Some(*code),
        }
    }
}

impl<T: crate::value::FieldValue> Reported<T> {
    /// Reads a missing code or a value; blank text is the caller's affair.
    ///
    /// # Errors
    /// What is wrong with the text as a value of `T`.
    pub fn parse(text: &str) -> Result<Self, ValueProblem> {
        match MissingCode::from_code(text) {
            Some(code) => Ok(Self::Missing(code)),
            None => T::parse(text).map(Self::Value),
        }
    }
}
