//! A planned comparison to compute again elsewhere. Its tables are as good as rows of the cut, so
//! they go out under the same permit and are noted in the trail as rows are.

use quietbeam_analysis::study::planned::PlannedComparison;
use quietbeam_analysis::study::recheck::{self, Kit};
use serde_json::json;

use super::RegistryError;
use super::comparisons::SOFTWARE_VERSION;
use super::cut_columns::cohort_of;
use crate::access::Permit;
use crate::access::action::ExportDeidentified;
use crate::store::{Comparison, DataCut, Store};

/// Reads the cut again and puts the kit of a comparison together. `look` opens the store to read
/// it, `note` to write down that the tables were taken out; both belong to the same request.
///
/// # Errors
/// When a record of the cut cannot be read, or the store does not note it.
pub fn kit(
    store: &Store,
    (look, note): (Permit<ExportDeidentified>, Permit<ExportDeidentified>),
    (kept, cut): (&Comparison, &DataCut),
    planned: &PlannedComparison,
) -> Result<Kit, RegistryError> {
    let provenance = format!(
        "Comparison {}, computed by {}.\nData cut \"{}\" ({}), {} cases,\nhash {}.\nThe kit was made by {SOFTWARE_VERSION}.",
        kept.id, kept.content.software_version, cut.name, cut.id, cut.cases, cut.content_hash
    );
    let (read, plan) = (cut.clone(), planned.plan.clone());
    let cohort = store.read_blocking(look, move |session| cohort_of(session, &read, Some(&plan)))?;
    let kit = recheck::kit(&cohort, planned, &provenance);
    let what = json!({ "recheck": kept.id.to_string(), "rows": kit.cases, "alone": kit.alone });
    let id = cut.id;
    store.write_blocking(note, move |session| session.note_rows(id, what))?;
    Ok(kit)
}
