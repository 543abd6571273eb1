//! Who is protected: how often the beam was never on, who wore lead, and what badges read in a
//! case. Published limits stand beside it as context and judge nobody.

use super::super::Seen;
use super::super::prose::capital;
use crate::methods::sample::Sample;
use crate::study::arm::{Arm, ByArm};
use crate::study::dose::{Quartiles, quartiles};
use crate::study::numerals;
use crate::study::population::Population;
use crate::study::share::Share;
use crate::study::staff::{LIMITS, Limit, NO_JUDGEMENT, StaffRole, badges};
use quietbeam_schema::vocabulary::{BadgePosition, Coded, LeadWorn as Worn};
use serde::Serialize;
use std::collections::BTreeMap;

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
    let mut readings = BTreeMap::<(StaffRole, Option<BadgePosition>, Arm), Vec<f64>>::new();
    for case in seen.kept() {
        let Some(arm) = Population::AsIntended.arm(&case.row) else { continue };
        let badges = &case.row.badges;
        for (role, usv) in StaffRole::ALL.iter().filter_map(|role| Some((*role, badges.of(*role)?))) {
            readings.entry((role, badges.position(), arm)).or_default().push(usv);
        }
    }
    let mut read = |role, position, arm| {
        let values = readings.remove(&(role, position, arm)).unwrap_or_default();
        let cases = values.len() as u32;
        BadgeReadings { cases, usv: Sample::new(values).ok().as_ref().and_then(quartiles) }
    };
    badges()
        .map(|(role, position)| RoleDose {
            role,
            position,
            arms: ByArm::from_fn(|arm| read(role, position, arm)),
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
