//! Outcomes that nobody learnt: how far they could move the crude difference, and whether they
//! could turn what it says.

use crate::methods::interval::Confidence;
use crate::methods::missing_outcomes::{
    DecisionRule, PartlySeen, PartlySeenArms, Scenario, TippingBorder, best_case, tipping_border, worst_case,
};
use crate::study::endpoint::Tally;
use crate::study::numerals;
use crate::study::plan::PlannedEndpoint;
use crate::study::planned::PlannedResult;
use crate::study::population::ByArm;
use serde::Serialize;

/// The missing outcomes turned one way and the other. By the crude difference, as intended, with
/// the limits of Miettinen and Nurminen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tipping {
    /// Cases whose outcome is missing.
    pub missing: ByArm<u32>,
    /// Where they turn the decision; absent without cases in both arms.
    pub turned: Option<Turned>,
    /// The same in words.
    pub in_words: String,
}

/// How far the missing outcomes reach.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Turned {
    /// As bad for zero-fluoroscopy as they can be.
    pub worst: Scenario,
    /// As good as they can be.
    pub best: Scenario,
    /// Where they turn the decision.
    pub border: TippingBorder,
}

impl Tipping {
    pub(super) fn new(result: &PlannedResult, planned: &PlannedEndpoint, level: Confidence) -> Self {
        let arms = result.as_intended.crude.arms.map(|arm| arm.tally);
        let missing = arms.map(|tally| tally.missing);
        let partly = |tally: &Tally| PartlySeen::new(tally.events, tally.known, tally.missing).ok();
        let both = partly(&arms.zero_fluoroscopy).zip(partly(&arms.conventional));
        let rule = DecisionRule::miettinen_nurminen(level, planned.margin);
        let turned = both.map(|(first, second)| {
            let arms = PartlySeenArms { first, second };
            Turned {
                worst: worst_case(arms, rule),
                best: best_case(arms, rule),
                border: tipping_border(arms, rule),
            }
        });
        Self { missing, in_words: in_words(&missing, turned.as_ref()), turned }
    }
}

fn in_words(missing: &ByArm<u32>, turned: Option<&Turned>) -> String {
    let Some(Turned { border, .. }) = turned else {
        return "An arm has no case, so there is nothing to turn.".to_owned();
    };
    let all = missing.zero_fluoroscopy + missing.conventional;
    if all == 0 {
        return "No outcome is missing.".to_owned();
    }
    let told = format!(
        "The outcome of {} zero-fluoroscopy and {} conventional cases is missing",
        numerals::count(missing.zero_fluoroscopy),
        numerals::count(missing.conventional)
    );
    if border.nothing_tips() {
        let always = if border.combinations_shown == 0 { "is not shown" } else { "is shown" };
        return format!("{told}; whatever they were, non-inferiority by the crude difference {always}.");
    }
    format!(
        "{told}; with {} of the {} ways they may have turned out, non-inferiority by the crude difference is shown.",
        numerals::count(border.combinations_shown),
        numerals::count(border.combinations)
    )
}
