//! An invented patient. Complexity c ~ N(0, 1) is never recorded, but six
//! recorded facts are its shadows: each rests on x = a·c + √(1 − a²)·e with its
//! own noise e ~ N(0, 1). A shadow carries a²/(1 − a²) of precision about c, so
//! that all of them together leave 1/(1 + Σ a²/(1 − a²)) of its variance open;
//! coarse classes lose a part of theirs. The loads below are set so that the
//! six facts as recorded explain three quarters of c within a type of procedure.

use super::chance::Chance;
use super::network::Habits;
use quietbeam_schema::vocabulary::{
    AgeBand, CongenitalDisease, DeviceInSitu, EgfrBand, ProcedureType, Sex, StructuralDisease, WeightBand,
};

/// What load each recorded fact has.
mod load {
    pub(super) const LVEF: f64 = 0.70;
    pub(super) const LEFT_ATRIUM: f64 = 0.69;
    pub(super) const ASA: f64 = 0.63;
    pub(super) const BMI: f64 = 0.45;
    pub(super) const STRUCTURAL: f64 = 0.60;
    pub(super) const PRIOR: f64 = 0.55;
}

/// The patient.
#[derive(Clone)]
pub(super) struct Patient {
    pub(super) complexity: f64,
    pub(super) age: AgeBand,
    pub(super) sex: Sex,
    pub(super) bmi: f64,
    /// For children only.
    pub(super) weight: Option<WeightBand>,
    pub(super) lvef: i64,
    pub(super) left_atrium_mm: i64,
    pub(super) structural: StructuralDisease,
    pub(super) congenital: CongenitalDisease,
    pub(super) earlier_ablations: i64,
    pub(super) heart_surgery: bool,
    pub(super) device: DeviceInSitu,
    pub(super) asa_class: i64,
    pub(super) egfr: EgfrBand,
    /// CHA2DS2-VA points beyond those for age.
    pub(super) stroke_points: i64,
    pub(super) pregnant: bool,
}

impl Patient {
    pub(super) fn draw(chance: &mut Chance, centre: &Habits, kind: ProcedureType) -> Self {
        let complexity = chance.normal();
        let mut shadow = |load: f64| load * complexity + libm::sqrt(1.0 - load * load) * chance.normal();
        let lvef = shadow(load::LVEF);
        let left_atrium = shadow(load::LEFT_ATRIUM);
        let asa = shadow(load::ASA);
        let bmi = shadow(load::BMI);
        let structural = shadow(load::STRUCTURAL);
        let prior = shadow(load::PRIOR);
        let age = age(chance, centre, kind);
        let congenital = congenital(chance, centre);
        Self {
            complexity,
            age,
            sex: if chance.happens(female(kind)) { Sex::Female } else { Sex::Male },
            bmi: body_mass_index(bmi, age),
            weight: (!age.is_adult()).then(|| weight(chance, age)),
            lvef: ejection_fraction(lvef, kind),
            left_atrium_mm: left_atrial_diameter(left_atrium, age, kind),
            structural: structural_disease(chance, structural, kind),
            congenital,
            earlier_ablations: earlier_ablations(prior, kind),
            heart_surgery: chance.happens(if congenital == CongenitalDisease::None { 0.03 } else { 0.7 }),
            device: device(chance, kind),
            asa_class: asa_class(asa, kind),
            egfr: chance.one_of(&[
                (EgfrBand::E60Plus, 0.82),
                (EgfrBand::E30To59, 0.16),
                (EgfrBand::Under30, 0.02),
            ]),
            stroke_points: stroke_points(chance, age),
            pregnant: false,
        }
    }

    /// Moderate or complex anatomy, or a simple defect: any of them counts.
    pub(super) fn has_congenital(&self) -> bool {
        self.congenital != CongenitalDisease::None
    }

    pub(super) fn has_device(&self) -> bool {
        !matches!(self.device, DeviceInSitu::None | DeviceInSitu::LoopRecorder)
    }

    /// CHA2DS2-VA.
    pub(super) fn stroke_score(&self) -> i64 {
        let by_age = match self.age {
            AgeBand::Y70To79 => 1,
            AgeBand::Y80To89 | AgeBand::Y90Plus => 2,
            _ => 0,
        };
        (by_age + self.stroke_points).min(8)
    }
}

const ADULT_BANDS: [AgeBand; 8] = [
    AgeBand::Y18To29,
    AgeBand::Y30To39,
    AgeBand::Y40To49,
    AgeBand::Y50To59,
    AgeBand::Y60To69,
    AgeBand::Y70To79,
    AgeBand::Y80To89,
    AgeBand::Y90Plus,
];

fn age(chance: &mut Chance, centre: &Habits, kind: ProcedureType) -> AgeBand {
    use ProcedureType as P;
    if centre.for_children {
        return chance.one_of(&[
            (AgeBand::Y0To1, 0.02),
            (AgeBand::Y2To5, 0.10),
            (AgeBand::Y6To11, 0.37),
            (AgeBand::Y12To17, 0.45),
            (AgeBand::Y18To29, 0.06),
        ]);
    }
    let weights: [f64; 8] = match kind {
        P::Avnrt | P::AvrtAp | P::FocalAt => [0.14, 0.19, 0.24, 0.20, 0.14, 0.07, 0.02, 0.0],
        P::Pvc => [0.08, 0.14, 0.20, 0.24, 0.20, 0.12, 0.02, 0.0],
        P::VtEndocardial | P::VtEpicardial => [0.03, 0.06, 0.12, 0.22, 0.30, 0.22, 0.05, 0.0],
        P::AvNode => [0.0, 0.01, 0.03, 0.10, 0.22, 0.36, 0.24, 0.04],
        _ => [0.01, 0.04, 0.10, 0.23, 0.34, 0.23, 0.05, 0.0],
    };
    let bands: Vec<(AgeBand, f64)> = ADULT_BANDS.into_iter().zip(weights).collect();
    chance.one_of(&bands)
}

fn female(kind: ProcedureType) -> f64 {
    match kind {
        ProcedureType::Avnrt => 0.65,
        ProcedureType::AvrtAp => 0.45,
        ProcedureType::FocalAt | ProcedureType::Pvc => 0.55,
        ProcedureType::VtEndocardial | ProcedureType::VtEpicardial => 0.18,
        ProcedureType::CtiFlutter => 0.25,
        _ => 0.38,
    }
}

fn body_mass_index(x: f64, age: AgeBand) -> f64 {
    let (mean, sd) = if age.is_adult() { (28.0, 5.0) } else { (19.0, 3.0) };
    (mean + sd * x).clamp(15.0, 54.0)
}

fn weight(chance: &mut Chance, age: AgeBand) -> WeightBand {
    use WeightBand as W;
    match age {
        AgeBand::Y0To1 => chance.one_of(&[(W::Kg5To9, 0.6), (W::Under5, 0.1), (W::Kg10To14, 0.3)]),
        AgeBand::Y2To5 => chance.one_of(&[(W::Kg10To14, 0.4), (W::Kg15To29, 0.6)]),
        AgeBand::Y6To11 => chance.one_of(&[(W::Kg15To29, 0.5), (W::Kg30To49, 0.45), (W::Kg50To79, 0.05)]),
        _ => chance.one_of(&[(W::Kg30To49, 0.25), (W::Kg50To79, 0.68), (W::Kg80Plus, 0.07)]),
    }
}

fn ejection_fraction(x: f64, kind: ProcedureType) -> i64 {
    let (mean, sd) = match kind {
        ProcedureType::VtEndocardial | ProcedureType::VtEpicardial => (37.0, 8.0),
        ProcedureType::AvNode => (46.0, 8.0),
        ProcedureType::AfPersistentFirst => (54.0, 7.0),
        _ => (58.0, 6.0),
    };
    (mean - sd * x).round().clamp(15.0, 75.0) as i64
}

fn left_atrial_diameter(x: f64, age: AgeBand, kind: ProcedureType) -> i64 {
    let mean = match kind {
        _ if !age.is_adult() => 33.0,
        ProcedureType::AfPersistentFirst => 46.0,
        ProcedureType::AfParoxysmalFirst => 42.0,
        ProcedureType::AfRedo | ProcedureType::AvNode => 44.0,
        ProcedureType::VtEndocardial | ProcedureType::VtEpicardial => 43.0,
        _ => 38.0,
    };
    let sd = if age.is_adult() { 5.0 } else { 3.0 };
    (mean + sd * x).round().clamp(25.0, 70.0) as i64
}

fn structural_disease(chance: &mut Chance, x: f64, kind: ProcedureType) -> StructuralDisease {
    use StructuralDisease as S;
    let scarred = matches!(kind, ProcedureType::VtEndocardial | ProcedureType::VtEpicardial);
    if scarred {
        // Never none: the type means disease. The worse half is ischaemic.
        return if x > 0.0 { S::Ischaemic } else { S::NonIschaemic };
    }
    if x < 0.7 {
        return S::None;
    }
    chance.one_of(&[
        (S::Ischaemic, 0.40),
        (S::NonIschaemic, 0.25),
        (S::Valve, 0.20),
        (S::Hypertrophic, 0.10),
        (S::Other, 0.05),
    ])
}

fn congenital(chance: &mut Chance, centre: &Habits) -> CongenitalDisease {
    use CongenitalDisease as C;
    let any = if centre.for_children { 0.08 } else { 0.01 };
    if !chance.happens(any) {
        return C::None;
    }
    chance.one_of(&[(C::Simple, 0.6), (C::Moderate, 0.3), (C::Complex, 0.1)])
}

fn earlier_ablations(x: f64, kind: ProcedureType) -> i64 {
    let classes = |limits: [f64; 3]| limits.iter().filter(|limit| x > **limit).count() as i64;
    match kind {
        ProcedureType::AfRedo => 1 + classes([0.6, 1.6, f64::INFINITY]),
        _ => classes([0.8, 1.6, 2.4]),
    }
}

fn device(chance: &mut Chance, kind: ProcedureType) -> DeviceInSitu {
    use DeviceInSitu as D;
    match kind {
        ProcedureType::VtEndocardial | ProcedureType::VtEpicardial => {
            chance.one_of(&[(D::Icd, 0.62), (D::Crt, 0.18), (D::None, 0.20)])
        }
        ProcedureType::AvNode => chance.one_of(&[(D::Pacemaker, 0.55), (D::Crt, 0.35), (D::Leadless, 0.10)]),
        _ => {
            chance.one_of(&[(D::None, 0.95), (D::Pacemaker, 0.025), (D::Icd, 0.01), (D::LoopRecorder, 0.015)])
        }
    }
}

fn asa_class(x: f64, kind: ProcedureType) -> i64 {
    let sicker = match kind {
        ProcedureType::VtEndocardial | ProcedureType::VtEpicardial | ProcedureType::AvNode => 0.9,
        _ => 0.0,
    };
    1 + [-0.7, 0.5, 1.9].iter().filter(|limit| x + sicker > **limit).count() as i64
}

fn stroke_points(chance: &mut Chance, age: AgeBand) -> i64 {
    let older = age >= AgeBand::Y60To69;
    if older {
        chance.one_of(&[(0, 0.22), (1, 0.36), (2, 0.26), (3, 0.12), (4, 0.04)])
    } else {
        chance.one_of(&[(0, 0.55), (1, 0.32), (2, 0.10), (3, 0.03)])
    }
}
