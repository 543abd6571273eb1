//! What a profile demands of everything published, as numbers that can be set.

use serde::{Deserialize, Serialize};

/// What a profile demands of everything published.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Profile {
    /// The smallest count above zero that may be shown.
    pub threshold: u64,
    /// The fewest centres that may stand behind a count above zero.
    pub least_centres: u32,
    /// The narrowest range, highest minus lowest possible value, in which a hidden count may be held.
    pub least_width: u64,
    /// How near, in per cent of it, the second largest centre may come to the largest one's count
    /// by taking itself from the total; 0 leaves the question out.
    pub dominance: u64,
    /// The most centres that may put together what they know.
    pub coalition: u32,
    /// Whether, and from what size on, a total of the whole network may be small.
    pub network_tier: Option<NetworkTier>,
}

/// A whole network large enough that a small count of it points at nobody.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct NetworkTier {
    /// The fewest cases of the network.
    pub least_cases: u64,
    /// The fewest centres with cases.
    pub least_centres: u32,
}

/// Why a profile does not protect.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ProfileError {
    /// A threshold that would show single persons, or hide everything.
    #[error("the threshold must be from 3 to 1,000")]
    Threshold,
    /// Fewer than two centres, or more than any network has.
    #[error("the fewest centres must be from 2 to 100")]
    Centres,
    /// A range of one value, or one as wide as the threshold hides.
    #[error("the width of a hidden range must be from 1 to the threshold")]
    Width,
    /// More than the whole.
    #[error("the share that tells of a dominant centre must be from 0 to 100 per cent")]
    Dominance,
    /// More than pairs are not attacked.
    #[error("at most 2 centres can be taken to put together what they know")]
    Coalition,
    /// A network that is none.
    #[error("a network of small totals has at least 100 cases and 3 centres")]
    NetworkTier,
}

impl Profile {
    /// Counts from 1 to 10 are hidden, and counts of fewer than three centres.
    pub const STRICT: Self = Self {
        threshold: 11,
        least_centres: 3,
        least_width: 5,
        dominance: 10,
        coalition: 2,
        network_tier: None,
    };

    /// Strict, but small counts of a large network as a whole are shown.
    pub const TWO_TIER: Self =
        Self { network_tier: Some(NetworkTier { least_cases: 1_000, least_centres: 5 }), ..Self::STRICT };

    /// The profile itself, if it protects anything.
    ///
    /// # Errors
    /// Names the number that does not.
    pub fn checked(self) -> Result<Self, ProfileError> {
        let Self { threshold, least_centres, least_width, dominance, coalition, network_tier } = self;
        let demands = [
            ((3..=1_000).contains(&threshold), ProfileError::Threshold),
            ((2..=100).contains(&least_centres), ProfileError::Centres),
            ((1..=threshold).contains(&least_width), ProfileError::Width),
            (dominance <= 100, ProfileError::Dominance),
            (coalition <= 2, ProfileError::Coalition),
            (
                network_tier.is_none_or(|tier| tier.least_cases >= 100 && tier.least_centres >= 3),
                ProfileError::NetworkTier,
            ),
        ];
        demands.into_iter().find(|(holds, _)| !holds).map_or(Ok(self), |(_, error)| Err(error))
    }

    /// Whether a count is small enough to point at persons; zero points at nobody.
    pub(super) fn small(self, count: u64) -> bool {
        (1..self.threshold).contains(&count)
    }
}
