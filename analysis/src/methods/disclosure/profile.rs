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

    /// Whether a count is small enough to point at persons; zero points at nobody.
    pub(super) fn small(self, count: u64) -> bool {
        (1..self.threshold).contains(&count)
    }
}
