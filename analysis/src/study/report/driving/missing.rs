//! Outcomes that nobody learnt: how far they could move the crude difference, and whether they
//! could turn what it says.

use crate::methods::interval::{Confidence, Interval, RatioInterval};
use crate::methods::missing_outcomes::{
    Deciding, DecisionRule, PartlySeen, PartlySeenArms, Scenario, TippingBorder, best_case, tipping_border,
    worst_case,
};
use crate::methods::standardisation::RatioOf;
use crate::study::arm::ByArm;
use crate::study::numerals;
use crate::study::plan::{PlannedEndpoint, PlannedMargin};
use crate::study::planned::PlannedResult;
use crate::study::tally::Tally;
use serde::Serialize;

/// The missing outcomes turned one way and the other. By the crude effect on the scale of the margin,
/// as intended, with the limits of Miettinen and Nurminen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tipping {
    /// Cases whose outcome is missing.
    pub missing: ByArm<u32>,
    /// Where they turn the decision; absent without cases in both arms.
    #[serde(flatten)]
    pub turned: Option<Turned>,
    /// The same in words.
    pub in_words: String,
}

/// How far the missing outcomes reach, on the scale of the margin.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Turned {
    /// Of the difference, by events.
    #[serde(rename = "turned")]
    Difference(Reaching<Interval>),
    /// Of the ratio, by what nobody wants.
    #[serde(rename = "turned_ratio")]
    Ratio(Reaching<RatioInterval>),
}

/// From one end to the other.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reaching<I> {
    /// As bad for zero-fluoroscopy as they can be.
    pub worst: Scenario<I>,
    /// As good as they can be.
    pub best: Scenario<I>,
    /// Where they turn the decision.
    pub border: TippingBorder,
}

impl Tipping {
    pub(super) fn new(result: &PlannedResult, planned: &PlannedEndpoint, level: Confidence) -> Self {
        let arms = result.as_intended.crude.arms.map(|arm| arm.tally);
        let missing = arms.map(|tally| tally.missing);
        let both = |events: fn(&Tally) -> u32| {
            let partly = |tally: &Tally| PartlySeen::new(events(tally), tally.known, tally.missing).ok();
            let arms = partly(&arms.zero_fluoroscopy).zip(partly(&arms.conventional));
            arms.map(|(first, second)| PartlySeenArms { first, second })
        };
        let turned = match planned.margin {
            PlannedMargin::Difference(margin) => both(|tally| tally.events)
                .map(|arms| Reaching::by(arms, DecisionRule::miettinen_nurminen(level, margin)))
                .map(Turned::Difference),
            PlannedMargin::Ratio(margin) => {
                let unwanted: fn(&Tally) -> u32 = match planned.endpoint.unwanted() {
                    RatioOf::Event => |tally| tally.events,
                    RatioOf::NoEvent => |tally| tally.known - tally.events,
                };
                both(unwanted)
                    .map(|arms| Reaching::by(arms, DecisionRule::miettinen_nurminen_ratio(level, margin)))
                    .map(Turned::Ratio)
            }
        };
        Self { missing, in_words: in_words(&missing, turned.as_ref()), turned }
    }
}

impl<I: Copy> Reaching<I> {
    fn by<M: Deciding<Interval = I>>(arms: PartlySeenArms, rule: DecisionRule<M>) -> Self {
        Self {
            worst: worst_case(arms, rule),
            best: best_case(arms, rule),
            border: tipping_border(arms, rule),
        }
    }
}

fn in_words(missing: &ByArm<u32>, turned: Option<&Turned>) -> String {
    let (border, crude) = match turned {
        Some(Turned::Difference(reaching)) => (&reaching.border, "the crude difference"),
        Some(Turned::Ratio(reaching)) => (&reaching.border, "the crude ratio"),
        None => return "An arm has no case, so there is nothing to turn.".to_owned(),
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
        return format!("{told}; whatever they were, non-inferiority by {crude} {always}.");
    }
    format!(
        "{told}; with {} of the {} ways they may have turned out, non-inferiority by {crude} is shown.",
        numerals::count(border.combinations_shown),
        numerals::count(border.combinations)
    )
}
