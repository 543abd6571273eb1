//! One endpoint in two arms: counts, proportions, differences.

use super::cohort::CaseRow;
use super::effect::Effect;
use super::plan::PlannedMargin;
use super::population::{ByArm, Population};
use super::request::ComparisonRequest;
use super::tally::{Tally, stratum};
use super::unwanted::RatioOfUnwanted;
use crate::methods::counts::{EventCount, Stratum, TwoArms};
use crate::methods::difference::newcombe_interval;
use crate::methods::interval::{self, Confidence, Interval, NotEstimable};
use crate::methods::non_inferiority::{Margin, MarginSize};
use crate::methods::proportion::{clopper_pearson_interval, wilson_interval};
use crate::methods::score::{farrington_manning_test, miettinen_nurminen_interval};
use crate::methods::stratified_score::stratified_miettinen_nurminen_interval;
use quietbeam_schema::vocabulary::{AcuteSuccess, MarginScale};
use serde::{Deserialize, Serialize, Serializer};

/// An endpoint with a margin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Endpoint {
    /// The endpoint that belongs to the procedure was shown in full; partial success is failure.
    AcuteSuccess,
    /// A major complication or death within 30 days, whatever showed it.
    // The other spelling stands in what was kept before both were one.
    #[serde(rename = "major_within_30_days", alias = "major_within30_days")]
    MajorWithin30Days,
    /// A major complication or death before the patient left the hospital, whatever showed it.
    MajorBeforeDischarge,
}

/// What one case says about an endpoint.
pub(super) enum Outcome {
    Event,
    NoEvent,
    Unknown,
    /// Nothing was attempted, so there is nothing to succeed or fail.
    NotAttempted,
}

impl Endpoint {
    /// All endpoints.
    pub const ALL: [Self; 3] = [Self::AcuteSuccess, Self::MajorWithin30Days, Self::MajorBeforeDischarge];

    /// The name in a table.
    pub fn label(self) -> &'static str {
        match self {
            Self::AcuteSuccess => "Acute success",
            Self::MajorWithin30Days => "Major complications within 30 days",
            Self::MajorBeforeDischarge => "Major complications before discharge",
        }
    }

    /// As written in plans and JSON.
    pub fn code(self) -> &'static str {
        match self {
            Self::AcuteSuccess => "acute_success",
            Self::MajorWithin30Days => "major_within_30_days",
            Self::MajorBeforeDischarge => "major_before_discharge",
        }
    }

    /// Reads a code in upper or lower case.
    pub fn from_code(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|endpoint| endpoint.code().eq_ignore_ascii_case(text.trim()))
    }

    /// The codes, for a sentence.
    pub fn codes_joined() -> String {
        Self::ALL.map(Self::code).join(", ")
    }

    /// On which side zero-fluoroscopy would be worse: `lower` or `higher`. A ratio is of what nobody
    /// wants.
    pub fn worse_when(self, scale: MarginScale) -> &'static str {
        if self.is_harm() || scale == MarginScale::RiskRatio { "higher" } else { "lower" }
    }

    /// A margin on the side that the endpoint demands.
    pub fn margin_of(self, size: MarginSize) -> Margin {
        if self.is_harm() { Margin::Harm(size) } else { Margin::Benefit(size) }
    }

    /// The margin that was asked.
    pub fn margin(self, request: &ComparisonRequest) -> Margin {
        self.margin_of(if self.is_harm() { request.major_harm_margin() } else { request.success_margin() })
    }

    /// Whether a case had the event; `None` when it is not known or nothing was attempted.
    pub(super) fn event(self, case: &CaseRow) -> Option<bool> {
        match self.outcome(case) {
            Outcome::Event => Some(true),
            Outcome::NoEvent => Some(false),
            Outcome::Unknown | Outcome::NotAttempted => None,
        }
    }

    pub(super) fn outcome(self, case: &CaseRow) -> Outcome {
        let harm = |had| match had {
            Some(true) => Outcome::Event,
            Some(false) => Outcome::NoEvent,
            None => Outcome::Unknown,
        };
        match self {
            Self::AcuteSuccess => match case.acute_success {
                Some(AcuteSuccess::Yes) => Outcome::Event,
                Some(AcuteSuccess::Partial | AcuteSuccess::No) => Outcome::NoEvent,
                Some(AcuteSuccess::NotAttempted) => Outcome::NotAttempted,
                None => Outcome::Unknown,
            },
            Self::MajorWithin30Days => harm(case.major_within_30_days),
            Self::MajorBeforeDischarge => harm(case.major_before_discharge),
        }
    }
}

/// Something estimated, or the reason why it cannot be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Estimate<T> {
    /// The estimate.
    Estimated(T),
    /// Why there is none; written as a sentence.
    #[serde(serialize_with = "write_reason")]
    CannotBeEstimated(NotEstimable),
}

/// Writes why something cannot be estimated as a sentence that names the arms.
pub(super) fn write_reason<S: Serializer>(why: &NotEstimable, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(&reason_in_words(*why))
}

/// Why something cannot be estimated, with the arms by their names.
pub fn reason_in_words(why: NotEstimable) -> String {
    if let NotEstimable::SeparatedByColumn { .. } = why {
        // A reader knows no columns; the adjustment names the variable.
        return "one variable of the model alone separates events from non-events: no finite estimate exists"
            .to_owned();
    }
    why.to_string()
        .replace("first arm", "zero-fluoroscopy arm")
        .replace("second arm", "conventional arm")
        .replace("stratum", "centre or group of one")
}

impl<T> From<Result<T, NotEstimable>> for Estimate<T> {
    fn from(result: Result<T, NotEstimable>) -> Self {
        match result {
            Ok(estimate) => Self::Estimated(estimate),
            Err(why) => Self::CannotBeEstimated(why),
        }
    }
}

impl<T> Estimate<T> {
    /// The estimate, if there is one.
    pub fn estimated(&self) -> Option<&T> {
        match self {
            Self::Estimated(estimate) => Some(estimate),
            Self::CannotBeEstimated(_) => None,
        }
    }

    /// The estimate, or why there is none.
    pub(super) fn result(self) -> Result<T, NotEstimable> {
        match self {
            Self::Estimated(estimate) => Ok(estimate),
            Self::CannotBeEstimated(why) => Err(why),
        }
    }
}

/// One endpoint in one arm.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ArmResult {
    /// The counts.
    #[serde(flatten)]
    pub tally: Tally,
    /// Events among the known, with Wilson limits; absent without a known outcome.
    pub proportion: Option<Interval>,
    /// Clopper–Pearson limits where no case or every case had the event: none
    /// seen is not none possible.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub exact: Option<Interval>,
}

impl ArmResult {
    fn new(tally: Tally, level: Confidence) -> Self {
        let count = tally.count();
        let extreme = |count: &EventCount| count.events() == 0 || count.non_events() == 0;
        Self {
            tally,
            proportion: count.map(|count| wilson_interval(count, level)),
            exact: count.filter(extreme).map(|count| clopper_pearson_interval(count, level)),
        }
    }
}

/// A difference of proportions (zero-fluoroscopy − conventional).
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Difference {
    /// By the method that decides.
    pub miettinen_nurminen: Interval,
    /// By Newcombe's method, beside it.
    pub newcombe: Interval,
    /// Within centres only, so that a centre's own level cancels; within the procedure groups of each
    /// where the plan says so.
    pub within_centres: Estimate<WithinCentres>,
    /// The one-sided test at the margin, where that is a difference.
    pub test_at_margin: Option<TestAtMargin>,
}

/// The common difference within centres, by Miettinen and Nurminen with
/// Mantel–Haenszel weights.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct WithinCentres {
    /// The difference.
    pub interval: Interval,
    /// Strata with cases in both arms.
    pub strata_used: usize,
    /// Strata with cases in one arm only, which say nothing about a difference.
    pub strata_left_out: usize,
}

impl WithinCentres {
    fn left_out_in_words(&self) -> Option<String> {
        let all = self.strata_used + self.strata_left_out;
        (self.strata_left_out > 0).then(|| {
            let have = if self.strata_left_out == 1 { "has" } else { "have" };
            format!("{} of {all} strata {have} cases in one arm only and tell nothing", self.strata_left_out)
        })
    }
}

/// The test of Farrington and Manning that the difference is beyond the margin.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TestAtMargin {
    /// The difference under test.
    pub at_difference: f64,
    /// Standardised distance from it.
    pub z: f64,
    /// One-sided p value; small when the difference lies on the acceptable side.
    pub p_one_sided: f64,
}

/// One endpoint in one population.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PopulationResult {
    /// Each arm.
    pub arms: ByArm<ArmResult>,
    /// The difference between them.
    pub difference: Estimate<Difference>,
    /// Their ratio.
    pub ratio: RatioOfUnwanted,
}

impl PopulationResult {
    /// Estimates from the tallies of the strata.
    pub(super) fn new(
        strata: &[ByArm<Tally>],
        endpoint: Endpoint,
        margin: PlannedMargin,
        level: Confidence,
    ) -> Self {
        let mut total = ByArm::<Tally>::default();
        for tallies in strata {
            total.zero_fluoroscopy.join(tallies.zero_fluoroscopy);
            total.conventional.join(tallies.conventional);
        }
        let arms = total.map(|tally| ArmResult::new(*tally, level));
        let difference = two_arms(&total).and_then(|two| difference(two, strata, margin, level));
        let ratio = RatioOfUnwanted::new(strata, &total, endpoint, level);
        Self { arms, difference: difference.into(), ratio }
    }

    /// The interval that decides.
    pub(super) fn deciding(&self) -> Result<Interval, NotEstimable> {
        self.difference.result().map(|difference| difference.miettinen_nurminen)
    }

    /// All centres thrown together, on a scale.
    pub(super) fn crude_effect(&self, scale: MarginScale) -> Effect {
        Effect::on(scale, self.deciding(), self.ratio.miettinen_nurminen)
    }

    /// Within centres, on a scale.
    pub(super) fn effect_within_centres(&self, scale: MarginScale) -> Effect {
        Effect::on(scale, self.within_centres(), self.ratio.within_centres)
    }

    /// The difference within centres.
    ///
    /// # Errors
    /// Why it cannot be estimated.
    pub fn within_centres(&self) -> Result<Interval, NotEstimable> {
        self.difference.result()?.within_centres.result().map(|within| within.interval)
    }

    /// How many strata tell nothing of a difference, as a part of a sentence; `None` where all tell
    /// something or nothing can be estimated.
    pub fn strata_left_out_in_words(&self) -> Option<String> {
        self.difference.estimated()?.within_centres.estimated()?.left_out_in_words()
    }
}

pub(super) fn two_arms(total: &ByArm<Tally>) -> Result<TwoArms, NotEstimable> {
    let count = |tally: &Tally, arm| tally.count().ok_or(NotEstimable::EmptyArm { arm });
    Ok(TwoArms {
        first: count(&total.zero_fluoroscopy, interval::Arm::First)?,
        second: count(&total.conventional, interval::Arm::Second)?,
    })
}

fn difference(
    two: TwoArms,
    strata: &[ByArm<Tally>],
    margin: PlannedMargin,
    level: Confidence,
) -> Result<Difference, NotEstimable> {
    let at_margin = |margin: Margin| {
        let test = farrington_manning_test(two, margin.null_difference());
        let (at_difference, z) = (test.null.difference(), test.z);
        margin.one_sided_p(&test).map(|p_one_sided| TestAtMargin { at_difference, z, p_one_sided })
    };
    Ok(Difference {
        miettinen_nurminen: miettinen_nurminen_interval(two, level),
        newcombe: newcombe_interval(two, level),
        within_centres: within_centres(strata, level).into(),
        test_at_margin: match margin {
            PlannedMargin::Difference(margin) => at_margin(margin),
            PlannedMargin::Ratio(_) => None,
        },
    })
}

fn within_centres(tallies: &[ByArm<Tally>], level: Confidence) -> Result<WithinCentres, NotEstimable> {
    let strata: Vec<Stratum> = tallies.iter().map(stratum).collect();
    let common = stratified_miettinen_nurminen_interval(&strata, level)?;
    let strata_left_out = common.left_out();
    Ok(WithinCentres {
        interval: common.interval,
        strata_used: strata.len() - strata_left_out,
        strata_left_out,
    })
}

/// A count out of cases, with Wilson limits where there are cases.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Share {
    /// How many.
    pub count: u32,
    /// Of how many cases.
    pub of: u32,
    /// Their proportion; absent without cases.
    pub proportion: Option<Interval>,
}

impl Share {
    pub(super) fn new(count: u32, of: u32, level: Confidence) -> Self {
        let proportion = EventCount::if_any(count, of).ok().flatten().map(|c| wilson_interval(c, level));
        Self { count, of, proportion }
    }

    /// Counts the cases of each arm that satisfy a test.
    pub(super) fn by_arm(
        rows: &[&CaseRow],
        level: Confidence,
        of: impl Fn(&CaseRow) -> bool,
        test: impl Fn(&CaseRow) -> bool,
    ) -> ByArm<Self> {
        let mut counts = ByArm::<(u32, u32)>::default();
        for case in rows.iter().filter(|case| of(case)) {
            if let Some(arm) = Population::AsIntended.arm(case) {
                let (hits, cases) = counts.of_mut(arm);
                *cases += 1;
                *hits += u32::from(test(case));
            }
        }
        counts.map(|(hits, cases)| Self::new(*hits, *cases, level))
    }
}

/// The difference between two shares, by the method that decides elsewhere.
pub(super) fn share_difference(shares: &ByArm<Share>, level: Confidence) -> Estimate<Interval> {
    let tally = |share: &Share| Tally { known: share.of, events: share.count, ..Tally::default() };
    two_arms(&shares.map(tally)).map(|two| miettinen_nurminen_interval(two, level)).into()
}

/// Cases of each arm.
pub(super) fn arm_sizes(rows: &[&CaseRow], population: Population) -> ByArm<u32> {
    let mut sizes = ByArm::default();
    for arm in rows.iter().filter_map(|case| population.arm(case)) {
        *sizes.of_mut(arm) += 1;
    }
    sizes
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::Endpoint;

    #[test]
    fn an_endpoint_is_written_by_its_code_and_read_by_what_stood_there_before() {
        for endpoint in Endpoint::ALL {
            assert_eq!(serde_json::to_value(endpoint).unwrap(), endpoint.code());
        }
        let before: Endpoint = serde_json::from_str("\"major_within30_days\"").unwrap();
        assert_eq!(before, Endpoint::MajorWithin30Days);
    }
}
