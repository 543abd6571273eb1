//! What a safety summary is to show: chosen from a fixed menu, so that summaries can be
//! checked together, one after the other.

use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::fmt;

use crate::audit::{Reason, ReasonError};
use crate::period::Quarter;
use crate::screen::{Identifying, screen};
use crate::vocabulary::{Coded, DisclosureProfile, SummaryTable};

#[cfg(test)]
mod tests;

/// The most characters of a question.
pub const LONGEST_QUESTION: usize = 120;
/// The most characters of the society's own text.
pub const LONGEST_TEXT: usize = 2_000;

/// A chosen design: what is refused cannot be one.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "DesignForm", into = "DesignForm")]
pub struct SummaryDesign {
    years: Years,
    tables: BTreeSet<SummaryTable>,
    profile: ChosenProfile,
    question: Option<String>,
    text: Option<String>,
}

/// Whole calendar years, each end open where it is absent. A quarter would be an element of a date.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Years {
    /// The first.
    pub first: Option<u16>,
    /// The last.
    pub last: Option<u16>,
}

impl Years {
    /// Whether a year is one of them.
    pub fn hold(self, year: u16) -> bool {
        self.first.is_none_or(|first| first <= year) && self.last.is_none_or(|last| year <= last)
    }
}

/// The profile; one that shows more comes with its reason.
#[derive(Clone, Default, PartialEq, Eq)]
pub enum ChosenProfile {
    /// Nothing small is shown.
    #[default]
    Strict,
    /// Small counts of a large network as a whole are.
    TwoTier {
        /// Why; whoever approves signs it.
        reason: Reason,
    },
}

impl fmt::Debug for ChosenProfile {
    /// Without the reason: what a person wrote has no place in a log.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.profile().code())
    }
}

impl ChosenProfile {
    /// Which it is.
    pub fn profile(&self) -> DisclosureProfile {
        match self {
            Self::Strict => DisclosureProfile::Strict,
            Self::TwoTier { .. } => DisclosureProfile::TwoTier,
        }
    }
}

/// A design as a person brings it, and as it is kept.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct DesignForm {
    /// The first calendar year; all from the beginning without it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_year: Option<u16>,
    /// The last calendar year; all to the end of the cut without it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_year: Option<u16>,
    /// Tables beside the one of procedures and strategies.
    pub tables: BTreeSet<SummaryTable>,
    /// How much may be shown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub profile: Option<DisclosureProfile>,
    /// Why a profile that shows more was chosen.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub profile_reason: Option<String>,
    /// The question that the summary answers, as its title.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub question: Option<String>,
    /// What the society says in its own words, without any number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
}

/// A field of a design that must be mended.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{field}: {why}")]
pub struct DesignProblem {
    /// JSON pointer to the field.
    pub field: &'static str,
    /// What is wrong with it, and the mend.
    pub why: Trouble,
}

/// What is wrong with a field of a design.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Trouble {
    /// A year before any case, or far ahead.
    #[error("write a year from 2010 to 2099")]
    Year,
    /// The last year comes first.
    #[error("the last year lies before the first; swap them")]
    YearsSwapped,
    /// A profile that shows more says why.
    #[error("two tiers show small counts of the whole network; {0}")]
    Unreasoned(ReasonError),
    /// A reason where none is asked.
    #[error("the strict profile needs no reason; leave it out, or choose two tiers")]
    NeedlessReason,
    /// A figure in free words.
    #[error(
        "the text holds a figure; take it out, the tables give the numbers: a number in the text would pass no check"
    )]
    Figure,
    /// Too long.
    #[error("it has {found} characters; shorten it to {longest}")]
    TooLong {
        /// How many were found.
        found: usize,
        /// How many there may be.
        longest: usize,
    },
    /// Something that could point to a person.
    #[error("it {0}")]
    Identifying(#[from] Identifying),
}

/// Reads the fields one by one and gathers what must be mended.
#[derive(Default)]
struct Mending(Vec<DesignProblem>);

impl Mending {
    fn take<T: Default>(&mut self, field: &'static str, read: Result<T, Trouble>) -> T {
        read.unwrap_or_else(|why| {
            self.0.push(DesignProblem { field, why });
            T::default()
        })
    }
}

impl DesignForm {
    /// The design, if nothing must be mended.
    ///
    /// # Errors
    /// Every field that must be.
    pub fn check(self) -> Result<SummaryDesign, Vec<DesignProblem>> {
        let mut mending = Mending::default();
        let first = mending.take("/first_year", year(self.first_year));
        let last = mending.take("/last_year", year(self.last_year));
        if first.zip(last).is_some_and(|(first, last)| last < first) {
            mending.take::<()>("/last_year", Err(Trouble::YearsSwapped));
        }
        let profile = mending.take("/profile_reason", chosen(self.profile, self.profile_reason));
        let question = mending.take("/question", own_words(self.question, LONGEST_QUESTION));
        let text = mending.take("/text", own_words(self.text, LONGEST_TEXT));
        let design =
            SummaryDesign { years: Years { first, last }, tables: self.tables, profile, question, text };
        if mending.0.is_empty() { Ok(design) } else { Err(mending.0) }
    }
}

fn year(year: Option<u16>) -> Result<Option<u16>, Trouble> {
    match year {
        Some(year) if Quarter::new(year, 1).is_none() => Err(Trouble::Year),
        year => Ok(year),
    }
}

fn chosen(profile: Option<DisclosureProfile>, reason: Option<String>) -> Result<ChosenProfile, Trouble> {
    let reason = reason.filter(|reason| !reason.trim().is_empty());
    match (profile.unwrap_or(DisclosureProfile::Strict), reason) {
        (DisclosureProfile::Strict, None) => Ok(ChosenProfile::Strict),
        (DisclosureProfile::Strict, Some(_)) => Err(Trouble::NeedlessReason),
        (DisclosureProfile::TwoTier, reason) => {
            let reason: Reason = reason.unwrap_or_default().parse().map_err(Trouble::Unreasoned)?;
            no_figure(reason.as_str())?;
            screen(reason.as_str())?;
            Ok(ChosenProfile::TwoTier { reason })
        }
    }
}

/// Every number that the public reads stands in a table that was checked.
fn no_figure(text: &str) -> Result<(), Trouble> {
    if text.chars().any(char::is_numeric) { Err(Trouble::Figure) } else { Ok(()) }
}

/// Words without a figure in any script; nothing where nothing was written.
fn own_words(text: Option<String>, longest: usize) -> Result<Option<String>, Trouble> {
    let text = text.unwrap_or_default().replace("\r\n", "\n").trim().to_owned();
    let found = text.chars().count();
    if found > longest {
        return Err(Trouble::TooLong { found, longest });
    }
    no_figure(&text)?;
    text.lines().try_for_each(screen)?;
    Ok((!text.is_empty()).then_some(text))
}

impl SummaryDesign {
    /// The years of its cases.
    pub fn years(&self) -> Years {
        self.years
    }

    /// Whether a table was chosen.
    pub fn has(&self, table: SummaryTable) -> bool {
        self.tables.contains(&table)
    }

    /// The profile.
    pub fn profile(&self) -> &ChosenProfile {
        &self.profile
    }

    /// The question, if one was asked.
    pub fn question(&self) -> Option<&str> {
        self.question.as_deref()
    }

    /// The society's own words, a paragraph a line.
    pub fn paragraphs(&self) -> impl Iterator<Item = &str> {
        self.text.iter().flat_map(|text| text.lines()).filter(|line| !line.trim().is_empty())
    }
}

impl TryFrom<DesignForm> for SummaryDesign {
    type Error = String;

    fn try_from(form: DesignForm) -> Result<Self, String> {
        form.check().map_err(|problems| problems.first().map(ToString::to_string).unwrap_or_default())
    }
}

impl From<SummaryDesign> for DesignForm {
    fn from(design: SummaryDesign) -> Self {
        let profile = Some(design.profile.profile());
        let profile_reason = match design.profile {
            ChosenProfile::Strict => None,
            ChosenProfile::TwoTier { reason } => Some(reason.as_str().to_owned()),
        };
        let Years { first: first_year, last: last_year } = design.years;
        let SummaryDesign { tables, question, text, .. } = design;
        Self { first_year, last_year, tables, profile, profile_reason, question, text }
    }
}
