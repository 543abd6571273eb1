//! Cases that may have been entered twice under two codes.

use super::OwnCase;
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{AgeBand, ProcedureType, Sex, WeightBand};
use std::collections::HashMap;

/// Cases that agree in the quarter, the patient's age band and sex, the procedure and the
/// times. Where the beam was never on only one time can agree, and two such cases by chance
/// often do, so that there the patient's build must agree as well.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PossibleDuplicate {
    /// Their quarter.
    pub quarter: Quarter,
    /// Their procedure.
    pub procedure: ProcedureType,
    /// Their skin-to-skin time in minutes.
    pub minutes: i64,
    /// Their codes in the order of entry; two at least.
    pub codes: Vec<CaseCode>,
}

#[derive(PartialEq, Eq, Hash)]
struct Likeness {
    quarter: Quarter,
    age_band: AgeBand,
    sex: Sex,
    procedure: ProcedureType,
    minutes: i64,
    time_or_build: TimeOrBuild,
}

#[derive(PartialEq, Eq, Hash)]
enum TimeOrBuild {
    /// Fluoroscopy time, by its bits: equal is equal.
    Beam(u64),
    Dark {
        bmi: Option<u64>,
        weight_band: Option<WeightBand>,
    },
}

/// What a case has in common with its duplicate; `None` if too little is known of it.
fn likeness(case: &OwnCase) -> Option<Likeness> {
    let time_or_build = if case.beam_on() {
        TimeOrBuild::Beam(case.row.fluoro_time_s?.to_bits())
    } else {
        let (bmi, weight_band) = (case.bmi.map(f64::to_bits), case.weight_band);
        if bmi.is_none() && weight_band.is_none() {
            return None;
        }
        TimeOrBuild::Dark { bmi, weight_band }
    };
    Some(Likeness {
        quarter: case.row.period,
        age_band: case.age_band,
        sex: case.sex?,
        procedure: case.row.procedure,
        minutes: case.skin_to_skin_min?,
        time_or_build,
    })
}

/// All of them, in the order of entry.
pub(super) fn possible(cases: &[OwnCase]) -> Vec<PossibleDuplicate> {
    let mut alike = HashMap::<Likeness, Vec<usize>>::new();
    for (place, case) in cases.iter().enumerate() {
        if let Some(likeness) = likeness(case) {
            alike.entry(likeness).or_default().push(place);
        }
    }
    let mut found: Vec<(usize, PossibleDuplicate)> = alike
        .into_iter()
        .filter(|(_, places)| places.len() > 1)
        .map(|(likeness, places)| {
            let Likeness { quarter, procedure, minutes, .. } = likeness;
            let codes = places.iter().map(|place| cases[*place].code).collect();
            (places[0], PossibleDuplicate { quarter, procedure, minutes, codes })
        })
        .collect();
    found.sort_by_key(|(first, _)| *first);
    found.into_iter().map(|(_, duplicate)| duplicate).collect()
}
