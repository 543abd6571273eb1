//! X-ray quantities against each other: units, and minutes typed as dose.

use super::{Rule, canonical, hard, query};
use crate::case::{Beam, CaseRecord, Exposure};
use crate::reported::Reported;
use crate::vocabulary::{ProcedureGroup, ProcedureType};

pub(super) const RULES: &[Rule<CaseRecord>] = &[
    hard("zero_dose_with_beam_on", &["air_kerma", "fluoro_time"], |case, _| zero_dose(exposure(case)?)),
    query("dose_not_recorded", &["air_kerma", "kap"], |case, _| {
        let used = exposure(case)?;
        (used.air_kerma.value().is_none() && used.kap.value().is_none()).then(|| {
            "The beam was on and neither air kerma nor kerma-area product is given. Fluoroscopy time does not stand for dose; give a dose figure, or say why there is none.".to_owned()
        })
    }),
    query("minutes_as_dose", &["air_kerma", "fluoro_time"], |case, _| minutes_as_dose(exposure(case)?)),
    hard("dose_area_impossible", &["kap", "air_kerma"], |case, _| {
        let area = area_cm2(exposure(case)?)?;
        (!(AREA_POSSIBLE.0..=AREA_POSSIBLE.1).contains(&area)).then(|| format!(
            "Kerma-area product divided by air kerma is a field of {area:.1} cm²; 20 to 250 is usual and outside 3 to 1,500 impossible. One of the two units is wrong: compare both with the console."
        ))
    }),
    query("dose_area_unusual", &["kap", "air_kerma"], |case, _| {
        let area = area_cm2(exposure(case)?)?;
        let possible = (AREA_POSSIBLE.0..=AREA_POSSIBLE.1).contains(&area);
        (possible && !(AREA_USUAL.0..=AREA_USUAL.1).contains(&area)).then(|| format!(
            "Kerma-area product divided by air kerma is a field of {area:.1} cm²; 20 to 250 is usual. Compare both units with the console, or say why it is right."
        ))
    }),
    hard("dose_rate_impossible", &["air_kerma", "fluoro_time"], |case, _| {
        let used = exposure(case)?;
        let rate = rate_mgy_per_min(used)?;
        let no_cine = used.cine_runs.is(|runs| runs.get() == 0);
        (rate > RATE_LIMIT && no_cine).then(|| format!(
            "Air kerma divided by fluoroscopy time is {rate:.0} mGy a minute without any cine run; no room gives more than {RATE_LIMIT:.0}. Check the units of both."
        ))
    }),
    query("dose_rate_unusual", &["air_kerma", "fluoro_time"], |case, _| {
        let used = exposure(case)?;
        let rate = rate_mgy_per_min(used)?;
        let refused = rate > RATE_LIMIT && used.cine_runs.is(|runs| runs.get() == 0);
        (!refused && !(RATE_USUAL.0..=RATE_USUAL.1).contains(&rate)).then(|| format!(
            "Air kerma divided by fluoroscopy time is {rate:.3} mGy a minute; 0.2 to 15 is usual. Check whether gray was read as milligray, or say why it is right."
        ))
    }),
    query("unlikely_area_unit", &["kap_unit", "kap"], |case, _| {
        let Reported::Value(product) = &exposure(case)?.kap else { return None };
        (product.unit().ucum == "cGy.m2").then(|| {
            "cGy·m² is nearly always a misprint of µGy·m² or cGy·cm²; compare it with the console, or say why it is right.".to_owned()
        })
    }),
    query("high_dose_for_procedure", &["air_kerma", "proc_primary"], |case, _| {
        let dose = canonical(&exposure(case)?.air_kerma)?;
        let limit = usual_dose_limit_mgy(case.procedure().proc_primary);
        (dose > limit).then(|| format!(
            "{dose} mGy is much for this procedure; up to {limit} mGy is usual. Check the number and the unit, or say why it is right."
        ))
    }),
];

/// Field sizes in cm² beyond which one unit must be wrong, and beyond which a
/// person should look. Common practice, no source.
const AREA_POSSIBLE: (f64, f64) = (3.0, 1_500.0);
const AREA_USUAL: (f64, f64) = (20.0, 250.0);
/// The highest air kerma rate that a fluoroscope may deliver in high-level
/// mode, mGy/min (21 CFR 1020.32(e), from memory: 176), and the rates outside
/// which a person should look (common practice, no source).
const RATE_LIMIT: f64 = 176.0;
const RATE_USUAL: (f64, f64) = (0.05, 30.0);

fn exposure(case: &CaseRecord) -> Option<&Exposure> {
    match case.beam() {
        Beam::Off => None,
        Beam::On(exposure) => Some(exposure),
    }
}

fn zero_dose(used: &Exposure) -> Option<String> {
    let zero = |value: Option<f64>| value == Some(0.0);
    let (dose, product, seconds) =
        (canonical(&used.air_kerma), canonical(&used.kap), canonical(&used.fluoro_time));
    (zero(dose) || zero(product) || zero(seconds)).then(|| {
        "The beam was on, so air kerma, kerma-area product and fluoroscopy time cannot be 0. Give the figure from the console, a missing code if it was not recorded, or correct whether the beam was on.".to_owned()
    })
}

fn minutes_as_dose(used: &Exposure) -> Option<String> {
    let Reported::Value(dose) = &used.air_kerma else { return None };
    let minutes = canonical(&used.fluoro_time)? / 60.0;
    let typed: f64 = dose.typed().parse().ok()?;
    // Equal as a console would show it, to one decimal; a tenth of a minute is 6 s.
    ((typed - minutes).abs() < 0.05 && typed > 0.0).then(|| format!(
        "Air kerma is given as {typed} {}, which is also the fluoroscopy time in minutes. If minutes were typed as dose, correct it; minutes are never a dose.",
        dose.unit().label
    ))
}

fn area_cm2(used: &Exposure) -> Option<f64> {
    let gray = canonical(&used.air_kerma)? / 1000.0;
    (gray > 0.0).then_some(canonical(&used.kap)? / gray)
}

fn rate_mgy_per_min(used: &Exposure) -> Option<f64> {
    let minutes = canonical(&used.fluoro_time)? / 60.0;
    (minutes > 0.0).then_some(canonical(&used.air_kerma)? / minutes)
}

/// Air kerma in mGy above which a person should look. Common practice, no source.
fn usual_dose_limit_mgy(procedure: ProcedureType) -> f64 {
    match procedure.group() {
        ProcedureGroup::Svt | ProcedureGroup::Flutter => 300.0,
        ProcedureGroup::AfFirst | ProcedureGroup::AfRedo | ProcedureGroup::Pvc | ProcedureGroup::Other => {
            800.0
        }
        ProcedureGroup::Vt => 2_000.0,
    }
}
