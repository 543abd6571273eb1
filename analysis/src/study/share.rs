//! Cases of an arm, and shares of them.

use super::arm::ByArm;
use super::cohort::CaseRow;
use super::estimate::Estimate;
use super::population::Population;
use super::tally::{Tally, two_arms};
use crate::methods::counts::EventCount;
use crate::methods::interval::{Confidence, Interval};
use crate::methods::proportion::wilson_interval;
use crate::methods::score::miettinen_nurminen_interval;
use serde::Serialize;

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
