//! The staff of a case: what badges of which role read, and published limits, which stand beside it as
//! context and judge nobody.

use quietbeam_schema::case::Guidance;
use quietbeam_schema::quantity::BadgeDose;
use quietbeam_schema::reported::Reported;
use quietbeam_schema::vocabulary::{BadgePosition, Coded};
use serde::Serialize;

/// What is told of the limits, whatever the doses are.
pub const NO_JUDGEMENT: &str = "Limits are for a person over a year or a pregnancy. The registry holds doses of a role in a case, names no person, and says nothing about whether anyone keeps a limit: that is the local medical physicist's to judge.";

/// A role in the room.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum StaffRole {
    /// Operator.
    Operator,
    /// Second operator.
    Second,
    /// Nurse.
    Nurse,
    /// Whoever gave the anaesthetic.
    Anaesthesia,
}

impl StaffRole {
    /// Everyone.
    pub const ALL: [Self; 4] = [Self::Operator, Self::Second, Self::Nurse, Self::Anaesthesia];

    /// The name in a table.
    pub fn label(self) -> &'static str {
        match self {
            Self::Operator => "Operator",
            Self::Second => "Second operator",
            Self::Nurse => "Nurse",
            Self::Anaesthesia => "Anaesthesia",
        }
    }

    /// The name in files.
    pub fn code(self) -> &'static str {
        match self {
            Self::Operator => "operator",
            Self::Second => "second",
            Self::Nurse => "nurse",
            Self::Anaesthesia => "anaesthesia",
        }
    }
}

/// What badges read in a case. Few cases have any, so that it hangs on a pointer.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Badges(Option<Box<Worn>>);

#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Worn {
    readings: [Option<f32>; 4],
    position: Option<BadgePosition>,
}

impl Badges {
    /// Readings in µSv, in the order of the roles, and where all of these badges were worn.
    pub fn new(readings: [Option<f32>; 4], position: Option<BadgePosition>) -> Self {
        let worn = Worn { readings, position };
        Self((worn != Worn::default()).then(|| Box::new(worn)))
    }

    pub(super) fn read(guidance: &Guidance) -> Self {
        let usv = |reported: &Reported<BadgeDose>| reported.value().map(|dose| dose.usv() as f32);
        let readings = [
            usv(&guidance.staff_dose_operator),
            usv(&guidance.staff_dose_second),
            usv(&guidance.staff_dose_nurse),
            usv(&guidance.staff_dose_anaesthesia),
        ];
        Self::new(readings, guidance.staff_badge_position.value().copied())
    }

    fn worn(&self) -> Worn {
        self.0.as_deref().copied().unwrap_or_default()
    }

    /// The readings in µSv, in the order of the roles.
    pub fn readings(&self) -> [Option<f32>; 4] {
        self.worn().readings
    }

    /// Where they were worn.
    pub fn position(&self) -> Option<BadgePosition> {
        self.worn().position
    }

    /// The reading of a role, in µSv.
    pub fn of(&self, role: StaffRole) -> Option<f64> {
        self.readings()[role as usize].map(f64::from)
    }
}

/// Everywhere a badge may have been worn; nothing where it was not stated, which comes last.
pub(super) fn positions() -> impl Iterator<Item = Option<BadgePosition>> {
    BadgePosition::all().iter().copied().map(Some).chain([None])
}

/// Each role with each place of the badge. Readings over and under an apron are never put together.
pub(super) fn badges() -> impl Iterator<Item = (StaffRole, Option<BadgePosition>)> {
    StaffRole::ALL.into_iter().flat_map(|role| positions().map(move |position| (role, position)))
}

/// A published limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Limit {
    /// For whom.
    pub who: &'static str,
    /// Of what.
    pub what: &'static str,
    /// How much, in mSv.
    pub msv: f64,
    /// Over which time.
    pub over: &'static str,
    /// Where it is published.
    pub source: &'static str,
}

const EURATOM: &str = "Council Directive 2013/59/Euratom, articles 9 and 10";
const CFR: &str = "10 CFR 20.1208";

/// Limits for workers and for a declared pregnancy, as published.
pub const LIMITS: [Limit; 6] = [
    Limit {
        who: "Worker, European Union",
        what: "effective dose",
        msv: 20.0,
        over: "a year",
        source: EURATOM,
    },
    Limit {
        who: "Worker, European Union",
        what: "lens of the eye",
        msv: 20.0,
        over: "a year, or 100 in five years with at most 50 in one",
        source: EURATOM,
    },
    Limit { who: "Worker, European Union", what: "skin", msv: 500.0, over: "a year", source: EURATOM },
    Limit {
        who: "Worker, European Union",
        what: "hands and feet",
        msv: 500.0,
        over: "a year",
        source: EURATOM,
    },
    Limit {
        who: "Declared pregnancy, European Union",
        what: "unborn child",
        msv: 1.0,
        over: "the rest of the pregnancy",
        source: EURATOM,
    },
    Limit {
        who: "Declared pregnancy, United States",
        what: "unborn child",
        msv: 5.0,
        over: "the whole pregnancy, at an even rate",
        source: CFR,
    },
];
