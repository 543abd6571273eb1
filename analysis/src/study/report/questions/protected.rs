//! Who is protected: how often the beam was never on, who wore lead, and what badges read in a
//! case. Published limits stand beside it as context and judge nobody.

use super::super::Seen;
use super::super::prose::capital;
use crate::methods::sample::Sample;
use crate::study::dose::{Quartiles, quartiles};
use crate::study::endpoint::Share;
use crate::study::numerals;
use crate::study::population::{Arm, ByArm, Population};
use quietbeam_schema::vocabulary::{BadgePosition, Coded, LeadWorn as Worn};
use serde::Serialize;
use std::collections::BTreeMap;

/// What is told of the limits, whatever the doses are.
pub const NO_JUDGEMENT: &str = "Limits are for a person over a year or a pregnancy. The registry holds doses of a role in a case, names no person, and says nothing about whether anyone keeps a limit: that is the local medical physicist's to judge.";

/// Protection, as intended.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WhoIsProtected {
    /// Cases in which the beam was never on: nobody in the room was exposed.
    pub never_on: ByArm<Share>,
    /// Who wore lead.
    pub lead: Vec<LeadWorn>,
    /// Badge readings by role and by where the badge was worn; only where there are any.
    pub staff: Vec<RoleDose>,
    /// Published limits, for context.
    pub limits: [Limit; 6],
    /// What the limits are not.
    pub no_judgement: &'static str,
    /// The same in words.
    pub in_words: String,
}

/// Cases in which lead was worn so.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LeadWorn {
    /// By whom; absent where it was not stated.
    pub worn: Option<Worn>,
    /// Cases.
    pub cases: ByArm<u32>,
}

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
    const ALL: [Self; 4] = [Self::Operator, Self::Second, Self::Nurse, Self::Anaesthesia];

    /// The name in a table.
    pub fn label(self) -> &'static str {
        match self {
            Self::Operator => "Operator",
            Self::Second => "Second operator",
            Self::Nurse => "Nurse",
            Self::Anaesthesia => "Anaesthesia",
        }
    }
}

/// Badge readings of one role, in µSv a case.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RoleDose {
    /// The role.
    pub role: StaffRole,
    /// Where the badge was worn; absent where it was not stated. Readings over and under an apron
    /// are never put together.
    pub position: Option<BadgePosition>,
    /// Each arm.
    pub arms: ByArm<BadgeReadings>,
}

/// Readings in one arm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BadgeReadings {
    /// Cases with a reading.
    pub cases: u32,
    /// Median and quartiles in µSv a case; absent without any.
    pub usv: Option<Quartiles>,
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

impl WhoIsProtected {
    pub(in super::super) fn new(seen: &Seen<'_>) -> Self {
        let rows = seen.rows();
        let never_on = Share::by_arm(&rows, seen.plan.level(), |_| true, |case| !case.beam_on());
        let lead = lead(seen);
        Self {
            in_words: in_words(&never_on, &lead),
            never_on,
            lead,
            staff: staff(seen),
            limits: LIMITS,
            no_judgement: NO_JUDGEMENT,
        }
    }
}

fn lead(seen: &Seen<'_>) -> Vec<LeadWorn> {
    let answers = Worn::all().iter().copied().map(Some).chain([None]);
    let mut lines: Vec<LeadWorn> = answers.map(|worn| LeadWorn { worn, cases: ByArm::default() }).collect();
    for case in seen.kept() {
        let Some(arm) = Population::AsIntended.arm(&case.row) else { continue };
        if let Some(line) = lines.iter_mut().find(|line| line.worn == case.row.lead_worn) {
            *line.cases.of_mut(arm) += 1;
        }
    }
    lines
}

fn staff(seen: &Seen<'_>) -> Vec<RoleDose> {
    let positions = || BadgePosition::all().iter().copied().map(Some).chain([None]);
    let mut readings = BTreeMap::<(usize, Option<BadgePosition>, Arm), Vec<f64>>::new();
    for case in seen.kept() {
        let Some(arm) = Population::AsIntended.arm(&case.row) else { continue };
        for (place, reading) in case.course.badges.iter().enumerate() {
            let Some(usv) = reading else { continue };
            readings.entry((place, case.course.badge_position, arm)).or_default().push(f64::from(*usv));
        }
    }
    let mut read = |place: usize, position, arm| {
        let values = readings.remove(&(place, position, arm)).unwrap_or_default();
        let cases = values.len() as u32;
        BadgeReadings { cases, usv: Sample::new(values).ok().as_ref().and_then(quartiles) }
    };
    let lines = StaffRole::ALL
        .into_iter()
        .enumerate()
        .flat_map(|(place, role)| positions().map(move |position| (place, role, position)));
    lines
        .map(|(place, role, position)| RoleDose {
            role,
            position,
            arms: ByArm::from_fn(|arm| read(place, position, arm)),
        })
        .filter(|line| line.arms.each().iter().any(|(_, arm)| arm.cases > 0))
        .collect()
}

fn in_words(never_on: &ByArm<Share>, lead: &[LeadWorn]) -> String {
    let nobody = lead.iter().find(|line| line.worn == Some(Worn::None)).map(|line| line.cases);
    let told = |arm: Arm| {
        let share = never_on.of(arm);
        let without = nobody.map_or(0, |cases| *cases.of(arm));
        capital(&format!(
            "in the {} arm the beam was never on in {}, and nobody wore lead in {}.",
            arm.name(),
            numerals::share(share.count, share.of, 1),
            numerals::share(without, share.of, 1)
        ))
    };
    format!("{} {}", told(Arm::ZeroFluoroscopy), told(Arm::Conventional))
}
