//! Cases whose outcome is missing: how far they could move a difference, and where they
//! would turn the decision.

use serde::{Deserialize, Serialize};

use super::counts::{CountError, EventCount, TwoArms};
use super::difference::newcombe_interval;
use super::interval::{Arm, Confidence, Interval, NotEstimable, RatioInterval};
use super::non_inferiority::{Conclusion, Margin, decide};
use super::ratio::miettinen_nurminen_ratio_interval;
use super::ratio_margin::{RatioMargin, decide_ratio};
use super::score::{mee_interval, miettinen_nurminen_interval};

/// Why three numbers are not an arm with missing outcomes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PartlySeenError {
    /// The cases with a known outcome, or all cases, are no count.
    #[error(transparent)]
    Count(#[from] CountError),
    /// Together more cases than can be counted.
    #[error("{seen} cases with and {missing} without an outcome are more than 4294967295")]
    TooMany {
        /// Cases with a known outcome.
        seen: u32,
        /// Cases without.
        missing: u32,
    },
}

/// One arm in which the outcome of some cases is missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PartlySeen {
    /// All cases, with the events that are known.
    known: EventCount,
    missing: u32,
}

impl PartlySeen {
    /// `events` among the `seen` cases whose outcome is known, and `missing` cases more.
    ///
    /// # Errors
    /// More events than cases seen, no case at all, or too many to count.
    pub fn new(events: u32, seen: u32, missing: u32) -> Result<Self, PartlySeenError> {
        let all = seen.checked_add(missing).ok_or(PartlySeenError::TooMany { seen, missing })?;
        EventCount::if_any(events, seen)?;
        Ok(Self { known: EventCount::new(events, all)?, missing })
    }

    /// Cases whose outcome is missing.
    pub fn missing(self) -> u32 {
        self.missing
    }

    /// Only the cases whose outcome is known, if there are any.
    pub fn seen(self) -> Option<EventCount> {
        EventCount::new(self.known.events(), self.known.total() - self.missing).ok()
    }

    /// All cases, if `events` of the missing outcomes were events, at most all of them.
    pub fn completed_with(self, events: u32) -> EventCount {
        EventCount::of_same_total(self.known, self.known.events() + events.min(self.missing))
    }
}

/// Two arms in which the outcome of some cases is missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PartlySeenArms {
    /// The arm whose name stands first in the comparison.
    pub first: PartlySeen,
    /// The arm it is compared with.
    pub second: PartlySeen,
}

impl PartlySeenArms {
    /// Only the cases whose outcome is known.
    ///
    /// # Errors
    /// An arm in which every outcome is missing.
    pub fn seen(self) -> Result<TwoArms, NotEstimable> {
        let of = |arm: PartlySeen, name| arm.seen().ok_or(NotEstimable::EmptyArm { arm: name });
        Ok(TwoArms { first: of(self.first, Arm::First)?, second: of(self.second, Arm::Second)? })
    }
}

/// A margin with the kind of interval that is held against it.
pub trait Deciding: Copy {
    /// The interval on its scale.
    type Interval: Copy;

    /// What an interval says against it.
    fn conclusion(self, interval: Self::Interval) -> Conclusion;

    /// Whether events are wanted, so that the margin lies below no effect.
    fn is_of_benefit(self) -> bool;
}

impl Deciding for Margin {
    type Interval = Interval;

    fn conclusion(self, interval: Interval) -> Conclusion {
        decide(&Ok(interval), self)
    }

    fn is_of_benefit(self) -> bool {
        matches!(self, Self::Benefit(_))
    }
}

impl Deciding for RatioMargin {
    type Interval = RatioInterval;

    fn conclusion(self, interval: RatioInterval) -> Conclusion {
        decide_ratio(&Ok(interval), self)
    }

    fn is_of_benefit(self) -> bool {
        self.null_ratio().ratio() < 1.0
    }
}

/// How non-inferiority is decided: a named interval, its level and the margin.
///
/// Only methods whose limits never fall as the first arm gains an event, nor rise as the
/// second does, are offered: with others (Wald at empty cells) the extreme cases are not the
/// worst ones and there is no border.
#[derive(Clone, Copy, Debug)]
pub struct DecisionRule<M: Deciding = Margin> {
    interval: fn(TwoArms, Confidence) -> M::Interval,
    level: Confidence,
    margin: M,
}

impl DecisionRule<RatioMargin> {
    /// Decide by the Miettinen–Nurminen interval of the ratio.
    pub fn miettinen_nurminen_ratio(level: Confidence, margin: RatioMargin) -> Self {
        Self { interval: miettinen_nurminen_ratio_interval, level, margin }
    }
}

impl DecisionRule {
    /// Decide by the Miettinen–Nurminen interval.
    pub fn miettinen_nurminen(level: Confidence, margin: Margin) -> Self {
        Self { interval: miettinen_nurminen_interval, level, margin }
    }

    /// Decide by Mee's interval.
    pub fn mee(level: Confidence, margin: Margin) -> Self {
        Self { interval: mee_interval, level, margin }
    }

    /// Decide by Newcombe's hybrid score interval.
    pub fn newcombe(level: Confidence, margin: Margin) -> Self {
        Self { interval: newcombe_interval, level, margin }
    }
}

impl<M: Deciding> DecisionRule<M> {
    /// What the rule says if of the missing outcomes these numbers were events.
    fn scenario(self, arms: PartlySeenArms, first: u32, second: u32) -> Scenario<M::Interval> {
        let completed =
            TwoArms { first: arms.first.completed_with(first), second: arms.second.completed_with(second) };
        let interval = (self.interval)(completed, self.level);
        Scenario {
            missing_events_first: first,
            missing_events_second: second,
            interval,
            conclusion: self.margin.conclusion(interval),
        }
    }

    fn is_shown(self, arms: PartlySeenArms, first: u32, second: u32) -> bool {
        self.scenario(arms, first, second).conclusion == Conclusion::Shown
    }
}

/// One way the missing outcomes may have turned out.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Scenario<I = Interval> {
    /// Events among the missing outcomes of the first arm.
    pub missing_events_first: u32,
    /// Events among the missing outcomes of the second arm.
    pub missing_events_second: u32,
    /// Difference (first − second) or ratio (first / second) of all cases with its limits.
    pub interval: I,
    /// What this interval says against the margin.
    pub conclusion: Conclusion,
}

/// The missing outcomes as bad for the first arm as they can be.
///
/// Formula: harm: every missing outcome of the first arm an event, none of the second; benefit:
/// none of the first, every one of the second. No other outcomes give a worse estimate or limit.
/// Units: differences of proportions, first − second; ratios, first / second.
/// Edges: with nothing missing it is the plain interval; all outcomes missing is ordinary input.
/// Source: [hollis2002], [horowitz_manski2000].
/// Checked: tests/numbers/missing_outcomes.csv.
pub fn worst_case<M: Deciding>(arms: PartlySeenArms, rule: DecisionRule<M>) -> Scenario<M::Interval> {
    if rule.margin.is_of_benefit() {
        rule.scenario(arms, 0, arms.second.missing)
    } else {
        rule.scenario(arms, arms.first.missing, 0)
    }
}

/// The missing outcomes as good for the first arm as they can be.
///
/// Formula: harm: no missing outcome of the first arm an event, every one of the second;
/// benefit: every one of the first, none of the second.
/// Units: differences of proportions, first − second; ratios, first / second.
/// Edges: as the worst case.
/// Source: [hollis2002], [horowitz_manski2000].
/// Checked: tests/numbers/missing_outcomes.csv.
pub fn best_case<M: Deciding>(arms: PartlySeenArms, rule: DecisionRule<M>) -> Scenario<M::Interval> {
    if rule.margin.is_of_benefit() {
        rule.scenario(arms, arms.first.missing, 0)
    } else {
        rule.scenario(arms, 0, arms.second.missing)
    }
}

/// With which events among the missing outcomes of the second arm non-inferiority is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "shown", content = "events", rename_all = "snake_case")]
pub enum ShownWith {
    /// With none of the possible numbers.
    Never,
    /// With every possible number.
    Always,
    /// With at least so many events (harm).
    AtLeast(u32),
    /// With at most so many events (benefit).
    AtMost(u32),
}

/// Where the missing outcomes turn the decision.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TippingBorder {
    /// One entry for each number of events, from 0, among the missing outcomes of the first arm.
    pub by_missing_events_first: Vec<ShownWith>,
    /// Combinations of missing events with which non-inferiority is shown.
    pub combinations_shown: u64,
    /// All combinations.
    pub combinations: u64,
}

impl TippingBorder {
    /// Is the decision the same whatever the missing outcomes were?
    pub fn nothing_tips(&self) -> bool {
        self.combinations_shown == 0 || self.combinations_shown == self.combinations
    }
}

/// Tipping point over missing outcomes.
///
/// Formula: for i = 0 … missing in the first arm, the numbers of events j among the missing
/// of the second arm with which the completed counts show non-inferiority. As the limits rise
/// with i and fall with j the border only climbs, so missing1 + missing2 + 2 intervals find it.
/// Units: counts of cases.
/// Edges: nothing missing gives one combination; all outcomes missing is ordinary input.
/// Source: [yan_lee_li2009].
/// Checked: tests/numbers/missing_outcomes.csv.
pub fn tipping_border<M: Deciding>(arms: PartlySeenArms, rule: DecisionRule<M>) -> TippingBorder {
    let (missing_first, missing_second) = (arms.first.missing, arms.second.missing);
    let columns = u64::from(missing_second) + 1;
    // Below the edge a benefit is shown; from the edge on a harm is.
    let shown_below = rule.margin.is_of_benefit();
    let (mut edge, mut combinations_shown) = (0, 0);
    let mut by_missing_events_first = Vec::new();
    for first in 0..=missing_first {
        while let Ok(second) = u32::try_from(edge)
            && second <= missing_second
            && rule.is_shown(arms, first, second) == shown_below
        {
            edge += 1;
        }
        combinations_shown += if shown_below { edge } else { columns - edge };
        by_missing_events_first.push(shown_with(edge, columns, shown_below));
    }
    TippingBorder {
        by_missing_events_first,
        combinations_shown,
        combinations: (u64::from(missing_first) + 1) * columns,
    }
}

/// `edge` counts the numbers below it, of `columns` possible numbers from 0.
fn shown_with(edge: u64, columns: u64, shown_below: bool) -> ShownWith {
    let (none, all) = if shown_below { (0, columns) } else { (columns, 0) };
    if edge == none {
        return ShownWith::Never;
    }
    if edge == all {
        return ShownWith::Always;
    }
    // Neither end: the edge lies between 1 and the number of missing outcomes.
    let events = u32::try_from(edge).unwrap_or(u32::MAX);
    if shown_below { ShownWith::AtMost(events - 1) } else { ShownWith::AtLeast(events) }
}
