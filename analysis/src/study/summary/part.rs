//! The parts into which a summary divides its cases.

use super::super::arm::Arm;
use super::arms::{InArm, Place, Went};
use super::placed::{Placed, Region, Regions};
use quietbeam_schema::vocabulary::{Coded, LeadWorn, ProcedureGroup};

/// Which of the cases are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Part {
    All,
    Group(ProcedureGroup),
    Year(u16),
    /// By the region of the centre.
    Region(Region),
    /// By who wore lead; nothing where it was not stated.
    Lead(Option<LeadWorn>),
    /// By the arm of a comparison, told by its scope among all; nothing for what is in neither.
    Compared(usize, InArm),
    /// What of an arm went as intended.
    Kept(usize, Arm),
    /// What of an arm did not.
    CrossedOver(usize, Arm),
    /// What crossed over or is in neither arm.
    NotKept(usize),
    /// What a comparison leaves out of the groups that it compares.
    LeftOut(usize),
    /// What is of other groups.
    Outside(usize),
}

impl Part {
    pub(super) fn holds(self, case: &Placed<'_>) -> bool {
        match self {
            Self::All => true,
            Self::Group(group) => case.procedure.group() == group,
            Self::Year(year) => case.period.year() == year,
            Self::Region(region) => case.region == region,
            Self::Lead(worn) => case.lead_worn == worn,
            Self::Compared(_, arm) => case.place.is_some_and(|place| place.arm() == arm),
            Self::Kept(_, arm) => case.place == Some(Place::In(arm, Went::AsIntended)),
            Self::CrossedOver(_, arm) => case.place == Some(Place::In(arm, Went::CrossedOver)),
            Self::NotKept(_) => !matches!(case.place, None | Some(Place::In(_, Went::AsIntended))),
            Self::LeftOut(_) => case.place == Some(Place::LeftOut),
            Self::Outside(_) => case.place == Some(Place::Outside),
        }
    }

    /// The scope of the comparison that it is a part of; nothing where it is of none.
    pub(super) fn scope(self) -> Option<usize> {
        match self {
            Self::All | Self::Group(_) | Self::Year(_) | Self::Region(_) | Self::Lead(_) => None,
            Self::Compared(scope, _)
            | Self::Kept(scope, _)
            | Self::CrossedOver(scope, _)
            | Self::NotKept(scope)
            | Self::LeftOut(scope)
            | Self::Outside(scope) => Some(scope),
        }
    }

    /// The same of whatever comparison: what one compares beyond another is a difference like any other.
    pub(super) fn of_any_scope(self) -> Self {
        match self {
            Self::Compared(_, arm) => Self::Compared(0, arm),
            Self::Kept(_, arm) => Self::Kept(0, arm),
            Self::CrossedOver(_, arm) => Self::CrossedOver(0, arm),
            Self::NotKept(_) => Self::NotKept(0),
            Self::LeftOut(_) => Self::LeftOut(0),
            Self::Outside(_) => Self::Outside(0),
            part => part,
        }
    }

    /// What it is called, by the names of the regions.
    pub(super) fn name(self, regions: &Regions) -> String {
        match self {
            Self::All => "all cases".to_owned(),
            Self::Group(group) => group.label().to_owned(),
            Self::Year(year) => year.to_string(),
            Self::Region(None) => "region: not stated".to_owned(),
            Self::Region(region) => format!("region: {}", regions.name(region)),
            Self::Lead(Some(worn)) => format!("lead worn: {}", worn.label()),
            Self::Lead(None) => "lead worn: not stated".to_owned(),
            Self::Compared(_, Some(arm)) => format!("{} arm", arm.name()),
            Self::Compared(_, None) => "in neither arm".to_owned(),
            Self::Kept(_, arm) => format!("{} arm as it was intended", arm.name()),
            Self::CrossedOver(_, arm) => format!("{} arm crossed over", arm.name()),
            Self::NotKept(_) => "crossed over or in neither arm".to_owned(),
            Self::LeftOut(_) => "left out of the comparison".to_owned(),
            Self::Outside(_) => "of groups that are not compared".to_owned(),
        }
    }
}
