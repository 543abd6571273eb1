//! Time without dates: a quarter of a year, and whole days and minutes from
//! the procedure. No type of a case holds a full date.

use crate::value::{FieldValue, Kind, ValueProblem};
use serde::de::Error as _;
use serde::{Deserialize, Serialize};
use std::fmt;

#[cfg(test)]
mod tests;

/// A quarter of a calendar year, from 2010Q1 on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Quarter {
    year: u16,
    quarter: u8,
}

impl Quarter {
    /// The first quarter the registry accepts.
    pub const FIRST: Self = Self { year: 2010, quarter: 1 };

    /// A quarter of a year; `None` outside 2010 to 2099 or 1 to 4.
    pub fn new(year: u16, quarter: u8) -> Option<Self> {
        ((2010..=2099).contains(&year) && (1..=4).contains(&quarter)).then_some(Self { year, quarter })
    }

    /// The calendar year.
    pub fn year(self) -> u16 {
        self.year
    }

    /// The quarter of the year, 1 to 4.
    pub fn quarter(self) -> u8 {
        self.quarter
    }

    /// The quarter after this one.
    pub fn next(self) -> Self {
        match self.quarter {
            4 => Self { year: self.year + 1, quarter: 1 },
            quarter => Self { year: self.year, quarter: quarter + 1 },
        }
    }

    /// The quarter before this one; `None` before the first that the registry accepts.
    pub fn previous(self) -> Option<Self> {
        match self.quarter {
            1 => Self::new(self.year - 1, 4),
            quarter => Self::new(self.year, quarter - 1),
        }
    }
}

/// Whole quarters, one after the other, each end open where it is absent.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Period {
    /// The first.
    pub first: Option<Quarter>,
    /// The last.
    pub last: Option<Quarter>,
}

impl Period {
    /// The four quarters of a year; all time for a year that the registry does not know.
    pub fn year(year: u16) -> Self {
        Self { first: Quarter::new(year, 1), last: Quarter::new(year, 4) }
    }

    /// Whether a quarter is one of them.
    pub fn holds(self, quarter: Quarter) -> bool {
        self.first.is_none_or(|first| first <= quarter) && self.last.is_none_or(|last| quarter <= last)
    }

    /// Whether every quarter of another period is one of them.
    pub fn encloses(self, other: Self) -> bool {
        let begins = self.first.is_none_or(|first| other.first.is_some_and(|begins| first <= begins));
        begins && self.last.is_none_or(|last| other.last.is_some_and(|ends| ends <= last))
    }

    /// The quarters that both hold.
    #[must_use]
    pub fn within(self, other: Self) -> Self {
        let first = self.first.max(other.first);
        let last = [self.last, other.last].into_iter().flatten().min();
        Self { first, last }
    }

    /// The same in pieces, cut before each of some quarters; in order.
    pub fn cut_before(self, cuts: impl IntoIterator<Item = Quarter>) -> Vec<Self> {
        let inside = |cut: &Quarter| self.holds(*cut) && Some(*cut) != self.first;
        let mut cuts: Vec<(Quarter, Quarter)> =
            cuts.into_iter().filter(inside).filter_map(|cut| Some((cut.previous()?, cut))).collect();
        cuts.sort_unstable();
        cuts.dedup();
        let firsts = [self.first].into_iter().chain(cuts.iter().map(|(_, begins)| Some(*begins)));
        let lasts = cuts.iter().map(|(ends, _)| Some(*ends)).chain([self.last]);
        firsts.zip(lasts).map(|(first, last)| Self { first, last }).collect()
    }
}

impl fmt::Display for Period {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.first, self.last) {
            (None, None) => f.write_str("all quarters"),
            (Some(first), None) => write!(f, "{first} and later"),
            (None, Some(last)) => write!(f, "{last} and earlier"),
            (Some(first), Some(last)) if first == last => write!(f, "{first}"),
            (Some(first), Some(last)) => write!(f, "{first} to {last}"),
        }
    }
}

impl fmt::Display for Quarter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}Q{}", self.year, self.quarter)
    }
}

impl Serialize for Quarter {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Quarter {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Self::parse(&text).map_err(|problem| D::Error::custom(format!("this {problem}")))
    }
}

impl FieldValue for Quarter {
    const KIND: Kind = Kind::Quarter;

    fn parse(text: &str) -> Result<Self, ValueProblem> {
        let text = text.trim();
        if crate::screen::is_full_date(text) {
            return Err(ValueProblem::FullDate);
        }
        let (year, quarter) = text.split_once(['Q', 'q']).ok_or(ValueProblem::NotQuarter)?;
        let digits = |part: &str, length| part.len() == length && part.bytes().all(|b| b.is_ascii_digit());
        if !digits(year, 4) || !digits(quarter, 1) {
            return Err(ValueProblem::NotQuarter);
        }
        let year: u16 = year.parse().map_err(|_| ValueProblem::NotQuarter)?;
        let quarter: u8 = quarter.parse().map_err(|_| ValueProblem::NotQuarter)?;
        if year < Self::FIRST.year {
            return Err(ValueProblem::QuarterTooEarly);
        }
        Self::new(year, quarter).ok_or(ValueProblem::NotQuarter)
    }

    fn text(&self) -> String {
        self.to_string()
    }
}
