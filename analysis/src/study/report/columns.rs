//! The columns of a case that a report needs beside those of a comparison.

use crate::study::cohort::{CaseRow, looks};
use quietbeam_schema::case::{Beam, CaseRecord, Complication, FollowUp};
use quietbeam_schema::endpoint;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::reported::Reported;
use quietbeam_schema::value::{OperatorCode, Whole};
use quietbeam_schema::vocabulary::{
    Coded, ComplicationKind, DetectedBy, DeviceInSitu, FluoroReason, FollowUpStatus, OperatorExperience,
    OperatorPriorZf, YesNo,
};

/// One case as a report sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct ReportCase {
    /// Its place in the order of entry: within a quarter nobody knows more of the order of cases.
    pub entered: i64,
    /// The columns of a comparison.
    pub row: CaseRow,
    /// How the case went, and what came after it.
    pub course: Course,
}

/// How a case went, and what came after it; `None` where it was not recorded.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// The operator, by a code that means something inside the centre alone.
    pub operator: Option<OperatorCode>,
    /// The operator's years of practice.
    pub experience: Option<OperatorExperience>,
    /// The operator's zero-fluoroscopy cases before joining.
    pub earlier_zero: Option<OperatorPriorZf>,
    /// An implanted device, which is a usual reason to want X-ray.
    pub device: Option<bool>,
    /// Why X-ray was needed although it was not planned.
    pub reasons: Reasons,
    /// Cine runs, where the beam was on.
    pub cine_runs: Option<u8>,
    /// Minutes from first venous access to last sheath out.
    pub skin_to_skin_min: Option<u16>,
    /// Whether echo looked for fluid during the case, at its end, and as routine within a day.
    pub looks: [Option<bool>; 3],
    /// Pericardial fluid in the room: when it was seen, and when it was felt.
    pub fluid: Option<Fluid>,
    /// How the 30-day status was learnt; `None` before any follow-up.
    pub status_30_days: Option<FollowUpStatus>,
    /// Later follow-up.
    pub later: Later,
    /// Events that a committee wants to hear of at once.
    pub grave: Grave,
}

/// Some reasons, a bit for each: few cases have any, and a cut may hold a million.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Reasons(u32);

impl Reasons {
    /// Whether one is among them.
    pub fn contains(self, reason: FluoroReason) -> bool {
        self.0 & Self::bit(reason) != 0
    }

    /// The reasons, in the order of their list.
    pub fn iter(self) -> impl Iterator<Item = FluoroReason> {
        FluoroReason::all().iter().copied().filter(move |reason| self.contains(*reason))
    }

    fn bit(reason: FluoroReason) -> u32 {
        1 << reason.position()
    }
}

impl FromIterator<FluoroReason> for Reasons {
    fn from_iter<I: IntoIterator<Item = FluoroReason>>(reasons: I) -> Self {
        Self(reasons.into_iter().fold(0, |all, reason| all | Self::bit(reason)))
    }
}

/// Pericardial fluid within 30 days.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fluid {
    /// What showed it first.
    pub shown_by: Option<DetectedBy>,
    /// Minute of its detection, counted from the first venous access.
    pub seen_min: Option<i16>,
    /// Whether pressure or rhythm changed because of it.
    pub felt: Option<bool>,
    /// Minute of that change.
    pub felt_min: Option<i16>,
}

/// Follow-up beyond 30 days, in days from the procedure.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Later {
    /// Last day on which the rhythm was known.
    pub last_day: Option<u16>,
    /// Day of the first documented recurrence.
    pub recurrence_day: Option<u16>,
    /// Day of death.
    pub death_day: Option<u16>,
}

/// Events within 30 days that a committee wants to hear of at once.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Grave {
    /// Death at any time within 30 days.
    pub death: bool,
    /// Fistula between the left atrium and the oesophagus.
    pub fistula: bool,
    /// Stroke.
    pub stroke: bool,
    /// Tamponade.
    pub tamponade: bool,
}

impl ReportCase {
    /// Reads the columns of one case.
    pub fn read(entered: i64, centre: CentreCode, case: &CaseRecord) -> Self {
        Self { entered, row: CaseRow::read(centre, case), course: Course::read(case) }
    }

    /// What a report puts the cases of a cut in order by: their content, and then their entry. Cases
    /// that stand in this order need not be moved.
    pub fn order(&self) -> impl Ord + Send + use<> {
        (self.row.content(), self.entered)
    }

    /// X-ray was switched on because of a complication, suspected or proven: an outcome of the
    /// case, not a failure of guidance.
    pub(super) fn for_a_complication(&self) -> bool {
        self.course.reasons.contains(FluoroReason::SuspectedComplication)
    }
}

impl Course {
    fn read(case: &CaseRecord) -> Self {
        let procedure = case.procedure();
        let (reasons, cine_runs) = of_beam(case);
        Self {
            operator: procedure.op_code.value().copied(),
            experience: procedure.op_experience_band.value().copied(),
            earlier_zero: procedure.op_zf_prior_band.value().copied(),
            device: case
                .patient()
                .device_in_situ
                .value()
                .map(|devices| devices.iter().any(|device| device != DeviceInSitu::None)),
            reasons,
            cine_runs,
            skin_to_skin_min: days(&procedure.skin_to_skin_min),
            looks: looks(case),
            fluid: fluid(case),
            status_30_days: case.follow_up().map(|follow_up| follow_up.fu30_status),
            later: case.follow_up().map(later).unwrap_or_default(),
            grave: grave(case),
        }
    }
}

fn of_beam(case: &CaseRecord) -> (Reasons, Option<u8>) {
    match case.beam() {
        Beam::Off => (Reasons::default(), Some(0)),
        Beam::On(used) => (
            used.fluoro_reason.value().map(|reasons| reasons.iter().collect()).unwrap_or_default(),
            used.cine_runs.value().and_then(|runs| u8::try_from(runs.get()).ok()),
        ),
    }
}

fn days<const MIN: i64, const MAX: i64>(reported: &Reported<Whole<MIN, MAX>>) -> Option<u16> {
    reported.value().and_then(|number| u16::try_from(number.get()).ok())
}

fn minutes<const MIN: i64, const MAX: i64>(reported: &Reported<Whole<MIN, MAX>>) -> Option<i16> {
    reported.value().and_then(|number| i16::try_from(number.get()).ok())
}

fn within_30_days(case: &CaseRecord) -> impl Iterator<Item = &Complication> {
    case.complications().iter().filter(|event| endpoint::within_30_days(event))
}

/// The first entry that names fluid, as the comparison counts it.
fn fluid(case: &CaseRecord) -> Option<Fluid> {
    let first = within_30_days(case)
        .find(|event| matches!(event.ae_code, ComplicationKind::Effusion | ComplicationKind::Tamponade))?;
    Some(Fluid {
        shown_by: first.detect_method.value().copied(),
        seen_min: minutes(&first.detect_min),
        felt: first.haemo_change.value().map(|answer| *answer == YesNo::Yes),
        felt_min: minutes(&first.haemo_change_min),
    })
}

fn later(follow_up: &FollowUp) -> Later {
    Later {
        last_day: days(&follow_up.fu_last_day),
        recurrence_day: days(&follow_up.recurrence_first_day),
        death_day: days(&follow_up.death_day),
    }
}

fn grave(case: &CaseRecord) -> Grave {
    let any = |kind| within_30_days(case).any(|event| event.ae_code == kind);
    let died = case.follow_up().and_then(|follow_up| days(&follow_up.death_day)).is_some_and(|day| day <= 30);
    Grave {
        death: died || any(ComplicationKind::Death),
        fistula: any(ComplicationKind::AtrioOesophagealFistula),
        stroke: any(ComplicationKind::Stroke),
        tamponade: any(ComplicationKind::Tamponade),
    }
}

#[cfg(test)]
mod tests {
    use super::Reasons;
    use quietbeam_schema::vocabulary::{Coded, FluoroReason};

    #[test]
    fn every_reason_has_a_bit_of_its_own() {
        for reason in FluoroReason::all() {
            let alone: Reasons = [*reason, *reason].into_iter().collect();
            assert_eq!(alone.iter().collect::<Vec<_>>(), [*reason]);
        }
        let all: Reasons = FluoroReason::all().iter().copied().collect();
        assert_eq!(all.iter().count(), FluoroReason::all().len());
    }
}
