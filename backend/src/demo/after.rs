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

/// What is known a year later.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum AtOneYear {
    /// A year has not passed, or the patient is dead.
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
    pub(super) at_one_year: AtOneYear,
}

/// Quarters in which every case is more than a year and a contact window old.
const QUARTERS_WITH_A_YEAR: usize = 4;
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
        let at_one_year = match at_30_days {
            _ if setting.quarter >= QUARTERS_WITH_A_YEAR => AtOneYear::NotDue,
            At30Days::Dead => AtOneYear::NotDue,
            At30Days::Lost => AtOneYear::Lost,
            At30Days::Contacted(_) | At30Days::ChartRead(_) => late,
        };
        Self { at_30_days, at_one_year }
    }
}

fn one_year(chance: &mut Chance, kind: ProcedureType, recurrence: f64) -> AtOneYear {
    let lost = chance.happens(LOST_LATER);
    let day = chance.between(340, 410);
    let monitoring = monitoring(chance, kind);
    let again = chance.happens(recurrence);
    // Most recurrences come early: the square of a uniform draw leans to 0.
    let early = chance.uniform();
    let first = 3 + (early * early * 330.0) as i64;
    if lost {
        return AtOneYear::Lost;
    }
    let recurrence = again.then(|| recurrence_type(chance, kind)).flatten().map(|what| (first, what));
    AtOneYear::Known { day, monitoring, recurrence }
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
