//! How a case was done: energy, mapping, watching, sedation, times, crew. None
//! of it bears on the outcome; it is there because a real record has it.

use super::chance::Chance;
use super::course::{Course, Setting};
use quietbeam_schema::vocabulary::{
    Anaesthesia, EffusionLook24h, Energy, IceUse, LeadWorn, MappingSystem, OperatorExperience,
    OperatorPriorZf, PreproceduralImaging, ProcedureType, SecondOperator, Substrate, Urgency,
    ZfDeclinedReason,
};

/// The choices of one case.
#[derive(Clone)]
pub(super) struct Practice {
    pub(super) substrate: Option<Substrate>,
    pub(super) urgency: Urgency,
    pub(super) energy: Energy,
    pub(super) ultrasound_access: bool,
    pub(super) echo: IceUse,
    pub(super) echo_throughout: bool,
    pub(super) look_next_day: EffusionLook24h,
    pub(super) border_at_end: bool,
    pub(super) mapping: MappingSystem,
    pub(super) imaging_before: PreproceduralImaging,
    pub(super) anaesthesia: Anaesthesia,
    pub(super) skin_to_skin_min: i64,
    pub(super) left_atrium_share: f64,
    pub(super) clotting_time_s: i64,
    pub(super) experience: OperatorExperience,
    pub(super) earlier_zero_cases: OperatorPriorZf,
    pub(super) second_operator: SecondOperator,
    pub(super) lead_worn: LeadWorn,
    pub(super) declined_because: ZfDeclinedReason,
    pub(super) declared_in_log: bool,
    pub(super) standby: bool,
}

impl Practice {
    pub(super) fn draw(chance: &mut Chance, setting: &Setting<'_>, course: &Course) -> Self {
        let kind = setting.model.kind;
        let atrial_fibrillation = kind.is_af();
        let median = setting.model.skin_to_skin_min;
        Self {
            substrate: substrate(chance, kind, course),
            urgency: urgency(chance, kind),
            energy: energy(chance, setting),
            ultrasound_access: chance.happens(0.8),
            echo: match course.echo_inside {
                false => IceUse::No,
                true if course.left_heart.crossed() && chance.happens(0.5) => IceUse::RaAndLeft,
                true => IceUse::RaOnly,
            },
            echo_throughout: atrial_fibrillation,
            look_next_day: if setting.centre.routine_echo {
                EffusionLook24h::RoutineTte
            } else {
                EffusionLook24h::None
            },
            border_at_end: chance.happens(0.4),
            mapping: mapping(chance, kind, course),
            imaging_before: chance.one_of(&[
                (PreproceduralImaging::None, 0.55),
                (PreproceduralImaging::Ct, 0.33),
                (PreproceduralImaging::Mri, 0.12),
            ]),
            anaesthesia: anaesthesia(chance, setting),
            skin_to_skin_min: (chance.log_normal(median, 0.3).round() as i64).clamp(5, 900),
            left_atrium_share: 0.45 + 0.35 * chance.uniform(),
            clotting_time_s: (340.0 + 30.0 * chance.normal()).round().clamp(255.0, 445.0) as i64,
            experience: EXPERIENCE[course.operator % EXPERIENCE.len()],
            earlier_zero_cases: earlier_zero_cases(setting, course.operator),
            second_operator: chance.one_of(&[(SecondOperator::None, 0.7), (SecondOperator::Fellow, 0.3)]),
            lead_worn: lead_worn(chance, course),
            declined_because: declined_because(chance, kind),
            declared_in_log: chance.happens(0.25),
            standby: chance.happens(0.7),
        }
    }
}

const EXPERIENCE: [OperatorExperience; 4] = [
    OperatorExperience::From10,
    OperatorExperience::From5To9,
    OperatorExperience::From1To4,
    OperatorExperience::From5To9,
];

fn earlier_zero_cases(setting: &Setting<'_>, operator: usize) -> OperatorPriorZf {
    let share = setting.centre.zero_intended.0;
    match operator {
        _ if share < 0.2 => OperatorPriorZf::Zero,
        0 if share > 0.6 => OperatorPriorZf::From25To99,
        0 | 1 => OperatorPriorZf::From1To24,
        _ => OperatorPriorZf::Zero,
    }
}

fn substrate(chance: &mut Chance, kind: ProcedureType, course: &Course) -> Option<Substrate> {
    use Substrate as S;
    let left = course.left_heart != super::course::LeftHeart::NotEntered;
    let sites: &[(S, f64)] = match (kind, left) {
        (ProcedureType::AvrtAp, true) => &[(S::LeftLateral, 0.75), (S::LeftPosterior, 0.25)],
        (ProcedureType::AvrtAp, false) => &[(S::RightFree, 0.35), (S::Septal, 0.5), (S::Parahisian, 0.15)],
        (ProcedureType::Pvc, true) => &[(S::LvotCusp, 0.6), (S::Papillary, 0.25), (S::Fascicular, 0.15)],
        (ProcedureType::Pvc, false) => &[(S::Rvot, 0.95), (S::Summit, 0.05)],
        (ProcedureType::VtEndocardial, true) => &[(S::LvScar, 1.0)],
        (ProcedureType::VtEndocardial, false) => &[(S::RvScar, 1.0)],
        (ProcedureType::VtEpicardial, _) => &[(S::Epicardial, 0.8), (S::Summit, 0.2)],
        _ => return None,
    };
    Some(chance.one_of(sites))
}

fn urgency(chance: &mut Chance, kind: ProcedureType) -> Urgency {
    match kind {
        ProcedureType::VtEndocardial | ProcedureType::VtEpicardial => {
            chance.one_of(&[(Urgency::Elective, 0.55), (Urgency::Urgent, 0.38), (Urgency::Emergency, 0.07)])
        }
        _ => chance.one_of(&[(Urgency::Elective, 0.95), (Urgency::Urgent, 0.05)]),
    }
}

fn energy(chance: &mut Chance, setting: &Setting<'_>) -> Energy {
    match setting.model.kind {
        kind if kind.is_af() => {
            // Pulsed field spreads over the quarters, at the expense of the others.
            let pulsed = 0.20 + 0.05 * setting.quarter as f64;
            chance.one_of(&[(Energy::Pfa, pulsed), (Energy::CryoBalloon, 0.15), (Energy::Rf, 0.85 - pulsed)])
        }
        ProcedureType::Avnrt if setting.centre.for_children => {
            chance.one_of(&[(Energy::CryoFocal, 0.6), (Energy::Rf, 0.4)])
        }
        _ => Energy::Rf,
    }
}

fn mapping(chance: &mut Chance, kind: ProcedureType, course: &Course) -> MappingSystem {
    use MappingSystem as M;
    let plain = matches!(kind, ProcedureType::Avnrt | ProcedureType::AvNode | ProcedureType::CtiFlutter);
    if !course.zero_intended && plain && chance.happens(0.6) {
        return M::None;
    }
    chance.one_of(&[(M::Magnetic, 0.45), (M::Impedance, 0.35), (M::Hybrid, 0.20)])
}

fn anaesthesia(chance: &mut Chance, setting: &Setting<'_>) -> Anaesthesia {
    use Anaesthesia as A;
    let general = match setting.model.kind {
        _ if setting.centre.for_children => 0.9,
        kind if kind.is_af() => 0.45,
        ProcedureType::VtEndocardial | ProcedureType::VtEpicardial => 0.55,
        _ => 0.05,
    };
    chance.one_of(&[
        (A::General, general),
        (A::Deep, (1.0 - general) * 0.40),
        (A::Conscious, (1.0 - general) * 0.45),
        (A::Local, (1.0 - general) * 0.15),
    ])
}

fn lead_worn(chance: &mut Chance, course: &Course) -> LeadWorn {
    match (course.beam_on(), course.crossed_over) {
        (true, false) => LeadWorn::All,
        (true, true) => LeadWorn::Some,
        (false, _) => chance.one_of(&[(LeadWorn::None, 0.75), (LeadWorn::Some, 0.25)]),
    }
}

fn declined_because(chance: &mut Chance, kind: ProcedureType) -> ZfDeclinedReason {
    use ZfDeclinedReason as R;
    if kind == ProcedureType::VtEpicardial {
        return R::Epicardial;
    }
    chance.one_of(&[
        (R::OperatorPreference, 0.50),
        (R::NoIce, 0.18),
        (R::NoMapping, 0.12),
        (R::Training, 0.10),
        (R::Cost, 0.10),
    ])
}
