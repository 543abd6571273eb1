//! Counts of an endpoint, by arm, centre and stratum.

use super::arm::ByArm;
use super::cohort::CaseRow;
use super::endpoint::{Endpoint, Outcome};
use super::population::Population;
use crate::methods::counts::{EventCount, Stratum, TwoArms};
use crate::methods::interval::{self, NotEstimable};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::vocabulary::Strata;
use serde::Serialize;
use std::collections::BTreeMap;

/// Counts of one endpoint in one arm.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Tally {
    /// Cases in the arm.
    pub cases: u32,
    /// Cases in which nothing was attempted; they count neither way.
    pub not_attempted: u32,
    /// Cases whose outcome is not known.
    pub missing: u32,
    /// Cases whose outcome is known: the denominator.
    pub known: u32,
    /// Events among them.
    pub events: u32,
}

impl Tally {
    /// Counts one case more.
    pub(super) fn add(&mut self, endpoint: Endpoint, case: &CaseRow) {
        self.cases += 1;
        match endpoint.outcome(case) {
            Outcome::Event => (self.known, self.events) = (self.known + 1, self.events + 1),
            Outcome::NoEvent => self.known += 1,
            Outcome::Unknown => self.missing += 1,
            Outcome::NotAttempted => self.not_attempted += 1,
        }
    }

    pub(super) fn join(&mut self, other: Self) {
        self.cases += other.cases;
        self.not_attempted += other.not_attempted;
        self.missing += other.missing;
        self.known += other.known;
        self.events += other.events;
    }

    pub(super) fn count(self) -> Option<EventCount> {
        EventCount::if_any(self.events, self.known).ok().flatten()
    }
}

/// The counts of two arms.
///
/// # Errors
/// An arm in which no outcome is known.
pub(super) fn two_arms(total: &ByArm<Tally>) -> Result<TwoArms, NotEstimable> {
    let count = |tally: &Tally, arm| tally.count().ok_or(NotEstimable::EmptyArm { arm });
    Ok(TwoArms {
        first: count(&total.zero_fluoroscopy, interval::Arm::First)?,
        second: count(&total.conventional, interval::Arm::Second)?,
    })
}

/// The counts of a centre or of a kind of patient.
pub(super) fn stratum(arms: &ByArm<Tally>) -> Stratum {
    Stratum { first: arms.zero_fluoroscopy.count(), second: arms.conventional.count() }
}

/// The tallies of every centre, in the order of their codes.
pub(super) type CentreTallies = BTreeMap<CentreCode, ByArm<Tally>>;

/// Counts an endpoint in a population, centre by centre.
pub(super) fn tally_by_centre(
    rows: &[&CaseRow],
    endpoint: Endpoint,
    population: Population,
) -> CentreTallies {
    tally_by(rows, (endpoint, population), |case| case.centre)
}

/// Counts an endpoint in a population, stratum by stratum.
pub(super) fn tally_by_stratum(
    rows: &[&CaseRow],
    what: (Endpoint, Population),
    strata: Strata,
) -> Vec<ByArm<Tally>> {
    match strata {
        Strata::Centres => tally_by(rows, what, |case| case.centre).into_values().collect(),
        Strata::CentresAndGroups => {
            tally_by(rows, what, |case| (case.centre, case.procedure.group())).into_values().collect()
        }
    }
}

fn tally_by<K: Ord>(
    rows: &[&CaseRow],
    (endpoint, population): (Endpoint, Population),
    of: impl Fn(&CaseRow) -> K,
) -> BTreeMap<K, ByArm<Tally>> {
    let mut parts = BTreeMap::<K, ByArm<Tally>>::new();
    // A part is looked up once for the cases of it that stand together.
    for own in rows.chunk_by(|one, other| of(one) == of(other)) {
        let mut tallies = own.iter().filter_map(|case| Some((population.arm(case)?, case))).peekable();
        if tallies.peek().is_some() {
            let part = parts.entry(of(own[0])).or_default();
            tallies.for_each(|(arm, case)| part.of_mut(arm).add(endpoint, case));
        }
    }
    parts
}
