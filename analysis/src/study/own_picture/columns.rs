//! The columns of a case that its own centre's picture needs beside those of a comparison.

use super::super::cohort::{CaseRow, looks};
use super::digits::{LastDigit, LastDigits};
use quietbeam_schema::case::{Beam, CaseRecord};
use quietbeam_schema::endpoint;
use quietbeam_schema::ids::{CaseCode, CentreCode};
use quietbeam_schema::value::OperatorCode;
use quietbeam_schema::vocabulary::{AgeBand, DetectedBy, FluoroReason, HarmTier, Sex, WeightBand};

/// One case as its own centre's picture sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnCase {
    /// Its code.
    pub code: CaseCode,
    /// Its place in the order of entry.
    pub entered: i64,
    /// The columns of a comparison.
    pub row: CaseRow,
    pub(super) operator: Option<OperatorCode>,
    pub(super) age_band: AgeBand,
    pub(super) sex: Option<Sex>,
    pub(super) bmi: Option<f64>,
    pub(super) weight_band: Option<WeightBand>,
    pub(super) skin_to_skin_min: Option<i64>,
    pub(super) reasons: Vec<FluoroReason>,
    pub(super) complications: Vec<SeenComplication>,
    pub(super) looks: [Option<bool>; 3],
    /// The units in which air kerma and kerma-area product were typed.
    pub(super) units: [Option<&'static str>; 2],
    /// The last digits of air kerma, kerma-area product and skin-to-skin time.
    pub(super) last_digits: LastDigits,
}

/// A complication within 30 days.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct SeenComplication {
    pub(super) tier: Option<HarmTier>,
    pub(super) detected_by: Option<DetectedBy>,
}

impl OwnCase {
    /// Reads the columns of one case.
    pub fn read(code: CaseCode, entered: i64, centre: CentreCode, case: &CaseRecord) -> Self {
        let (patient, procedure) = (case.patient(), case.procedure());
        let skin_to_skin_min = procedure.skin_to_skin_min.value().map(|minutes| minutes.get());
        Self {
            code,
            entered,
            row: CaseRow::read(centre, case),
            operator: procedure.op_code.value().copied(),
            age_band: patient.age_band,
            sex: patient.sex.value().copied(),
            bmi: patient.bmi.value().map(|bmi| bmi.get()),
            weight_band: patient.weight_band_paed.value().copied(),
            skin_to_skin_min,
            reasons: reasons(case),
            complications: complications(case),
            looks: looks(case),
            units: units(case),
            last_digits: last_digits(case),
        }
    }
}

fn reasons(case: &CaseRecord) -> Vec<FluoroReason> {
    match case.beam() {
        Beam::Off => Vec::new(),
        Beam::On(used) => {
            used.fluoro_reason.value().map(|reasons| reasons.iter().collect()).unwrap_or_default()
        }
    }
}

fn complications(case: &CaseRecord) -> Vec<SeenComplication> {
    let within = case.complications().iter().filter(|event| endpoint::within_30_days(event));
    let seen = within.map(|event| SeenComplication {
        tier: endpoint::harm_tier(event, case).used(),
        detected_by: event.detect_method.value().copied(),
    });
    seen.collect()
}

/// Units as typed, of air kerma and of kerma-area product.
fn units(case: &CaseRecord) -> [Option<&'static str>; 2] {
    let Beam::On(used) = case.beam() else { return [None; 2] };
    let (kerma, area) = (used.air_kerma.value(), used.kap.value());
    [kerma.map(|typed| typed.unit().label), area.map(|typed| typed.unit().label)]
}

/// Last digits as typed, of air kerma, kerma-area product and skin-to-skin time.
pub(in crate::study) fn last_digits(case: &CaseRecord) -> LastDigits {
    let minutes = case.procedure().skin_to_skin_min.value();
    let time = minutes.and_then(|minutes| LastDigit::of_time(&minutes.get().to_string()));
    let [kerma, area] = match case.beam() {
        Beam::On(used) => [
            used.air_kerma.value().and_then(|typed| LastDigit::of_dose(typed.typed())),
            used.kap.value().and_then(|typed| LastDigit::of_dose(typed.typed())),
        ],
        Beam::Off => [None; 2],
    };
    [kerma, area, time]
}

impl OwnCase {
    pub(super) fn beam_on(&self) -> bool {
        self.row.beam_on()
    }

    /// X-ray was switched on because of a complication, suspected or proven: an outcome of the
    /// case, not a failure of guidance.
    pub(super) fn for_a_complication(&self) -> bool {
        self.reasons.contains(&FluoroReason::SuspectedComplication)
    }
}
