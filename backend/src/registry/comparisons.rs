//! Comparisons on a data cut: computed by the core, kept with the cut's hash,
//! and never computed twice for the same question.

use quietbeam_analysis::study::cohort::Cohort;
use quietbeam_analysis::study::comparison;
use quietbeam_analysis::study::request::ComparisonRequest;
use quietbeam_schema::ids::DataCutId;
use serde::Serialize;

use super::RegistryError;
use super::cases::record_of;
use crate::access::Permit;
use crate::access::action::RunComparison;
use crate::store::{Comparison, DataCut, NewComparison, ReadsCutCases, Session, Store, StoreError, Writing};

/// The version of the software, printed with everything it computes.
pub const SOFTWARE_VERSION: &str = concat!("quietbeam ", env!("CARGO_PKG_VERSION"));

/// What stands around every result.
#[derive(Serialize)]
struct Provenance<'a, R> {
    data_cut: String,
    data_cut_name: &'a str,
    data_cut_hash: &'a str,
    software: &'static str,
    #[serde(flatten)]
    result: &'a R,
}

/// A result as canonical JSON, with the cut and the software it came from.
pub(super) fn with_provenance<R: Serialize>(cut: &DataCut, result: &R) -> Result<String, RegistryError> {
    let whole = Provenance {
        data_cut: cut.id.to_string(),
        data_cut_name: &cut.name,
        data_cut_hash: &cut.content_hash,
        software: SOFTWARE_VERSION,
        result,
    };
    serde_json::to_string(&whole).map_err(RegistryError::NotWritten)
}

/// Reads the cases of a cut into the columns that are analysed.
pub(super) fn cohort_of<A: ReadsCutCases, M>(
    session: &mut Session<'_, A, M>,
    cut: &DataCut,
) -> Result<Cohort, RegistryError> {
    let mut cohort = Cohort::default();
    // The rules are applied as they stood when the cut was taken.
    session.each_case(cut, |row| {
        let record = record_of(&row, cut.at)?;
        cohort.push(row.centre, &record);
        Ok::<_, RegistryError>(())
    })?;
    Ok(cohort)
}

/// A result that is not kept yet.
pub struct Computed {
    /// The cut it was computed on.
    pub cut: DataCut,
    /// The result.
    pub result: comparison::Comparison,
    /// What will be kept.
    new: NewComparison,
}

/// Compares the strategies on a cut. Nothing is kept yet, so no writer waits
/// while numbers are computed.
///
/// # Errors
/// When there is no such cut, or a record of it cannot be read.
pub fn compute(
    store: &Store,
    permit: Permit<RunComparison>,
    cut: DataCutId,
    request: &ComparisonRequest,
) -> Result<Computed, RegistryError> {
    let asked = serde_json::to_string(request).map_err(RegistryError::NotWritten)?;
    let (cut, cohort) = store.read_blocking(permit, |session| {
        let cut = session.find_cut(cut)?;
        let cohort = cohort_of(session, &cut)?;
        Ok::<_, RegistryError>((cut, cohort))
    })?;
    let result = comparison::compare(&cohort, request);
    let new = NewComparison {
        cut: cut.id,
        request: asked,
        result: with_provenance(&cut, &result)?,
        software_version: SOFTWARE_VERSION.to_owned(),
    };
    Ok(Computed { cut, result, new })
}

impl Computed {
    /// Keeps the result. Every look at the data is kept, also one that only
    /// repeats another.
    ///
    /// # Errors
    /// When the store does not do it.
    pub fn keep(&self, session: &mut Session<'_, RunComparison, Writing>) -> Result<Comparison, StoreError> {
        session.save_comparison(self.new.clone())
    }
}
