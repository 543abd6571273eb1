//! What was read of data cuts, kept in memory. A cut never changes, so nothing here grows old.

use std::any::Any;
use std::sync::{Arc, Mutex, PoisonError};

use quietbeam_schema::ids::DataCutId;

use super::cuts::{DataCut, ReadsCutCases};
use super::session::Session;

/// The most cases of which anything is kept; of the cut read last it is kept whatever its size.
const MOST_CASES: i64 = 1_000_000;

/// What was read, the cut read last at the end.
#[derive(Default)]
pub(super) struct CutMemory(Mutex<Vec<Kept>>);

struct Kept {
    cut: DataCutId,
    cases: i64,
    what: Arc<dyn Any + Send + Sync>,
}

impl CutMemory {
    fn find<T: Any + Send + Sync>(&self, cut: DataCutId) -> Option<Arc<T>> {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let at = all.iter().position(|kept| kept.cut == cut && kept.what.is::<T>())?;
        let kept = all.remove(at);
        let found = Arc::clone(&kept.what).downcast().ok();
        all.push(kept);
        found
    }

    fn keep<T: Any + Send + Sync>(&self, cut: DataCutId, cases: i64, what: &Arc<T>) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.retain(|kept| kept.cut != cut || !kept.what.is::<T>());
        let what: Arc<dyn Any + Send + Sync> = Arc::<T>::clone(what);
        all.push(Kept { cut, cases, what });
        while all.len() > 1 && all.iter().map(|kept| kept.cases).sum::<i64>() > MOST_CASES {
            all.remove(0);
        }
    }
}

impl<A: ReadsCutCases, M> Session<'_, A, M> {
    /// What `read` makes of a cut, made once. Only what sees all centres is kept, and only for
    /// sessions that see all centres.
    ///
    /// # Errors
    /// Those of `read`.
    pub fn once_of_cut<T: Any + Send + Sync, E>(
        &mut self,
        cut: &DataCut,
        read: impl FnOnce(&mut Self) -> Result<T, E>,
    ) -> Result<Arc<T>, E> {
        if self.centres().is_some() {
            return read(self).map(Arc::new);
        }
        if let Some(kept) = self.memory.find(cut.id) {
            return Ok(kept);
        }
        // Two that ask at once read twice; a lock held while reading would let everyone wait.
        let made = Arc::new(read(self)?);
        self.memory.keep(cut.id, cut.cases, &made);
        Ok(made)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn cut(number: u8) -> DataCutId {
        format!("00000000-0000-7000-8000-0000000000{number:02}").parse().unwrap()
    }

    #[test]
    fn what_was_not_read_for_longest_goes_first_when_cuts_are_large() {
        let memory = CutMemory::default();
        memory.keep(cut(1), 400_000, &Arc::new(1_u8));
        memory.keep(cut(2), 500_000, &Arc::new(2_u8));
        assert_eq!(memory.find::<u8>(cut(1)).as_deref(), Some(&1));
        memory.keep(cut(3), 300_000, &Arc::new(3_u8));
        let found = [1, 2, 3].map(|number| memory.find::<u8>(cut(number)).as_deref().copied());
        assert_eq!(found, [Some(1), None, Some(3)]);
        memory.keep(cut(4), 5_000_000, &Arc::new(4_u8));
        let found = [1, 3, 4].map(|number| memory.find::<u8>(cut(number)).as_deref().copied());
        assert_eq!(found, [None, None, Some(4)]);
    }

    #[test]
    fn one_cut_can_have_two_kinds_of_things_made_of_it() {
        let memory = CutMemory::default();
        memory.keep(cut(1), 10, &Arc::new(1_u8));
        memory.keep(cut(1), 10, &Arc::new("columns".to_owned()));
        assert_eq!(memory.find::<u8>(cut(1)).as_deref(), Some(&1));
        assert_eq!(memory.find::<String>(cut(1)).as_deref().map(String::as_str), Some("columns"));
        assert!(memory.find::<u16>(cut(1)).is_none());
    }
}
