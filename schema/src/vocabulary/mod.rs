//! Closed coded lists, a file a topic. A code is lower snake case and the same
//! in files, JSON and pages; its definition is its doc comment.

use crate::value::{FieldValue, Kind, ValueProblem};
use serde::de::{Deserialize, Deserializer, Error as _};

mod acute_result;
mod adjudication;
mod centre;
mod common;
mod complication;
mod follow_up;
mod guidance;
mod listing;
mod patient;
mod plan;
mod procedure;
mod release;
#[cfg(test)]
mod tests;

pub use acute_result::*;
pub use adjudication::*;
pub use centre::*;
pub use common::*;
pub use complication::*;
pub use follow_up::*;
pub use guidance::*;
pub use listing::*;
pub use patient::*;
pub use plan::*;
pub use procedure::*;
pub use release::*;

/// One code of a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Code {
    /// As written in files and JSON.
    pub code: &'static str,
    /// As shown to a person.
    pub label: &'static str,
    /// What it means, in one or two sentences.
    pub definition: &'static str,
}

/// A closed list of codes.
#[derive(Debug, PartialEq, Eq)]
pub struct CodeList {
    /// The list's name in the codebook.
    pub name: &'static str,
    /// The codes in the order in which they are offered.
    pub codes: &'static [Code],
}

impl CodeList {
    /// The codes, separated by commas, for a sentence.
    pub fn codes_joined(&self) -> String {
        self.codes.iter().map(|code| code.code).collect::<Vec<_>>().join(", ")
    }
}

/// A type whose values are the codes of one closed list.
pub trait Coded: Copy + Eq + Ord + 'static {
    /// The list.
    const LIST: &'static CodeList;

    /// Every value, in the list's order.
    fn all() -> &'static [Self];

    /// The position in the list.
    fn position(self) -> usize;

    /// As written in files and JSON.
    fn code(self) -> &'static str {
        Self::LIST.codes[self.position()].code
    }

    /// As shown to a person.
    fn label(self) -> &'static str {
        Self::LIST.codes[self.position()].label
    }

    /// Reads a code in upper or lower case.
    fn from_code(text: &str) -> Option<Self> {
        let text = text.trim();
        Self::all().iter().copied().find(|value| value.code().eq_ignore_ascii_case(text))
    }
}

/// Declares a closed list: `Variant = "code", "Label";` under a doc comment
/// that becomes the code's definition.
macro_rules! code_list {
    ($(#[doc = $doc:literal])+ $name:ident = $list:literal {
        $($(#[doc = $definition:literal])+ $variant:ident = $code:literal, $label:literal;)+
    }) => {
        $(#[doc = $doc])+
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum $name { $($(#[doc = $definition])+ $variant,)+ }

        impl $crate::vocabulary::Coded for $name {
            const LIST: &'static $crate::vocabulary::CodeList = &$crate::vocabulary::CodeList {
                name: $list,
                codes: &[$($crate::vocabulary::Code {
                    code: $code, label: $label, definition: concat!($($definition),+).trim_ascii(),
                },)+],
            };
            fn all() -> &'static [Self] { &[$(Self::$variant,)+] }
            fn position(self) -> usize { self as usize }
        }

        impl $crate::value::FieldValue for $name {
            const KIND: $crate::value::Kind =
                $crate::value::Kind::Code(<Self as $crate::vocabulary::Coded>::LIST);
            fn parse(text: &str) -> Result<Self, $crate::value::ValueProblem> {
                $crate::vocabulary::parse_code(text)
            }
            fn text(&self) -> String {
                $crate::vocabulary::Coded::code(*self).to_owned()
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.serialize_str($crate::vocabulary::Coded::code(*self))
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                $crate::vocabulary::deserialize_code(deserializer)
            }
        }
    };
}
pub(crate) use code_list;

/// Reads one code of a list.
pub(crate) fn parse_code<C: Coded>(text: &str) -> Result<C, ValueProblem> {
    C::from_code(text).ok_or(ValueProblem::NotInList(C::LIST))
}

/// Reads one code of a list from JSON, where it may also be a key.
pub(crate) fn deserialize_code<'de, C: Coded, D: Deserializer<'de>>(deserializer: D) -> Result<C, D::Error> {
    let text = String::deserialize(deserializer)?;
    parse_code(&text).map_err(|problem| D::Error::custom(format!("{} {problem}", C::LIST.name)))
}

/// Several codes of one list, each at most once, in the list's order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Codes<C>(Vec<C>);

impl<C: Coded> Codes<C> {
    /// Whether `code` is among them.
    pub fn has(&self, code: C) -> bool {
        self.0.contains(&code)
    }

    /// Whether any of `codes` is among them.
    pub fn has_any(&self, codes: &[C]) -> bool {
        codes.iter().any(|code| self.has(*code))
    }

    /// The codes in the list's order.
    pub fn iter(&self) -> impl Iterator<Item = C> + '_ {
        self.0.iter().copied()
    }

    /// How many codes.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Never true for a value read from a file: a blank is not a list.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl<C: Coded> FieldValue for Codes<C> {
    const KIND: Kind = Kind::Codes(C::LIST);

    fn parse(text: &str) -> Result<Self, ValueProblem> {
        let mut codes = Vec::new();
        for part in text.split(';').map(str::trim).filter(|part| !part.is_empty()) {
            let code: C = parse_code(part)?;
            if codes.contains(&code) {
                return Err(ValueProblem::NamedTwice(code.code()));
            }
            codes.push(code);
        }
        if codes.is_empty() {
            return Err(ValueProblem::NotInList(C::LIST));
        }
        // "none" beside a finding would be two answers to one question.
        if let (true, Some(none)) = (codes.len() > 1, codes.iter().find(|c| c.code() == "none")) {
            return Err(ValueProblem::NotAlone(none.code()));
        }
        codes.sort_unstable();
        Ok(Self(codes))
    }

    fn text(&self) -> String {
        self.0.iter().map(|code| code.code()).collect::<Vec<_>>().join(";")
    }
}
