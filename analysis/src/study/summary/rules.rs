//! The rules by which counts were hidden, in numbers and in words.

use super::super::published::Published;
use super::table::{NamedTable, TableCell, TableRow, named};
use crate::methods::disclosure::{NetworkTier, Profile};
use quietbeam_schema::summary_design::ChosenProfile;
use quietbeam_schema::vocabulary::{Coded, DisclosureProfile, ProfileNumber};
use serde::{Deserialize, Serialize};
use std::cmp::Ordering;

/// What a chosen profile demands.
pub(super) fn demanded(chosen: &ChosenProfile) -> Profile {
    let number = |number| chosen.number(number);
    Profile {
        threshold: number(ProfileNumber::Threshold).into(),
        least_centres: number(ProfileNumber::LeastCentres),
        least_width: number(ProfileNumber::LeastWidth).into(),
        dominance: number(ProfileNumber::Dominance).into(),
        coalition: number(ProfileNumber::Coalition),
        network_tier: (chosen.profile() == DisclosureProfile::TwoTier).then(|| NetworkTier {
            least_cases: number(ProfileNumber::NetworkCases).into(),
            least_centres: number(ProfileNumber::NetworkCentres),
        }),
    }
}

/// The rules by which counts were hidden.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DisclosureRules {
    /// The profile's name.
    pub profile: String,
    /// The smallest count above zero that may be shown.
    pub threshold: u64,
    /// The fewest centres behind a count above zero.
    pub least_centres: u32,
    /// The narrowest range in which a hidden count may be held.
    pub least_width: u64,
    /// How near, in per cent, one centre may come to the largest one's count; 0 where it was not asked.
    #[serde(default)]
    pub dominance: u64,
    /// The most centres that were taken to put together what they know.
    #[serde(default)]
    pub coalition: u32,
    /// From what size on small counts of the whole network are shown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub network_tier: Option<NetworkTier>,
    /// The same in words.
    pub rules: Vec<String>,
}

impl DisclosureRules {
    pub(super) fn of(profile: Profile) -> Self {
        let Profile { threshold, least_centres, least_width, dominance, coalition, network_tier } = profile;
        let most = threshold - 1;
        let mut rules = vec![
            format!("Counts from 1 to {most} are not shown. Zero may be."),
            format!("A count is not shown either if it leaves 1 to {most} of its group's cases."),
            "A complication that every case of a group had is not shown, nor a success that none had."
                .to_owned(),
            format!("Counts of cases of fewer than {least_centres} centres are not shown."),
        ];
        if dominance > 0 {
            rules.push(format!(
                "A count is not shown if the second largest centre would know the largest one's to within {dominance} per cent."
            ));
        }
        if let Some(NetworkTier { least_cases, least_centres }) = network_tier {
            rules.push(format!(
                "Small counts of the whole network are shown where it has at least {least_cases} cases of at least {least_centres} centres."
            ));
        }
        rules.push("A share is shown only where both its counts are.".to_owned());
        let seats = match coalition {
            0 => "nobody outside",
            1 => "neither anybody outside nor a centre that knows its own cases",
            _ => "neither anybody outside nor any two centres that put together their own cases",
        };
        rules.push(format!(
            "Whatever would give one of these away is not shown. From this summary and all before it {seats} can tell a hidden count: it could be {threshold} or more, and its highest and lowest possible values are at least {least_width} apart."
        ));
        if coalition > 0 {
            let whose = if coalition == 1 { "one centre" } else { "one centre, or two together," };
            rules.push(format!(
                "A total may be large and yet not shown: where {whose} had most of its cases, it would tell how few all others had."
            ));
        }
        rules.push(
            "What a summary before this one told, by numbers of its own, stays told; this one lets nobody place it more closely."
                .to_owned(),
        );
        rules.push("Nothing tells for which of these reasons a count is not shown.".to_owned());
        let name = if network_tier.is_some() { "two_tier" } else { "strict" };
        let profile = name.to_owned();
        Self { profile, threshold, least_centres, least_width, dominance, coalition, network_tier, rules }
    }

    /// One of the numbers; nothing for those of a second tier that there is not.
    fn number(&self, number: ProfileNumber) -> Option<u64> {
        match number {
            ProfileNumber::Threshold => Some(self.threshold),
            ProfileNumber::LeastCentres => Some(self.least_centres.into()),
            ProfileNumber::LeastWidth => Some(self.least_width),
            ProfileNumber::Dominance => Some(self.dominance),
            ProfileNumber::Coalition => Some(self.coalition.into()),
            ProfileNumber::NetworkCases => self.network_tier.map(|tier| tier.least_cases),
            ProfileNumber::NetworkCentres => self.network_tier.map(|tier| tier.least_centres.into()),
        }
    }

    /// Every number beside the standard one; the name of one that is not the standard one says whether it
    /// shows more or less.
    pub fn table(&self) -> NamedTable {
        let row = |number: ProfileNumber, here: u64| {
            let standard = u64::from(number.standard());
            let mark = match here.cmp(&standard) {
                Ordering::Less => " (lower than standard: shows more)",
                Ordering::Equal => "",
                Ordering::Greater => " (higher than standard: shows less)",
            };
            TableRow {
                key: number.code().to_owned(),
                label: format!("{}{mark}", number.label()),
                cells: [here, standard].map(|count| TableCell::Count(Published::Shown(count))).to_vec(),
            }
        };
        let all = ProfileNumber::all().iter();
        NamedTable {
            key: "rules".to_owned(),
            caption: "The numbers by which counts were hidden".to_owned(),
            stub: "Number".to_owned(),
            columns: vec![named("here", "Here"), named("standard", "Standard")],
            rows: all.filter_map(|number| Some(row(*number, self.number(*number)?))).collect(),
        }
    }
}
