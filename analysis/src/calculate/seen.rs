//! Which sets were already calculated, in sixteen bytes a set.

use std::collections::BTreeSet;
use std::collections::hash_map::DefaultHasher;
use std::hash::{Hash, Hasher};

/// The sets so far. Two fixed hashes stand for a name: a million sets need a few megabytes,
/// and two names out of a million share both with a chance below 1e-26.
#[derive(Debug, Default)]
pub(super) struct Seen(BTreeSet<(u64, u64)>);

impl Seen {
    /// Notes a set; false when it was there before.
    pub(super) fn note(&mut self, set: &str) -> bool {
        let hash = |salt: u8| {
            let mut hasher = DefaultHasher::new();
            (salt, set).hash(&mut hasher);
            hasher.finish()
        };
        self.0.insert((hash(0), hash(1)))
    }
}
