//! What the registry knows about how the cases and the plan came to be: the core is told, it
//! never looks.

use crate::study::look::LooksTaken;
use crate::study::screening_log::LogCounts;
use quietbeam_schema::adjudication::Settled;
use quietbeam_schema::vocabulary::{HarmRuling, HarmTier};

/// What stands around a report.
#[derive(Debug, Clone, Default)]
pub struct Facts {
    /// The lines of the screening logs as they stood at the cut.
    pub log: Vec<LogCounts>,
    /// What was known before the plan was registered.
    pub before: Before,
    /// The looks at data under this plan, the one at hand last; the first one where nobody knows.
    pub looks: Option<LooksTaken>,
    /// Where cases and plan come from; absent where nobody knows.
    pub origin: Option<Origin>,
    /// How the cases of the cut came in; absent where nobody knows.
    pub entry: Option<Entry>,
    /// The cases of the cut with complications, as their judges see them.
    pub judged: Vec<JudgedCase>,
}

/// A case with complications, as judges see it who do not know its arm.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JudgedCase {
    /// Its place in the order of entry, by which it is known.
    pub entered: i64,
    /// Its complications, and a death that the follow-up alone tells.
    pub events: Vec<JudgedEvent>,
    /// Major harm or death within 30 days where the rulings count, and the record where nothing is
    /// settled; `None` when nobody learnt it.
    pub major_within_30_days: Option<bool>,
    /// The same before discharge.
    pub major_before_discharge: Option<bool>,
}

/// What tells of an event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ToldBy {
    /// A complication of the record.
    Complication,
    /// The follow-up alone: a death that no complication tells.
    FollowUp,
}

/// An event and what its judges make of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct JudgedEvent {
    /// How grave it is by the record.
    pub by_record: HarmTier,
    /// What tells of it.
    pub told_by: ToldBy,
    /// What the first two judges said without knowing of each other, once both have.
    pub first_two: Option<[HarmRuling; 2]>,
    /// How it stands; `None` where it cannot be shown without telling that X-ray was used.
    pub settled: Option<Settled>,
}

/// Where the cases and the plan come from, and what computed the report.
#[derive(Debug, Clone)]
pub struct Origin {
    /// Name of the data cut.
    pub cut: String,
    /// Its SHA-256.
    pub cut_hash: String,
    /// The day on which it was taken.
    pub cut_taken: String,
    /// Versions of the form with which its cases were entered.
    pub form_versions: Vec<String>,
    /// Number and version of the plan, as people say it.
    pub plan: String,
    /// Its SHA-256.
    pub plan_hash: String,
    /// The day on which this version was registered.
    pub plan_registered: String,
    /// Every amendment up to this version, the first one first.
    pub amendments: Vec<Amendment>,
    /// Name and version of the software.
    pub software: String,
}

/// One amendment of a plan.
#[derive(Debug, Clone)]
pub struct Amendment {
    /// The day on which it was registered.
    pub registered: String,
    /// Why.
    pub reason: String,
}

/// How the cases of a cut came in.
#[derive(Debug, Clone, Default)]
pub struct Entry {
    /// Days from the end of each case's quarter to its entry, at the least 0: a case knows no date.
    pub delays_days: Vec<u32>,
    /// Questions that had been asked about its cases when it was taken.
    pub questions: u32,
    /// Of these, not answered.
    pub open: u32,
    /// Of these again, about the strategy or an outcome.
    pub open_on_outcome: u32,
}

/// What was known before the plan was registered.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Before {
    /// Cases in its scope that had been entered.
    pub cases: u32,
    /// How often anyone had opened outcomes by arm.
    pub views: u32,
    /// Whether the cut had been taken.
    pub cut_taken: bool,
}

impl Before {
    /// Whether nobody can have looked at the cases before the plan was fixed.
    pub fn is_nothing(self) -> bool {
        self.cases == 0 && self.views == 0 && !self.cut_taken
    }
}
