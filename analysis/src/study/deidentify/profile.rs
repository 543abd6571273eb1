//! For whom rows are, and what that asks of them.

use serde::{Deserialize, Serialize};

/// A closed list: a file is of exactly one profile, and says which.
///
/// A limited data set under an agreement and an expert's determination are other ways that
/// the law of some countries knows; they need papers that this registry does not hold, so
/// it does not offer them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Profile {
    /// May be shared outside the network, after a person decided so: nothing more exact than
    /// the year, nothing restricted, every combination in at least 11 rows.
    YearOnly,
    /// Stays inside the network: the quarter, restricted codes, every combination in at
    /// least 5 rows. Still personal data.
    Pseudonymised,
}

impl Profile {
    /// All of them.
    pub const ALL: [Self; 2] = [Self::YearOnly, Self::Pseudonymised];

    /// The profile in lower snake case.
    pub fn name(self) -> &'static str {
        match self {
            Self::YearOnly => "year_only",
            Self::Pseudonymised => "pseudonymised",
        }
    }

    /// The rows in which every published combination stands at least. Counts of 1 to 10 are
    /// what agencies hide in public tables; 5 is the usual limit between colleagues (common
    /// practice, no source).
    pub fn least_rows(self) -> usize {
        match self {
            Self::YearOnly => 11,
            Self::Pseudonymised => 5,
        }
    }
}

/// How much a row had to lose until enough others are like it. Each step takes all that the
/// steps before it take.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// Nothing.
    AsRecorded,
    /// The site.
    WithoutSite,
    /// The period.
    WithoutPeriod,
    /// The age band gives way to a wide one.
    WideAge,
    /// Only child or adult is left of the age.
    ChildOrAdult,
    /// The sex.
    WithoutSex,
}

impl Step {
    /// All steps, the one that takes least first.
    pub const ALL: [Self; 6] = [
        Self::AsRecorded,
        Self::WithoutSite,
        Self::WithoutPeriod,
        Self::WideAge,
        Self::ChildOrAdult,
        Self::WithoutSex,
    ];

    /// What is left, in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::AsRecorded => "with site, period, age band and sex",
            Self::WithoutSite => "without the site",
            Self::WithoutPeriod => "without site and period",
            Self::WideAge => "without site and period, age in wide bands",
            Self::ChildOrAdult => "without site and period, child or adult",
            Self::WithoutSex => "without site, period and sex, child or adult",
        }
    }
}
