//! What a plan costs: the cases it takes to show what it wants to show.

use super::{AnalysisPlan, PlannedEndpoint};
use crate::methods::plan::{PlanError, WantedPower};
use crate::study::endpoint::Endpoint;
use serde::Serialize;

/// Powers for which the cases are told (common practice, no source).
const POWERS: [f64; 2] = [0.8, 0.9];

/// Cases that an endpoint takes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cost {
    /// The endpoint.
    pub endpoint: Endpoint,
    /// Probability of showing it if the arms are alike.
    pub power: f64,
    /// Cases of each arm, as if they were independent of each other; centres that differ in the
    /// effect, and cases whose outcome is not learnt, cost more.
    pub each_arm: Option<u32>,
    /// How many times the cases of a single look the planned looks take; they are in
    /// `each_arm`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub for_looks: Option<f64>,
    /// Why no number of cases is enough.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why_not: Option<String>,
}

/// The cases each endpoint takes, if both arms do as the plan expects of the conventional one.
pub fn costs(plan: &AnalysisPlan) -> Vec<Cost> {
    let both = |endpoint| POWERS.map(|power| cost(plan, endpoint, power));
    plan.endpoints().iter().flat_map(both).collect()
}

fn cost(plan: &AnalysisPlan, planned: &PlannedEndpoint, power: f64) -> Cost {
    let for_looks =
        WantedPower::new(power).ok().and_then(|power| plan.looks().inflation(plan.level(), power));
    let found = each_arm(plan, planned, power);
    Cost {
        endpoint: planned.endpoint,
        power,
        each_arm: found.as_ref().ok().map(|cases| inflated(*cases, for_looks)),
        for_looks,
        why_not: found.err(),
    }
}

fn inflated(cases: u32, factor: Option<f64>) -> u32 {
    // A factor is a little above 1, so this stays far below what the type holds.
    factor.map_or(cases, |factor| (f64::from(cases) * factor).ceil() as u32)
}

fn each_arm(plan: &AnalysisPlan, planned: &PlannedEndpoint, power: f64) -> Result<u32, String> {
    let sentence = |error: PlanError| error.to_string();
    let of = (planned.endpoint, planned.expected);
    let alike = planned.margin.worse_by(0.0, of, plan.level()).map_err(sentence)?;
    let power = WantedPower::new(power).map_err(sentence)?;
    alike.cases(power).map_err(|why| why.to_string())
}
