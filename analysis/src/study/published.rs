//! What the public reads of one count, and how it is written and read again.

use super::numerals;
use quietbeam_schema::vocabulary::Coded;
use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

/// A count for the public: `{"shown": 27}` or `{"hidden": true}`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(into = "Written", try_from = "Written")]
pub enum Published {
    /// The count.
    Shown(u64),
    /// Not shown. Whether for its own sake or for another's is not told.
    Hidden,
}

#[derive(Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Written {
    Shown(u64),
    Hidden(bool),
}

impl From<Published> for Written {
    fn from(count: Published) -> Self {
        match count {
            Published::Shown(count) => Self::Shown(count),
            Published::Hidden => Self::Hidden(true),
        }
    }
}

impl TryFrom<Written> for Published {
    type Error = &'static str;

    fn try_from(written: Written) -> Result<Self, &'static str> {
        match written {
            Written::Shown(count) => Ok(Self::Shown(count)),
            Written::Hidden(true) => Ok(Self::Hidden),
            Written::Hidden(false) => Err("a count that is not hidden must be shown"),
        }
    }
}

impl fmt::Display for Published {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Shown(count) => f.write_str(&numerals::count(*count)),
            Self::Hidden => f.write_str("not shown"),
        }
    }
}

/// Below this count a percentage has no decimals (common practice, no source).
const FEW: u64 = 50;

/// A share of fewer cases says nothing (common practice, no source).
pub const FEWEST_OF_A_SHARE: u64 = 11;

/// A count with its share of the line's cases.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PublishedPart {
    /// The count.
    pub count: Published,
    /// Its share of the cases, between 0 and 1; absent unless both counts are shown, because a share
    /// gives its count away, and of fewer cases than [`FEWEST_OF_A_SHARE`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub share_of_cases: Option<f64>,
    /// The share in whole per cent, where the count is not shown but this may be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub whole_percent: Option<u8>,
}

impl PublishedPart {
    pub(super) fn new(count: Published, cases: Published) -> Self {
        let share_of_cases = match (count, cases) {
            (Published::Shown(count), Published::Shown(cases)) if cases >= FEWEST_OF_A_SHARE => {
                Some(count as f64 / cases as f64)
            }
            _ => None,
        };
        Self { count, share_of_cases, whole_percent: None }
    }

    /// The share in per cent, with no more digits than its count supports.
    pub fn percent(&self) -> Option<String> {
        let Published::Shown(count) = self.count else { return None };
        let decimals = usize::from(count >= FEW);
        self.share_of_cases.map(|share| numerals::percent(share, decimals))
    }
}

/// One of a list, or all of it; written as its code or "all".
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum OneOrAll<C> {
    /// One.
    One(C),
    /// All of them together.
    All,
}

impl<C: Coded> OneOrAll<C> {
    /// Each of the list in its order, then all.
    pub fn each() -> impl Iterator<Item = Self> {
        C::all().iter().copied().map(Self::One).chain([Self::All])
    }

    /// The label of the one, or what all of them are called.
    pub fn label(self, all: &'static str) -> &'static str {
        match self {
            Self::One(one) => one.label(),
            Self::All => all,
        }
    }
}

const ALL: &str = "all";

impl<C: Coded> Serialize for OneOrAll<C> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(match self {
            Self::One(one) => one.code(),
            Self::All => ALL,
        })
    }
}

impl<'de, C: Coded> Deserialize<'de> for OneOrAll<C> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let code = String::deserialize(deserializer)?;
        if code == ALL {
            return Ok(Self::All);
        }
        C::from_code(&code).map(Self::One).ok_or_else(|| D::Error::custom("no such code in a published line"))
    }
}
