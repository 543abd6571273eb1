//! How much of its counts a summary may show: a profile with its numbers, and the reason where it shows
//! more than the standard strict profile does.

use std::collections::BTreeMap;
use std::fmt;
use std::ops::RangeInclusive;

use super::{Mending, Trouble, no_figure};
use crate::audit::Reason;
use crate::screen::screen;
use crate::vocabulary::{Coded, DisclosureProfile, ProfileNumber};

#[cfg(test)]
mod tests;

/// A profile as a person brings it: which, its numbers, and the reason.
type Brought = (Option<DisclosureProfile>, BTreeMap<ProfileNumber, u32>, Option<String>);

/// A profile with numbers that protect, and with its reason where it must have one.
#[derive(Clone, PartialEq, Eq)]
pub struct ChosenProfile {
    profile: DisclosureProfile,
    /// Those that are not the standard ones.
    others: BTreeMap<ProfileNumber, u32>,
    reason: Option<Reason>,
}

impl Default for ChosenProfile {
    /// Strict, with the standard numbers.
    fn default() -> Self {
        Self { profile: DisclosureProfile::Strict, others: BTreeMap::new(), reason: None }
    }
}

impl fmt::Debug for ChosenProfile {
    /// Without the reason: what a person wrote has no place in a log.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {:?}", self.profile.code(), self.others)
    }
}

impl ProfileNumber {
    /// What it is where nothing else is chosen. The threshold is that of \[cms_cell_size2024\] in
    /// analysis/REFERENCES.md; the others are our own choice.
    pub fn standard(self) -> u32 {
        match self {
            Self::Threshold => 11,
            Self::LeastCentres => 3,
            Self::LeastWidth => 5,
            Self::Dominance => 10,
            Self::Coalition => 2,
            Self::NetworkCases => 1_000,
            Self::NetworkCentres => 5,
        }
    }

    /// What it may be: below, single persons would be shown; above, nothing would be. More than pairs of
    /// centres are never taken to put together what they know.
    pub fn range(self) -> RangeInclusive<u32> {
        match self {
            Self::Threshold => 3..=1_000,
            Self::LeastCentres => 2..=100,
            Self::LeastWidth => 1..=1_000,
            Self::Dominance => 0..=100,
            Self::Coalition => 0..=2,
            Self::NetworkCases => 100..=1_000_000,
            Self::NetworkCentres => 3..=100,
        }
    }

    /// Whether only two tiers have it.
    pub fn is_of_second_tier(self) -> bool {
        matches!(self, Self::NetworkCases | Self::NetworkCentres)
    }

    /// JSON pointer to it in a design.
    fn field(self) -> &'static str {
        match self {
            Self::Threshold => "/profile_numbers/threshold",
            Self::LeastCentres => "/profile_numbers/least_centres",
            Self::LeastWidth => "/profile_numbers/least_width",
            Self::Dominance => "/profile_numbers/dominance",
            Self::Coalition => "/profile_numbers/coalition",
            Self::NetworkCases => "/profile_numbers/network_cases",
            Self::NetworkCentres => "/profile_numbers/network_centres",
        }
    }
}

impl ChosenProfile {
    /// Which it is.
    pub fn profile(&self) -> DisclosureProfile {
        self.profile
    }

    /// One of its numbers. Those of the second tier say nothing where the profile has none.
    pub fn number(&self, number: ProfileNumber) -> u32 {
        self.others.get(&number).copied().unwrap_or(number.standard())
    }

    /// Why it shows more than the standard strict profile does; whoever approves signs it.
    pub fn reason(&self) -> Option<&str> {
        self.reason.as_ref().map(Reason::as_str)
    }

    /// What of it shows more than the standard strict profile does, in words; nothing where nothing does,
    /// and there is no reason then.
    pub fn shows_more(&self) -> Vec<String> {
        let tiers = (self.profile == DisclosureProfile::TwoTier).then(|| "two tiers".to_owned());
        let lower = self.others.iter().filter(|(number, value)| **value < number.standard());
        let lower = lower
            .map(|(number, value)| format!("“{}” is {value}, not {}", number.label(), number.standard()));
        tiers.into_iter().chain(lower).collect()
    }

    /// Reads it, and says what must be mended.
    pub(super) fn read((profile, others, reason): Brought, mending: &mut Mending) -> Self {
        let profile = profile.unwrap_or(DisclosureProfile::Strict);
        let mut chosen = Self { profile, others, reason: None };
        let judged = ProfileNumber::all().iter().map(|number| (number.field(), chosen.protects(*number)));
        let wrong: Vec<_> = judged.filter_map(|(field, judged)| Some((field, judged.err()?))).collect();
        if !wrong.is_empty() {
            // Whether a reason is needed is known once the numbers are right.
            wrong.into_iter().for_each(|(field, why)| mending.take(field, Err(why)));
            return chosen;
        }
        chosen.others.retain(|number, value| *value != number.standard());
        chosen.reason = mending.take("/profile_reason", chosen.reasoned(reason));
        chosen
    }

    /// Whether a number is one that protects.
    fn protects(&self, number: ProfileNumber) -> Result<(), Trouble> {
        if number.is_of_second_tier() && self.profile == DisclosureProfile::Strict {
            return if self.others.contains_key(&number) { Err(Trouble::NoSecondTier) } else { Ok(()) };
        }
        let value = self.number(number);
        if !number.range().contains(&value) {
            return Err(Trouble::Number(number));
        }
        let threshold = self.number(ProfileNumber::Threshold);
        let has_threshold = ProfileNumber::Threshold.range().contains(&threshold);
        if number == ProfileNumber::LeastWidth && has_threshold && value > threshold {
            return Err(Trouble::WiderThanThreshold { threshold });
        }
        Ok(())
    }

    fn reasoned(&self, reason: Option<String>) -> Result<Option<Reason>, Trouble> {
        let reason = reason.filter(|reason| !reason.trim().is_empty());
        let more = self.shows_more();
        if more.is_empty() {
            return if reason.is_some() { Err(Trouble::NeedlessReason) } else { Ok(None) };
        }
        let unreasoned = |why| Trouble::Unreasoned { more: more.join("; "), why };
        let reason: Reason = reason.unwrap_or_default().parse().map_err(unreasoned)?;
        no_figure(reason.as_str())?;
        screen(reason.as_str())?;
        Ok(Some(reason))
    }

    /// As it is kept: numbers that are not the standard ones, and the reason.
    pub(super) fn written(self) -> (DisclosureProfile, BTreeMap<ProfileNumber, u32>, Option<String>) {
        (self.profile, self.others, self.reason.map(|reason| reason.as_str().to_owned()))
    }
}
