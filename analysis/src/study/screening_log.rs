//! The screening logs of the centres: what stands beside the cases of a cut as their denominators.

use quietbeam_schema::centre::ScreeningCounts;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::ProcedureGroup;
use std::collections::BTreeMap;

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

/// The screening log of a centre's quarter, added up over its kinds of procedure.
#[derive(Debug, Clone, Copy)]
pub(super) struct QuarterLog {
    /// Ablations performed.
    pub(super) performed: u32,
    /// Of these, eligible.
    pub(super) eligible: u32,
    /// Of these, sent in.
    pub(super) submitted: u32,
    /// Every line is signed.
    pub(super) signed: bool,
}

/// The screening logs of a cut by centre and quarter.
pub(super) fn by_quarter(log: &[LogCounts]) -> BTreeMap<(CentreCode, Quarter), QuarterLog> {
    let nothing = QuarterLog { performed: 0, eligible: 0, submitted: 0, signed: true };
    let mut quarters = BTreeMap::new();
    for line in log {
        let of = quarters.entry((line.centre, line.period)).or_insert(nothing);
        of.performed += line.counts.performed();
        of.eligible += line.counts.eligible();
        of.submitted += line.counts.submitted();
        of.signed &= line.signed;
    }
    quarters
}

/// The screening logs of a cut, added up.
#[derive(Debug, Clone, Default)]
pub struct Denominators {
    /// Whether every line of a quarter is signed.
    signed: BTreeMap<(CentreCode, Quarter), bool>,
    /// Sent in and eligible, over all quarters of a centre.
    sent_in: BTreeMap<CentreCode, (u32, u32)>,
}

impl Denominators {
    /// From the lines of the logs.
    pub fn new(log: &[LogCounts]) -> Self {
        let mut sums = Self::default();
        for ((centre, quarter), log) in by_quarter(log) {
            sums.signed.insert((centre, quarter), log.signed);
            let (submitted, eligible) = sums.sent_in.entry(centre).or_default();
            *submitted += log.submitted;
            *eligible += log.eligible;
        }
        sums
    }

    /// Whether the log of a centre's quarter is entered and wholly signed.
    pub fn is_signed(&self, centre: CentreCode, quarter: Quarter) -> bool {
        self.signed.get(&(centre, quarter)).is_some_and(|signed| *signed)
    }

    /// Whether a centre sent in at least this share of its eligible ablations; a centre without any by
    /// its log is not known to have.
    pub fn sent_in(&self, centre: CentreCode, least: f64) -> bool {
        let (submitted, eligible) = self.sent_in.get(&centre).copied().unwrap_or_default();
        eligible > 0 && f64::from(submitted) >= least * f64::from(eligible)
    }
}
