//! Pericardial effusion by what showed it and by whether anyone looked, shown
//! beside the endpoint that does not depend on looking.

use super::arm::{Arm, ByArm};
use super::cohort::{CaseRow, Effusion, Looked};
use super::estimate::Estimate;
use super::population::Population;
use super::share::{Share, share_difference};
use crate::methods::interval::{Confidence, Interval};
use quietbeam_schema::vocabulary::{Coded, DetectedBy};
use serde::Serialize;

/// Pericardial effusion within 30 days, as intended. Description: no margin, no claim.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EffusionComparison {
    /// Cases with any effusion reported.
    pub any: ByArm<Share>,
    /// Difference of that share (zero-fluoroscopy − conventional).
    pub any_difference: Estimate<Interval>,
    /// Cases whose effusion was drained.
    pub drained: ByArm<Share>,
    /// What showed it first; routes that showed none are left out.
    pub by_route: Vec<RouteLine>,
    /// Cases in which someone looked with echo without being prompted.
    pub looked_with_echo: ByArm<Share>,
    /// Effusions among those in whom someone looked, nobody looked, or nobody knows.
    pub by_look: Vec<LookLine>,
    /// Why this differs from major complications.
    pub why_it_differs: String,
}

/// Effusions first shown by one route.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RouteLine {
    /// The route; absent where it was not stated.
    pub detected_by: Option<DetectedBy>,
    /// Cases of each arm.
    pub cases: ByArm<u32>,
}

/// Effusions among cases that were looked at alike.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LookLine {
    /// How they were looked at.
    pub looked: Looked,
    /// Cases with an effusion among them.
    pub effusions: ByArm<Share>,
}

impl EffusionComparison {
    pub(super) fn new(rows: &[&CaseRow], level: Confidence) -> Self {
        let everyone = |_: &CaseRow| true;
        let any = Share::by_arm(rows, level, everyone, |case| case.effusion.is_some());
        let looked_with_echo = Share::by_arm(rows, level, everyone, |case| case.looked == Looked::WithEcho);
        Self {
            any_difference: share_difference(&any, level),
            any,
            drained: Share::by_arm(rows, level, everyone, |case| {
                case.effusion.is_some_and(|seen| seen.drained)
            }),
            by_route: by_route(rows),
            why_it_differs: why_it_differs(&looked_with_echo),
            looked_with_echo,
            by_look: Looked::ALL
                .map(|looked| LookLine {
                    looked,
                    effusions: Share::by_arm(
                        rows,
                        level,
                        |case| case.looked == looked,
                        |case| case.effusion.is_some(),
                    ),
                })
                .to_vec(),
        }
    }
}

fn by_route(rows: &[&CaseRow]) -> Vec<RouteLine> {
    let routes = DetectedBy::all().iter().copied().map(Some).chain([None]);
    // Few cases have one.
    let seen: Vec<(Effusion, Arm)> =
        rows.iter().filter_map(|case| Some((case.effusion?, Population::AsIntended.arm(case)?))).collect();
    let shown_by = |route: Option<DetectedBy>| {
        let mut cases = ByArm::<u32>::default();
        let own = seen.iter().filter(|(effusion, _)| effusion.detected_by == route);
        own.for_each(|(_, arm)| *cases.of_mut(*arm) += 1);
        RouteLine { detected_by: route, cases }
    };
    routes.map(shown_by).filter(|line| line.cases != ByArm::default()).collect()
}

fn why_it_differs(looked: &ByArm<Share>) -> String {
    let percent =
        |share: &Share| share.proportion.map_or("no".to_owned(), |p| format!("{:.0} %", 100.0 * p.estimate));
    format!(
        "Any effusion counts fluid that only looking finds, and echo looked in {} of zero-fluoroscopy and {} of conventional cases; major complications count only what harms, whether anyone looked or not.",
        percent(&looked.zero_fluoroscopy),
        percent(&looked.conventional),
    )
}
