//! Dose in two parts, by intended strategy: the share without X-ray, and the doses of the others.
//! An average over both would hide each.

use super::super::Seen;
use crate::study::arm::{Arm, ByArm};
use crate::study::cohort::CaseRow;
use crate::study::numerals::{count, measured, percent};
use crate::study::own_picture::DoseSpread;
use crate::study::population::Population;
use serde::Serialize;

/// Both arms.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DoseInTwoParts {
    /// Each arm as intended.
    pub arms: ByArm<DoseSpread>,
    /// The same in words.
    pub in_words: String,
}

impl DoseInTwoParts {
    pub(in super::super) fn new(seen: &Seen<'_>) -> Self {
        let rows: Vec<&CaseRow> = seen.rows();
        let of = |arm| rows.iter().copied().filter(move |row| Population::AsIntended.arm(row) == Some(arm));
        let arms = ByArm::from_fn(|arm| DoseSpread::of(of(arm)));
        let told: Vec<String> = arms.each().into_iter().map(|(arm, spread)| in_words(arm, spread)).collect();
        Self { arms, in_words: told.join(" ") }
    }
}

fn in_words(arm: Arm, spread: &DoseSpread) -> String {
    let without = match spread.no_x_ray.and_then(|share| share.proportion) {
        Some(share) => {
            format!("{} of {} cases had no X-ray", percent(share.estimate, 1), count(spread.cases))
        }
        None => "too few cases to say how many had no X-ray".to_owned(),
    };
    let others = match &spread.air_kerma_mgy {
        Some(doses) => format!(
            "of the {} others that report air kerma half stayed below {} mGy",
            count(doses.reported),
            measured(doses.median.estimate)
        ),
        None => "too few others report air kerma for a median".to_owned(),
    };
    format!("In the {} arm {without}; {others}.", arm.name())
}
