//! The share of an arm that had an outcome, told in whole per cent where its count would tell too much.

use super::super::endpoint::Endpoint;
use super::super::published::{FEWEST_OF_A_SHARE, OneOrAll};
use super::arms::{arms, kept, known_and_had};
use super::counted::{Count, Counted, Measure};
use std::collections::BTreeMap;

/// The share of an arm that had an outcome, as it is printed where its count is not shown.
pub(super) struct Share {
    pub(super) percent: u8,
    pub(super) known: Count,
    pub(super) had: Count,
}

impl Share {
    /// Every number of cases that would be printed alike.
    pub(super) fn alike(&self, known: u64) -> impl Iterator<Item = i64> {
        let alike = move |had: &u64| whole_percent(*had, known) == Some(self.percent);
        (0..=known).filter(alike).filter_map(|had| i64::try_from(had).ok())
    }
}

/// The nearest whole per cent, a half upwards.
fn whole_percent(part: u64, whole: u64) -> Option<u8> {
    u8::try_from((200 * part + whole).checked_div(2 * whole)?).ok()
}

/// What is printed as the share of an outcome in an arm.
pub(super) fn share_of(endpoint: Endpoint, of: Count) -> Count {
    Count { measure: Measure::Share(endpoint), ..of }
}

/// The share of each planned outcome in each arm of enough cases.
pub(super) fn shares(counted: &Counted<'_>) -> BTreeMap<Count, Share> {
    let Some((plan, scope)) = counted.planned() else { return BTreeMap::new() };
    let arms = arms(scope).into_iter().chain(kept(scope));
    let share = |endpoint, part| {
        let [known, had] =
            known_and_had(endpoint).map(|measure| Count { measure, part, strategy: OneOrAll::All });
        let of = counted.value(known).filter(|known| *known >= FEWEST_OF_A_SHARE)?;
        let percent = whole_percent(counted.value(had)?, of)?;
        Some((share_of(endpoint, had), Share { percent, known, had }))
    };
    let endpoints = plan.endpoints().iter();
    let each = endpoints.flat_map(|planned| arms.clone().map(|arm| (planned.endpoint, arm)));
    each.filter_map(|(endpoint, arm)| share(endpoint, arm)).collect()
}
