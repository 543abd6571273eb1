//! Invented cases of seven centres with the covariates of the example plan.

use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::report::ReportCase;
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::entries::StrictJson;
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{
    AcuteSuccess, AgeBand, FluoroUsed, ProcedureType, Sex, Strategy, StructuralDisease,
};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::json;

/// The plan of the tests with the covariates and the analyses of the example.
pub(crate) fn plan() -> AnalysisPlan {
    let mut plan = super::plan::plan();
    plan["covariates"] = json!([
        "age",
        "sex",
        "bmi",
        "lvef",
        "la_diameter",
        "structural_hd",
        "prior_ablation_n",
        "asa_class",
        "procedure_group",
        "calendar_time"
    ]);
    serde_json::from_value(plan).unwrap()
}

/// A case that passes every rule; what the models see of it is drawn.
fn base() -> ReportCase {
    let json: StrictJson = serde_json::from_str(&super::sample::zero_fluoroscopy_case().to_string()).unwrap();
    let checked = CaseForm::from_json(json).check(Quarter::new(2026, 4).unwrap()).ok().unwrap();
    ReportCase::read(0, CentreCode::from_random(1), &checked.record)
}

const SHARES: [f64; 7] = [0.88, 0.45, 0.10, 0.50, 0.75, 0.33, 0.40];
const KINDS: [ProcedureType; 6] = [
    ProcedureType::Avnrt,
    ProcedureType::CtiFlutter,
    ProcedureType::AfParoxysmalFirst,
    ProcedureType::AfRedo,
    ProcedureType::Pvc,
    ProcedureType::VtEndocardial,
];
const AGES: [AgeBand; 6] = [
    AgeBand::Y18To29,
    AgeBand::Y30To39,
    AgeBand::Y40To49,
    AgeBand::Y50To59,
    AgeBand::Y60To69,
    AgeBand::Y70To79,
];

/// The same number draws the same cases.
pub(crate) fn draw(number: usize) -> Vec<ReportCase> {
    let mut chance = ChaCha8Rng::seed_from_u64(20_261_125);
    let base = base();
    (0..number).map(|place| one(&base, place, &mut || chance.random::<f64>())).collect()
}

fn one(base: &ReportCase, place: usize, draw: &mut dyn FnMut() -> f64) -> ReportCase {
    let mut case = base.clone();
    case.entered = place as i64;
    let centre = (draw() * 7.0) as usize;
    let mut normal = || (0..12).map(|_| draw()).sum::<f64>() - 6.0;
    let (hard, blur, more) = (normal(), normal(), normal());
    let row = &mut case.row;
    row.centre = CentreCode::from_random(centre as u8 + 1);
    row.procedure = KINDS[(draw() * 6.0) as usize];
    row.period = Quarter::new(2025, 1 + (draw() * 4.0) as u8).unwrap();
    row.before.age_band = AGES[(draw() * 6.0) as usize];
    row.before.sex = Some(if draw() < 0.4 { Sex::Female } else { Sex::Male });
    row.before.bmi = (draw() < 0.95).then(|| ((28.0 + 3.0 * hard + 4.0 * blur) * 10.0).round() / 10.0);
    row.before.lvef = (draw() < 0.9).then(|| (58.0 - 4.0 * hard + 4.0 * more).clamp(10.0, 80.0) as u8);
    row.before.la_diameter =
        (draw() < 0.85).then(|| (42.0 + 3.0 * hard - 3.0 * blur).clamp(20.0, 80.0) as u8);
    let structural = draw() < 0.3 + 0.05 * hard;
    row.before.structural =
        Some(if structural { StructuralDisease::Ischaemic } else { StructuralDisease::None });
    row.before.earlier_ablations = Some((draw() * draw() * 3.0) as u8);
    row.before.physical_status = Some((2.0 + 0.7 * hard + 0.5 * more).clamp(1.0, 4.0) as u8);
    let zero = draw() < (SHARES[centre] - 0.06 * hard).clamp(0.02, 0.98);
    let crossed = draw() < 0.05;
    row.intended = if zero { Strategy::Zero } else { Strategy::Conventional };
    row.fluoro_used = if zero == crossed { FluoroUsed::PlannedUsed } else { FluoroUsed::None };
    let failed = draw() < 0.05 + 0.015 * hard;
    row.acute_success = Some(if failed { AcuteSuccess::No } else { AcuteSuccess::Yes });
    row.major_within_30_days = (draw() < 0.97).then(|| draw() < 0.015 + 0.004 * hard);
    case
}
