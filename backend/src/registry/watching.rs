//! Watching: every current case of the network through the core, and of the result what belongs
//! to whoever looks.

use quietbeam_analysis::study::watching::{Watch, WatchCase};
use quietbeam_schema::case::{CaseForm, CaseRecord};
use quietbeam_schema::ids::CentreCode;

use super::RegistryError;
use super::current_cases::read_page;
use crate::access::action::WatchSafety;
use crate::store::{EnteredCase, Session};

/// The network as it is watched, for the centres within reach.
///
/// # Errors
/// When a record cannot be read.
pub fn watch(session: &mut Session<'_, WatchSafety>) -> Result<Watch, RegistryError> {
    let now = session.now();
    let mut cases = Vec::new();
    session.each_page_of_network(|page| {
        let read = read_page(&page, now, read_case)?;
        cases.extend(read.into_iter().flatten());
        Ok::<_, RegistryError>(())
    })?;
    // Of other centres nothing leaves but the coarse rates that the core makes of all of them.
    let own: Vec<CentreCode> = session.list_centres()?.iter().map(|centre| centre.code).collect();
    Ok(Watch::of(cases).only(&own))
}

fn read_case(entered: &EnteredCase, _: CaseForm, record: &CaseRecord) -> WatchCase {
    let case = &entered.case;
    WatchCase::read(case.code, entered.entered, case.centre, record)
}
