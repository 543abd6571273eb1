//! One endpoint in one population: counts, proportions, differences.

use super::arm::ByArm;
use super::effect::Effect;
use super::endpoint::Endpoint;
use super::estimate::Estimate;
use super::plan::PlannedMargin;
use super::tally::{Tally, stratum, two_arms};
use super::unwanted::RatioOfUnwanted;
use crate::methods::counts::{EventCount, Stratum, TwoArms};
use crate::methods::difference::newcombe_interval;
use crate::methods::interval::{Confidence, Interval, NotEstimable};
use crate::methods::non_inferiority::Margin;
use crate::methods::proportion::{clopper_pearson_interval, wilson_interval};
use crate::methods::score::{farrington_manning_test, miettinen_nurminen_interval};
use crate::methods::stratified_score::stratified_miettinen_nurminen_interval;
use quietbeam_schema::vocabulary::MarginScale;
use serde::Serialize;

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
