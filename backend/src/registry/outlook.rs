//! What the network holds and takes in, before a plan is written. Outcomes are counted over both
//! arms together, so this is no look at them.

use quietbeam_analysis::study::cohort::CaseRow;
use quietbeam_analysis::study::outlook::{Assumed, Held, Outlook};
use quietbeam_schema::vocabulary::ProcedureGroup;

use super::RegistryError;
use super::cases::record_of;
use crate::access::Permit;
use crate::access::action::RegisterPlan;
use crate::store::Store;

/// Reads every case as it stands now.
///
/// # Errors
/// When a record cannot be read.
pub fn outlook(
    store: &Store,
    permit: Permit<RegisterPlan>,
    assumed: Assumed,
    groups: Vec<ProcedureGroup>,
) -> Result<Outlook, RegistryError> {
    store.read_blocking(permit, move |session| {
        let now = session.now();
        let mut held = Held::new(assumed, groups);
        session.each_case_now(|row| {
            held.add(&CaseRow::read(row.centre, &record_of(&row, now)?));
            Ok::<_, RegistryError>(())
        })?;
        Ok(held.outlook(now.quarter()))
    })
}
