//! Who is compared: the three ways of filling the arms.

use super::arm::Arm;
use super::cohort::CaseRow;
use quietbeam_schema::vocabulary::{FluoroUsed, ProcedureType, Strategy};
use serde::Serialize;

/// How cases are put into arms.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Population {
    /// By the strategy intended beforehand, whatever happened. Primary.
    AsIntended,
    /// Only cases that went as intended: no beam in zero-fluoroscopy beyond a brief use that was
    /// intended, beam on in conventional. Co-primary, because cross-over hides differences.
    PerProtocol,
    /// By whether the beam was on. Description only: hard cases that crossed
    /// over land in the conventional arm and flatter the other.
    AsTreated,
}

impl Population {
    /// All populations.
    pub const ALL: [Self; 3] = [Self::AsIntended, Self::PerProtocol, Self::AsTreated];

    /// The name in a table.
    pub fn label(self) -> &'static str {
        match self {
            Self::AsIntended => "As intended",
            Self::PerProtocol => "Per protocol",
            Self::AsTreated => "As treated",
        }
    }

    /// The arm of a case, if the case belongs to the population. Cases intended
    /// as near-zero belong to none where no plan puts them into an arm.
    pub fn arm(self, case: &CaseRow) -> Option<Arm> {
        let intended = intended_arm(case)?;
        let treated = if case.beam_on() { Arm::Conventional } else { Arm::ZeroFluoroscopy };
        match self {
            Self::AsIntended => Some(intended),
            Self::PerProtocol => went_as_intended(case, intended).then_some(intended),
            Self::AsTreated => Some(treated),
        }
    }
}

/// Whether no more X-ray was used in the zero-fluoroscopy arm than intended, and some in the
/// conventional one. A brief use was intended in a near-zero case.
pub(in crate::study) fn went_as_intended(case: &CaseRow, arm: Arm) -> bool {
    match arm {
        Arm::ZeroFluoroscopy => {
            let brief = case.intended == Strategy::NearZero && case.fluoro_used == FluoroUsed::PlannedUsed;
            !case.beam_on() || brief
        }
        Arm::Conventional => case.beam_on(),
    }
}

fn intended_arm(case: &CaseRow) -> Option<Arm> {
    match case.intended {
        Strategy::Zero => Some(Arm::ZeroFluoroscopy),
        Strategy::Conventional => Some(Arm::Conventional),
        Strategy::NearZero => case.near_zero_in,
    }
}

/// Whether a case is an ablation at all; diagnostic studies are kept for the
/// denominators of the centres and compared with nothing.
pub fn is_ablation(case: &CaseRow) -> bool {
    case.procedure != ProcedureType::DiagnosticOnly
}
