//! Reports of comparisons: computed again from the frozen data when somebody looks, once for
//! each comparison, and checked against what was kept.

use std::sync::{Arc, Mutex};

use quietbeam_schema::ids::ComparisonId;

use super::RegistryError;
use super::comparisons::{Asked, KeptQuestion, Outcome, answered, cohort_of};
use crate::access::Permit;
use crate::access::action::ReadComparisons;
use crate::store::{Comparison, DataCut, Store};

/// What a comparison found, ready to be read.
pub struct Report {
    /// The comparison as it was kept.
    pub kept: Comparison,
    /// The cut it was computed on.
    pub cut: DataCut,
    /// What came out.
    pub outcome: Outcome,
    /// Whether this version of the software computes to the letter what was kept.
    pub as_kept: bool,
}

/// How many reports stay in memory.
const KEPT: usize = 8;

/// The reports that were read last. A comparison never changes, so neither does its report.
#[derive(Default)]
pub struct Reports(Mutex<Vec<Arc<Report>>>);

impl Reports {
    fn find(&self, id: ComparisonId) -> Option<Arc<Report>> {
        let mut reports = self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let at = reports.iter().position(|report| report.kept.id == id)?;
        // The one read last stands last.
        let report = reports.remove(at);
        reports.push(Arc::clone(&report));
        Some(report)
    }

    fn keep(&self, report: &Arc<Report>) {
        let mut reports = self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        if reports.len() >= KEPT {
            reports.remove(0);
        }
        reports.push(Arc::clone(report));
    }

    /// The report of a comparison that was opened.
    ///
    /// # Errors
    /// When a record of the cut cannot be read.
    pub fn of(
        &self,
        store: &Store,
        permit: Permit<ReadComparisons>,
        opened: Comparison,
    ) -> Result<Arc<Report>, RegistryError> {
        if let Some(report) = self.find(opened.id) {
            return Ok(report);
        }
        let report = Arc::new(computed(store, permit, opened)?);
        self.keep(&report);
        Ok(report)
    }
}

fn computed(
    store: &Store,
    permit: Permit<ReadComparisons>,
    kept: Comparison,
) -> Result<Report, RegistryError> {
    let question = serde_json::from_str(&kept.content.request).map_err(RegistryError::NotWritten)?;
    let cut = kept.content.cut;
    let (cut, asked, cohort) = store.read_blocking(permit, move |session| {
        let cut = session.find_cut(cut)?;
        let asked = match question {
            KeptQuestion::Plan { plan, .. } => Asked::Plan(session.find_plan(plan)?),
            KeptQuestion::WithoutPlan(request) => Asked::WithoutPlan(request),
        };
        let cohort = cohort_of(session, &cut)?;
        Ok::<_, RegistryError>((cut, asked, cohort))
    })?;
    let (outcome, result) = answered(&cut, &cohort, &asked)?;
    Ok(Report { as_kept: result == kept.content.result, kept, cut, outcome })
}
