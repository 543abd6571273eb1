//! Every class of complication in both arms, those that speak for an arm and those against it.

use super::prose::and;
use super::{ReportCase, Seen};
use crate::study::arm::ByArm;
use crate::study::cohort;
use crate::study::numerals;
use crate::study::population::Population;
use crate::study::share::arm_sizes;
use quietbeam_schema::vocabulary::{Coded, ComplicationClass, HarmTier};
use serde::Serialize;

/// Complications that began within 30 days, as intended. Description: no margin, no claim.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Harms {
    /// Cases of each arm.
    pub cases: ByArm<u32>,
    /// Every class, in the order of its list.
    pub classes: Vec<HarmLine>,
    /// The same in words.
    pub in_words: String,
}

/// One class.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct HarmLine {
    /// The class.
    pub class: ComplicationClass,
    /// Cases with a major one.
    pub major: ByArm<u32>,
    /// Cases with a minor one.
    pub minor: ByArm<u32>,
    /// Cases with one that was only seen because someone looked.
    pub imaging_only: ByArm<u32>,
}

impl Harms {
    pub(super) fn new(seen: &Seen<'_>) -> Self {
        let cases = arm_sizes(&seen.rows(), Population::AsIntended);
        let harmed: Vec<&ReportCase> =
            seen.kept().filter(|case| case.row.seen != cohort::Seen::default()).collect();
        let classes: Vec<HarmLine> =
            ComplicationClass::all().iter().map(|class| line(&harmed, *class)).collect();
        let in_words = in_words(&classes, &cases);
        Self { cases, classes, in_words }
    }
}

fn line(harmed: &[&ReportCase], class: ComplicationClass) -> HarmLine {
    let count = |tier| {
        let mut cases = ByArm::<u32>::default();
        for case in harmed.iter().filter(|case| case.row.seen.class(class, tier)) {
            if let Some(arm) = Population::AsIntended.arm(&case.row) {
                *cases.of_mut(arm) += 1;
            }
        }
        cases
    };
    HarmLine {
        class,
        major: count(HarmTier::Major),
        minor: count(HarmTier::Minor),
        imaging_only: count(HarmTier::ImagingOnly),
    }
}

fn in_words(classes: &[HarmLine], cases: &ByArm<u32>) -> String {
    let told = classes.iter().map(|line| {
        format!(
            "{} {} and {}",
            line.class.label().to_lowercase(),
            numerals::count(line.major.zero_fluoroscopy),
            numerals::count(line.major.conventional)
        )
    });
    format!(
        "Cases with a major complication within 30 days, zero-fluoroscopy ({}) and conventional ({}): {}. A case may stand in several classes.",
        numerals::count(cases.zero_fluoroscopy),
        numerals::count(cases.conventional),
        and(&told.collect::<Vec<_>>())
    )
}
