//! What became of the patient: at 30 days, and at a year where a year has passed.

use super::chance::Chance;
use super::course::Setting;
use super::harm::Harms;
use quietbeam_schema::vocabulary::{ProcedureType, RecurrenceType, RhythmMonitoring};

/// How the 30-day status was learnt.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum At30Days {
    Contacted(i64),
    ChartRead(i64),
    Lost,
    Dead,
}

/// What is known later: at a year, or after the blanking period where a year has not passed.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Later {
    /// Its time has not come, or the patient is dead.
    NotDue,
    Lost,
    Known {
        day: i64,
        monitoring: RhythmMonitoring,
        recurrence: Option<(i64, RecurrenceType)>,
    },
}

/// The follow-up of one case.
#[derive(Clone)]
pub(super) struct After {
    pub(super) at_30_days: At30Days,
    pub(super) later: Later,
}

/// Quarters in which every case is more than a year and a contact window old.
const QUARTERS_WITH_A_YEAR: usize = 4;
/// Quarters in which every case is past the blanking period.
const QUARTERS_PAST_BLANKING: usize = 7;
const LOST_LATER: f64 = 0.12;

impl After {
    pub(super) fn draw(chance: &mut Chance, setting: &Setting<'_>, harms: &Harms) -> Self {
        let lost = chance.happens(setting.centre.lost_at_30_days);
        let day = chance.between(26, 44);
        let chart = chance.happens(0.2);
        let late = one_year(chance, setting.model.kind, setting.model.recurrence);
        let at_30_days = match (harms.died_on_day, lost, chart) {
            (Some(_), _, _) => At30Days::Dead,
            (None, true, _) => At30Days::Lost,
            (None, false, true) => At30Days::ChartRead(day),
            (None, false, false) => At30Days::Contacted(day),
        };
        let later = match at_30_days {
            At30Days::Contacted(_) | At30Days::ChartRead(_)
                if setting.model.kind.is_af()
                    && (QUARTERS_WITH_A_YEAR..QUARTERS_PAST_BLANKING).contains(&setting.quarter) =>
            {
                after_blanking(late)
            }
            _ if setting.quarter >= QUARTERS_WITH_A_YEAR => Later::NotDue,
            At30Days::Dead => Later::NotDue,
            At30Days::Lost => Later::Lost,
            At30Days::Contacted(_) | At30Days::ChartRead(_) => late,
        };
        Self { at_30_days, later }
    }
}

/// What of a year's course was known by a contact on day 95 to 145. Whoever will be lost by the
/// year still waits for it.
fn after_blanking(year: Later) -> Later {
    match year {
        Later::Known { day, monitoring, recurrence } => {
            let day = 95 + (day - 340) * 5 / 7;
            let recurrence = recurrence.filter(|(first, _)| *first <= day);
            Later::Known { day, monitoring, recurrence }
        }
        Later::Lost | Later::NotDue => Later::NotDue,
    }
}

fn one_year(chance: &mut Chance, kind: ProcedureType, recurrence: f64) -> Later {
    let lost = chance.happens(LOST_LATER);
    let day = chance.between(340, 410);
    let monitoring = monitoring(chance, kind);
    let again = chance.happens(recurrence);
    // Most recurrences come early: the square of a uniform draw leans to 0.
    let early = chance.uniform();
    let first = 3 + (early * early * 330.0) as i64;
    if lost {
        return Later::Lost;
    }
    let recurrence = again.then(|| recurrence_type(chance, kind)).flatten().map(|what| (first, what));
    Later::Known { day, monitoring, recurrence }
}

fn monitoring(chance: &mut Chance, kind: ProcedureType) -> RhythmMonitoring {
    use RhythmMonitoring as M;
    if kind.is_af() {
        return chance.one_of(&[
            (M::Holter24, 0.35),
            (M::Holter7d, 0.25),
            (M::Patch, 0.15),
            (M::Implanted, 0.10),
            (M::Wearable, 0.15),
        ]);
    }
    chance.one_of(&[(M::None, 0.25), (M::Ecg, 0.55), (M::Holter24, 0.20)])
}

fn recurrence_type(chance: &mut Chance, kind: ProcedureType) -> Option<RecurrenceType> {
    use ProcedureType as P;
    use RecurrenceType as R;
    match kind {
        P::Avnrt => Some(R::Avnrt),
        P::AvrtAp => Some(R::Avrt),
        P::CtiFlutter | P::FocalAt => Some(R::FlutterOrAt),
        P::Pvc => Some(R::Pvc),
        P::VtEndocardial | P::VtEpicardial => Some(R::Vt),
        kind if kind.is_af() => Some(chance.one_of(&[(R::Af, 0.75), (R::FlutterOrAt, 0.25)])),
        // A node that conducts again is no arrhythmia of the list.
        _ => None,
    }
}
