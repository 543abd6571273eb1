//! Worlds for several threads: a search leaves them as they were, so whoever is next can have them.

use super::frame::Frame;
use super::worlds::Worlds;
use std::sync::{Mutex, PoisonError};

/// The worlds of a frame, as many times as there are searches side by side.
pub(super) struct Lending<'f> {
    frame: &'f Frame<'f>,
    idle: Mutex<Vec<Worlds<'f>>>,
}

impl<'f> Lending<'f> {
    pub(super) fn of(frame: &'f Frame<'f>) -> Self {
        Self { frame, idle: Mutex::new(Vec::new()) }
    }

    /// What a search finds in worlds that nobody else has meanwhile.
    pub(super) fn lend<T>(&self, search: impl FnOnce(&mut Worlds<'f>) -> T) -> T {
        let idle = || self.idle.lock().unwrap_or_else(PoisonError::into_inner);
        let lent = idle().pop();
        let mut worlds = lent.unwrap_or_else(|| Worlds::of(self.frame));
        let found = search(&mut worlds);
        idle().push(worlds);
        found
    }
}
