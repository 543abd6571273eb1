//! What the registry knows about how the cases and the plan came to be: the core is told, it
//! never looks.

use quietbeam_schema::centre::ScreeningCounts;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::ProcedureGroup;
use std::collections::BTreeMap;

/// What stands around a report.
#[derive(Debug, Clone, Default)]
pub struct Facts {
    /// The lines of the screening logs as they stood at the cut.
    pub log: Vec<LogCounts>,
    /// What was known before the plan was registered.
    pub before: Before,
    /// How often this plan had been carried out before, on any cut.
    pub earlier_looks: u32,
    /// What a person wrote, or the registry tells, for items of the checklist, by their numbers.
    pub texts: BTreeMap<u8, String>,
}

/// One line of a centre's screening log.
#[derive(Debug, Clone)]
pub struct LogCounts {
    /// The centre.
    pub centre: CentreCode,
    /// The quarter.
    pub period: Quarter,
    /// The group of procedures.
    pub group: ProcedureGroup,
    /// The counts.
    pub counts: ScreeningCounts,
    /// Whether the centre lead had signed the quarter.
    pub signed: bool,
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
