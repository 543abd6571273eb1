//! What watching needs of a case.

use crate::study::own_picture::{LastDigits, last_digits};
use quietbeam_schema::case::CaseRecord;
use quietbeam_schema::endpoint;
use quietbeam_schema::ids::{CaseCode, CentreCode};
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{ComplicationKind, ProcedureGroup, Strategy};

/// One case as it is watched.
#[derive(Debug, Clone, PartialEq)]
pub struct WatchCase {
    /// Its code.
    pub code: CaseCode,
    /// Whose.
    pub centre: CentreCode,
    /// The quarter of the procedure.
    pub period: Quarter,
    /// Its place in the order of entry.
    pub entered: i64,
    /// The kind of procedure.
    pub group: ProcedureGroup,
    /// The beam was not to be used.
    pub zero_intended: bool,
    /// A major complication or death within 30 days; `None` when nobody learnt it.
    pub major: Option<bool>,
    /// The patient died, of whatever, within 30 days.
    pub died: bool,
    /// A stroke within 30 days.
    pub stroke: bool,
    /// A fistula between atrium and oesophagus, whenever it showed.
    pub fistula: bool,
    /// A tamponade within 30 days.
    pub tamponade: bool,
    /// Anything at all was reported, however small.
    pub anything: bool,
    /// Air kerma in mGy where the beam was on and it was reported.
    pub air_kerma_mgy: Option<f64>,
    /// The last digits of doses and times as typed.
    pub(super) last_digits: LastDigits,
}

/// What a chart of a centre's harm needs of a case.
pub trait Charted {
    /// Whose.
    fn centre(&self) -> CentreCode;
    /// The quarter of the procedure, and its place in the order of entry.
    fn order(&self) -> (Quarter, i64);
    /// The kind of procedure.
    fn group(&self) -> ProcedureGroup;
    /// A major complication or death within 30 days; `None` when nobody learnt it.
    fn major(&self) -> Option<bool>;
}

impl Charted for WatchCase {
    fn centre(&self) -> CentreCode {
        self.centre
    }

    fn order(&self) -> (Quarter, i64) {
        (self.period, self.entered)
    }

    fn group(&self) -> ProcedureGroup {
        self.group
    }

    fn major(&self) -> Option<bool> {
        self.major
    }
}

impl WatchCase {
    /// Reads a case.
    pub fn read(code: CaseCode, entered: i64, centre: CentreCode, case: &CaseRecord) -> Self {
        let soon = |kind: ComplicationKind| {
            case.complications().iter().any(|event| event.ae_code == kind && endpoint::within_30_days(event))
        };
        let told_dead = case
            .complications()
            .iter()
            .any(|event| endpoint::within_30_days(event) && endpoint::is_fatal(event));
        let seen_dead = case.follow_up().is_some_and(|seen| seen.death_day.is(|day| day.get() <= 30));
        let fistula = ComplicationKind::AtrioOesophagealFistula;
        Self {
            code,
            centre,
            period: case.identity().period,
            entered,
            group: case.procedure().proc_primary.group(),
            zero_intended: case.guidance().strategy_intended == Strategy::Zero,
            major: endpoint::major_within_30_days(case),
            died: told_dead || seen_dead,
            stroke: soon(ComplicationKind::Stroke),
            fistula: case.complications().iter().any(|event| event.ae_code == fistula),
            tamponade: soon(ComplicationKind::Tamponade),
            anything: !case.complications().is_empty(),
            air_kerma_mgy: case.air_kerma_mgy().value().copied().filter(|dose| *dose > 0.0),
            last_digits: last_digits(case),
        }
    }
}
