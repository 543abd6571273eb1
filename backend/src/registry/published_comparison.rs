//! A comparison as a summary may publish it: carried out as planned on the very cut of the summary, with a
//! final report that this version of the software computes as it was kept. Whoever composes reads
//! nothing of it but what passed the check.

use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::report::{Report, Standing};
use quietbeam_analysis::study::summary::{PlanRegistered, PublishedComparison};
use quietbeam_schema::ids::{ComparisonId, DataCutId};

use super::comparisons::{KeptQuestion, Registered};
use super::report_texts::Texts;
use super::reports::{Found, Opened, ReadsReports, read_again};
use super::{RegistryError, plans};
use crate::access::Permit;
use crate::access::action::DraftSummary;
use crate::store::{Comparison, ComparisonRun, Session, Store, StoreError};

/// A comparison that carried out a plan, without what came out.
pub struct Offered {
    /// Its identifier.
    pub id: ComparisonId,
    /// The cut it was computed on.
    pub cut: DataCutId,
    /// Number and version of the plan, such as 3.1.
    pub plan: String,
    /// The title of the plan.
    pub title: String,
}

/// Every comparison that carried out a plan, newest first.
///
/// # Errors
/// When the store cannot be read.
pub fn offered<M>(session: &mut Session<'_, DraftSummary, M>) -> Result<Vec<Offered>, RegistryError> {
    let plans = session.list_plans()?;
    let runs = session.list_comparison_runs()?;
    let offer = |run: ComparisonRun| {
        let question = serde_json::from_str(&run.request).map_err(RegistryError::NotRead)?;
        let KeptQuestion::Plan { plan, .. } = question else { return Ok(None) };
        let plan = plans.iter().find(|other| other.id == plan);
        Ok(plan.map(|plan| Offered {
            id: run.id,
            cut: run.cut,
            plan: format!("{}.{}", plan.number, plan.version),
            title: plan.new.title.clone(),
        }))
    };
    runs.into_iter().filter_map(|run| offer(run).transpose()).collect()
}

/// A comparison before it is computed again.
pub(super) struct Chosen {
    kept: Comparison,
    texts: Texts,
    /// The plan that it carries out.
    pub(super) plan: AnalysisPlan,
}

impl Chosen {
    /// Finds a comparison to be published with a summary of a cut.
    ///
    /// # Errors
    /// When it is none of the cut, or carries out no plan.
    pub(super) fn find<M>(
        session: &mut Session<'_, DraftSummary, M>,
        id: ComparisonId,
        cut: DataCutId,
    ) -> Result<Self, RegistryError> {
        let kept = match session.find_comparison(id) {
            Err(StoreError::Absent(_)) => {
                return Err(refused("there is no such comparison; choose one from the list"));
            }
            other => other?,
        };
        if kept.content.cut != cut {
            return Err(refused(
                "it was computed on another data cut; choose a comparison on the cut of the summary",
            ));
        }
        let question = serde_json::from_str(&kept.content.request).map_err(RegistryError::NotRead)?;
        let KeptQuestion::Plan { plan, .. } = question else {
            return Err(refused(
                "it carries out no plan, and nothing that was not planned is published; choose one that does",
            ));
        };
        let plan = plans::read(&session.find_plan(plan)?)?;
        Ok(Self { texts: Texts::unsigned(session, id)?, kept, plan })
    }

    /// Computes it again, as far as it may be published.
    ///
    /// # Errors
    /// When its report is not final, or this version of the software computes otherwise.
    pub(super) fn published<A: ReadsReports>(
        self,
        store: &Store,
        permit: Permit<A>,
    ) -> Result<PublishedComparison, RegistryError> {
        let Opened { found, as_kept, .. } = read_again(store, permit, self.kept)?.with(self.texts);
        match found {
            Found::Planned(registered, report) if as_kept => planned(&registered, &report),
            _ => Err(refused(
                "this version of the software computes something else than was kept; carry out the plan again",
            )),
        }
    }
}

fn planned(registered: &Registered, report: &Report) -> Result<PublishedComparison, RegistryError> {
    if let Standing::Draft { missing } = &report.checklist.standing {
        let items: Vec<String> = missing.iter().map(u8::to_string).collect();
        return Err(refused(&format!(
            "its report is a draft: its checklist lacks {}; they must be written first",
            items.join(", ")
        )));
    }
    let registration = PlanRegistered {
        plan: registered.name.clone(),
        plan_hash: registered.plan_hash.clone(),
        day: registered.registered_at[..10].to_owned(),
        fully_prespecified: registered.is_fully_prespecified(),
    };
    Ok(PublishedComparison::of(&report.planned, registration))
}

fn refused(why: &str) -> RegistryError {
    RegistryError::field("/comparison", "comparison_not_publishable", why.to_owned())
}
