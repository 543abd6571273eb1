//! Safety summaries: composed from a cut, with small cells hidden before anyone
//! sees them; withdrawn with a public reason.

use quietbeam_analysis::study::cohort::Cohort;
use quietbeam_analysis::study::summary::{Earlier, SafetySummary, summarise};
use quietbeam_schema::ids::{DataCutId, SummaryId, SummaryNumber};
use quietbeam_schema::summary::SummaryStage;
use quietbeam_schema::summary_design::SummaryDesign;

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

/// A summary that was published, with the cases it was made from.
struct Before {
    number: SummaryNumber,
    cohort: Cohort,
    summary: SafetySummary,
}

/// Composes a summary, attacked from every seat together with all that was ever published; nothing
/// is kept yet.
///
/// # Errors
/// When there is no such cut, a record of it cannot be read, or somebody could work out a count
/// however much is hidden.
pub fn compose(
    store: &Store,
    permit: Permit<DraftSummary>,
    cut: DataCutId,
) -> Result<Composed, RegistryError> {
    let (cut, cohort, before) = store.read_blocking(permit, |session| {
        let cut = session.find_cut(cut)?;
        let cohort = cohort_of(session, &cut)?;
        Ok::<_, RegistryError>((cut, cohort, published_before(session)?))
    })?;
    let earlier: Vec<Earlier<'_>> = before
        .iter()
        .map(|before| Earlier {
            name: format!("safety summary {}", before.number.0),
            cohort: &before.cohort,
            summary: &before.summary,
        })
        .collect();
    let summary = summarise(&cohort, &SummaryDesign::default(), &earlier)?.summary;
    let content = with_provenance(&cut, &summary)?;
    Ok(Composed { cut, summary, content })
}

/// Everything published so far, oldest first. What was withdrawn has been read too.
fn published_before<M>(session: &mut Session<'_, DraftSummary, M>) -> Result<Vec<Before>, RegistryError> {
    let mut before = Vec::new();
    for kept in session.list_summaries()? {
        let (SummaryStage::Published { number, .. } | SummaryStage::Withdrawn { number, .. }) = kept.stage
        else {
            continue;
        };
        let cut = session.find_cut(kept.cut)?;
        let cohort = cohort_of(session, &cut)?;
        let summary = serde_json::from_str(&kept.content).map_err(RegistryError::NotRead)?;
        before.push(Before { number, cohort, summary });
    }
    before.sort_by_key(|before| before.number.0);
    Ok(before)
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
