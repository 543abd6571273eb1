//! Safety summaries: composed from a cut, with small cells hidden before anyone
//! sees them; withdrawn with a public reason.

use quietbeam_analysis::study::summary::{SafetySummary, summarise};
use quietbeam_schema::ids::{DataCutId, SummaryId};

use super::comparisons::{cohort_of, with_provenance};
use super::{RegistryError, words};
use crate::access::Permit;
use crate::access::action::{DraftSummary, WithdrawSummary};
use crate::store::{DataCut, Session, Store, Summary, Writing};

/// What a draft will say.
pub struct Composed {
    /// The cut it was made from.
    pub cut: DataCut,
    /// The summary.
    pub summary: SafetySummary,
    /// The same as canonical JSON, with where it came from.
    pub content: String,
}

/// Composes a summary; nothing is kept yet.
///
/// # Errors
/// When there is no such cut, or a record of it cannot be read.
pub fn compose(
    store: &Store,
    permit: Permit<DraftSummary>,
    cut: DataCutId,
) -> Result<Composed, RegistryError> {
    let (cut, cohort) = store.read_blocking(permit, |session| {
        let cut = session.find_cut(cut)?;
        let cohort = cohort_of(session, &cut)?;
        Ok::<_, RegistryError>((cut, cohort))
    })?;
    let summary = summarise(&cohort).map_err(RegistryError::NotCounted)?;
    let content = with_provenance(&cut, &summary)?;
    Ok(Composed { cut, summary, content })
}

/// Withdraws a published summary.
///
/// # Errors
/// When the reason must be mended, or the summary is not published.
pub fn withdraw(
    session: &mut Session<'_, WithdrawSummary, Writing>,
    id: SummaryId,
    reason: &str,
) -> Result<Summary, RegistryError> {
    session.find_summary(id)?;
    let reason =
        words::reason(reason).map_err(|error| RegistryError::field("/reason", "reason_required", error))?;
    Ok(session.withdraw_summary(id, &reason)?)
}
