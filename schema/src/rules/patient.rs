//! Facts about the patient against each other.

use super::{Rule, hard, query, whole};
use crate::case::CaseRecord;
use crate::reported::Reported;
use crate::vocabulary::{AgeBand, Sex, YesNo};

pub(super) const RULES: &[Rule<CaseRecord>] = &[
    hard("pregnancy_possible", &["pregnant", "sex", "age_band"], |case, _| {
        let patient = case.patient();
        let possible_age = matches!(
            patient.age_band,
            AgeBand::Y12To17 | AgeBand::Y18To29 | AgeBand::Y30To39 | AgeBand::Y40To49 | AgeBand::Y50To59
        );
        let male = patient.sex == Reported::Value(Sex::Male);
        (patient.pregnant.is(|answer| *answer == YesNo::Yes) && (male || !possible_age)).then(|| {
            "Pregnancy does not fit the sex or the age band given; correct one of the three.".to_owned()
        })
    }),
    query("pregnancy_confirmed", &["pregnant"], |case, _| {
        case.patient()
            .pregnant
            .is(|answer| *answer == YesNo::Yes)
            .then(|| "A procedure in pregnancy is rare; confirm that it is right.".to_owned())
    }),
    query("stroke_score_fits_age", &["chads_va", "age_band"], |case, _| {
        let score = whole(&case.patient().chads_va)?;
        let least = least_score_of_age(case.patient().age_band);
        (score < least).then(|| format!(
            "A CHA2DS2-VA score of {score} is too low for this age band, which alone gives {least}; correct one of the two."
        ))
    }),
    query("stroke_scores_agree", &["chads_vasc", "chads_va"], |case, _| {
        let (newer, older) = (whole(&case.patient().chads_va)?, whole(&case.patient().chads_vasc)?);
        let difference = older - newer;
        let male = case.patient().sex == Reported::Value(Sex::Male);
        (!(0..=1).contains(&difference) || (difference == 1 && male)).then(|| {
            "The two stroke scores differ by something other than the point for women; correct one of them.".to_owned()
        })
    }),
];

/// Points that age alone gives: 1 from 65 to 74, 2 from 75 on (CHA2DS2-VA, 2024
/// European guideline on atrial fibrillation); bands that straddle a limit
/// give the smaller number.
fn least_score_of_age(band: AgeBand) -> i64 {
    match band {
        AgeBand::Y80To89 | AgeBand::Y90Plus => 2,
        AgeBand::Y70To79 => 1,
        _ => 0,
    }
}
