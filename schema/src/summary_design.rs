//! What a safety summary is to show: chosen from a fixed menu, so that summaries can be
//! checked together, one after the other.

use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

use crate::audit::ReasonError;
use crate::ids::ComparisonId;
use crate::period::{Period, Quarter};
use crate::screen::{Identifying, screen};
use crate::value::{FieldValue, ValueProblem};
use crate::vocabulary::{Coded, DisclosureProfile, ProfileNumber, SummaryTable, ToldFirst};

mod profile;
#[cfg(test)]
mod tests;

pub use profile::ChosenProfile;

/// The most characters of a question.
pub const LONGEST_QUESTION: usize = 120;
/// The most characters of the society's own text.
pub const LONGEST_TEXT: usize = 2_000;

/// A chosen design: what is refused cannot be one.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "DesignForm", into = "DesignForm")]
pub struct SummaryDesign {
    period: Period,
    tables: BTreeSet<SummaryTable>,
    /// Which, and whose counts are told first where not all can be.
    comparison: Option<(ComparisonId, ToldFirst)>,
    profile: ChosenProfile,
    question: Option<String>,
    text: Option<String>,
}

/// A design as a person brings it, and as it is kept.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct DesignForm {
    /// The calendar year with which its period begins; all from the beginning without it and
    /// `first_quarter`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_year: Option<u16>,
    /// The quarter with which it begins, such as 2025Q3.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_quarter: Option<String>,
    /// The calendar year with which it ends; all to the end of the cut without it and `last_quarter`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_year: Option<u16>,
    /// The quarter with which it ends.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_quarter: Option<String>,
    /// Tables beside the one of procedures and strategies.
    pub tables: BTreeSet<SummaryTable>,
    /// A comparison on the same cut, carried out as planned, whose results are published with it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub comparison: Option<String>,
    /// Which counts are told first where not all can be; the other tables' without it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub told_first: Option<ToldFirst>,
    /// How much may be shown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub profile: Option<DisclosureProfile>,
    /// The numbers of the profile; the standard one of each that is left out.
    #[serde(skip_serializing_if = "BTreeMap::is_empty")]
    pub profile_numbers: BTreeMap<ProfileNumber, u32>,
    /// Why it shows more than the standard strict profile does, if it does.
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
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{field}: {why}")]
pub struct DesignProblem {
    /// JSON pointer to the field.
    pub field: &'static str,
    /// What is wrong with it, and the mend.
    pub why: Trouble,
}

/// What is wrong with a field of a design.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Trouble {
    /// A year before any case, or far ahead.
    #[error("write a year from 2010 to 2099")]
    Year,
    /// No quarter.
    #[error("it {0}")]
    Quarter(ValueProblem),
    /// One end of the period given twice.
    #[error("both the year and a quarter are given; leave one of them out")]
    YearAndQuarter,
    /// The last comes first.
    #[error("the period ends before it begins; swap its ends")]
    Swapped,
    /// No identifier.
    #[error("this is no identifier of a comparison; choose one from the list, or leave it out")]
    Comparison,
    /// Told first, and not there.
    #[error(
        "no comparison is published that could be told first; choose one, or let the other tables be first"
    )]
    NothingToldFirst,
    /// A comparison is of all cases of its cut.
    #[error("a comparison is of every case of its data cut; leave both ends of the period empty")]
    PartOfACut,
    /// A number that does not protect, or hides everything.
    #[error(
        "“{}” is a whole number from {} to {}; write one, or leave it out", .0.label(), .0.range().start(), .0.range().end()
    )]
    Number(ProfileNumber),
    /// A range wider than what it is to hide.
    #[error(
        "counts below {threshold} are hidden, and so is no range wider than that: write a whole number from 1 to {threshold}"
    )]
    WiderThanThreshold {
        /// The smallest count shown.
        threshold: u32,
    },
    /// A number of a tier that is not there.
    #[error("the strict profile has no second tier; leave it out, or choose two tiers")]
    NoSecondTier,
    /// A profile that shows more says why.
    #[error("it shows more than the standard strict profile ({more}); {why}")]
    Unreasoned {
        /// What shows more.
        more: String,
        /// Why there is no reason.
        why: ReasonError,
    },
    /// A reason where none is asked.
    #[error(
        "the profile shows no more than the standard strict one and needs no reason; leave it out, or choose two tiers or a lower number"
    )]
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

    /// One end of the period, given as a year, of which it is some quarter, or as a quarter.
    fn end(
        &mut self,
        [in_years, in_quarters]: [&'static str; 2],
        (year, of_year): (Option<u16>, u8),
        quarter: Option<String>,
    ) -> Option<Quarter> {
        let year = year.map(|year| Quarter::new(year, of_year).ok_or(Trouble::Year)).transpose();
        let year = self.take(in_years, year);
        let quarter = quarter.as_deref().map(|text| Quarter::parse(text).map_err(Trouble::Quarter));
        let quarter = self.take(in_quarters, quarter.transpose());
        if year.is_some() && quarter.is_some() {
            self.take::<()>(in_quarters, Err(Trouble::YearAndQuarter));
        }
        quarter.or(year)
    }
}

impl DesignForm {
    /// The design, if nothing must be mended.
    ///
    /// # Errors
    /// Every field that must be.
    pub fn check(self) -> Result<SummaryDesign, Vec<DesignProblem>> {
        let mut mending = Mending::default();
        let by_quarter = self.last_quarter.is_some();
        let first = mending.end(["/first_year", "/first_quarter"], (self.first_year, 1), self.first_quarter);
        let last = mending.end(["/last_year", "/last_quarter"], (self.last_year, 4), self.last_quarter);
        if first.zip(last).is_some_and(|(first, last)| last < first) {
            let field = if by_quarter { "/last_quarter" } else { "/last_year" };
            mending.take::<()>(field, Err(Trouble::Swapped));
        }
        let comparison = self.comparison.as_deref().filter(|id| !id.trim().is_empty());
        let is_asked = comparison.is_some();
        let comparison = comparison.map(|id| id.trim().parse().map_err(|_| Trouble::Comparison)).transpose();
        let comparison = mending.take("/comparison", comparison);
        if comparison.is_some() && (first.is_some() || last.is_some()) {
            mending.take::<()>("/comparison", Err(Trouble::PartOfACut));
        }
        let told_first = self.told_first.unwrap_or(ToldFirst::Tables);
        if told_first == ToldFirst::Comparison && !is_asked {
            mending.take::<()>("/told_first", Err(Trouble::NothingToldFirst));
        }
        let comparison = comparison.map(|id| (id, told_first));
        let brought = (self.profile, self.profile_numbers, self.profile_reason);
        let profile = ChosenProfile::read(brought, &mut mending);
        let question = mending.take("/question", own_words(self.question, LONGEST_QUESTION));
        let text = mending.take("/text", own_words(self.text, LONGEST_TEXT));
        let period = Period { first, last };
        let design = SummaryDesign { period, tables: self.tables, comparison, profile, question, text };
        if mending.0.is_empty() { Ok(design) } else { Err(mending.0) }
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
    /// The period of its cases.
    pub fn period(&self) -> Period {
        self.period
    }

    /// Whether a table was chosen.
    pub fn has(&self, table: SummaryTable) -> bool {
        self.tables.contains(&table)
    }

    /// The comparison whose results it publishes, if any.
    pub fn comparison(&self) -> Option<ComparisonId> {
        self.comparison.map(|(id, _)| id)
    }

    /// Whether its counts are told before those of the other tables, where not all can be.
    pub fn comparison_first(&self) -> bool {
        self.comparison.is_some_and(|(_, told_first)| told_first == ToldFirst::Comparison)
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
        let (profile, profile_numbers, profile_reason) = design.profile.written();
        // A year's own first or last quarter is written as the year.
        let end = |quarter: Option<Quarter>, of_year: u8| match quarter {
            Some(quarter) if quarter.quarter() != of_year => (None, Some(quarter.to_string())),
            quarter => (quarter.map(Quarter::year), None),
        };
        let (first_year, first_quarter) = end(design.period.first, 1);
        let (last_year, last_quarter) = end(design.period.last, 4);
        let SummaryDesign { tables, comparison, question, text, .. } = design;
        Self {
            first_year,
            first_quarter,
            last_year,
            last_quarter,
            tables,
            comparison: comparison.map(|(id, _)| id.to_string()),
            told_first: comparison.map(|(_, first)| first).filter(|first| *first != ToldFirst::Tables),
            profile: Some(profile),
            profile_numbers,
            profile_reason,
            question,
            text,
        }
    }
}
