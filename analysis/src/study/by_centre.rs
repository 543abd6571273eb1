//! The same counts centre by centre, for use inside the registry only.

use super::arm::ByArm;
use super::cohort::CaseRow;
use super::endpoint::Endpoint;
use super::population::Population;
use super::tally::{Tally, tally_by_centre};
use quietbeam_schema::ids::CentreCode;
use serde::Serialize;
use std::collections::BTreeMap;

/// One centre, as intended. Never public: its cells are small.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CentreLine {
    /// The centre.
    pub centre: CentreCode,
    /// Acute success.
    pub acute_success: ByArm<Tally>,
    /// Major complications within 30 days.
    pub major_within_30_days: ByArm<Tally>,
    /// Cases in which the beam was never on.
    pub no_x_ray: ByArm<u32>,
}

/// Every centre with a case in either arm, in the order of their codes.
pub(super) fn by_centre(rows: &[&CaseRow]) -> Vec<CentreLine> {
    let success = tally_by_centre(rows, Endpoint::AcuteSuccess, Population::AsIntended);
    let mut major = tally_by_centre(rows, Endpoint::MajorWithin30Days, Population::AsIntended);
    let mut dark = BTreeMap::<CentreCode, ByArm<u32>>::new();
    for case in rows.iter().filter(|case| !case.beam_on()) {
        if let Some(arm) = Population::AsIntended.arm(case) {
            *dark.entry(case.centre).or_default().of_mut(arm) += 1;
        }
    }
    let line = |(centre, acute_success)| CentreLine {
        centre,
        acute_success,
        major_within_30_days: major.remove(&centre).unwrap_or_default(),
        no_x_ray: dark.remove(&centre).unwrap_or_default(),
    };
    success.into_iter().map(line).collect()
}
