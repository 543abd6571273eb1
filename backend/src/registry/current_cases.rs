//! Pages of current cases, read on as many threads as there are: a record takes longer to check
//! than to load.

use std::thread;

use quietbeam_schema::case::{CaseForm, CaseRecord};
use quietbeam_schema::instant::Instant;

use super::cases::form_of;
use crate::store::{EnteredCase, StoreError};

/// What `see` makes of each case of a page; `None` for a record that the present rules refuse.
///
/// # Errors
/// When a record cannot be read at all.
pub(super) fn read_page<T: Send>(
    page: &[EnteredCase],
    now: Instant,
    see: impl Fn(&EnteredCase, CaseForm, &CaseRecord) -> T + Sync,
) -> Result<Vec<Option<T>>, StoreError> {
    let threads = thread::available_parallelism().map_or(1, usize::from);
    let part = page.len().div_ceil(threads).max(1);
    let read_one = |entered: &EnteredCase| {
        let form = form_of(&entered.case)?;
        let checked = form.check(now.quarter());
        Ok(checked.ok().map(|checked| see(entered, form, &checked.record)))
    };
    let read = |cases: &[EnteredCase]| cases.iter().map(read_one).collect::<Result<Vec<_>, StoreError>>();
    thread::scope(|scope| {
        let read = &read;
        let parts: Vec<_> = page.chunks(part).map(|cases| scope.spawn(move || read(cases))).collect();
        let mut all = Vec::with_capacity(page.len());
        for part in parts {
            // A panic of a part is a panic of the whole.
            let rows = part.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))?;
            all.extend(rows);
        }
        Ok(all)
    })
}
