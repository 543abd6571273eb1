//! Comparisons on a data cut: computed by the core, kept with the cut's hash
//! and the plan they carry out.

use quietbeam_analysis::study::cohort::Cohort;
use quietbeam_analysis::study::comparison::{self, Comparison as Unplanned};
use quietbeam_analysis::study::look::{LooksTaken, information};
use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::planned::{PlannedComparison, carry_out_at};
use quietbeam_analysis::study::request::ComparisonRequest;
use quietbeam_schema::ids::{DataCutId, PlanId};
use serde::{Deserialize, Serialize};

use super::RegistryError;
use super::cut_columns::cohort_of;
use super::plans;
use crate::access::Permit;
use crate::access::action::RunComparison;
use crate::store::{Comparison, DataCut, KeptLook, NewComparison, Plan, Session, Store, StoreError, Writing};

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

/// What is asked of a cut.
#[derive(Debug, Clone)]
pub enum Question {
    /// To carry out a registered plan.
    Plan(PlanId),
    /// To compare without a plan, which shows nothing that was fixed beforehand.
    WithoutPlan(ComparisonRequest),
}

/// The question with its plan read.
enum Asked {
    Plan(Box<(Plan, AnalysisPlan)>, Vec<KeptLook>),
    WithoutPlan(ComparisonRequest),
}

/// A question as it is kept.
#[derive(Serialize, Deserialize)]
#[serde(untagged)]
pub(crate) enum KeptQuestion {
    Plan { plan: PlanId, plan_hash: String },
    WithoutPlan(ComparisonRequest),
}

/// The plan that a comparison carries out, and how much was known when it was registered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Registered {
    /// The version's identifier.
    pub id: String,
    /// Number and version, such as `3.1`.
    pub name: String,
    /// SHA-256 of the plan.
    pub plan_hash: String,
    /// When it was registered.
    pub registered_at: String,
    /// Cases in its scope that had been entered before.
    pub cases_before: i64,
    /// Comparisons that had been computed before, on any cut.
    pub comparisons_before: i64,
    /// How often anyone had opened one of them before: each person once with each of them.
    pub opened_before: i64,
    /// Whether the data had been frozen before the plan was registered.
    pub cut_taken_before: bool,
}

impl Registered {
    pub(super) fn new(plan: &Plan, cut: &DataCut) -> Self {
        Self {
            id: plan.id.to_string(),
            name: format!("{}.{}", plan.number, plan.version),
            plan_hash: plan.content_hash.clone(),
            registered_at: plan.at.to_string(),
            cases_before: plan.new.cases_before,
            comparisons_before: plan.comparisons_before,
            opened_before: plan.opened_before,
            cut_taken_before: cut.at < plan.at,
        }
    }

    /// Whether nobody can have looked at the cases in scope before the plan was fixed.
    pub fn is_fully_prespecified(&self) -> bool {
        self.cases_before == 0 && self.comparisons_before == 0 && !self.cut_taken_before
    }
}

/// What came out.
pub enum Outcome {
    /// A plan was carried out.
    Planned(Registered, Box<PlannedComparison>),
    /// A comparison without a plan.
    Unplanned(Box<Unplanned>),
}

/// A planned result as it is kept.
#[derive(Serialize)]
struct Kept<'a> {
    registered: &'a Registered,
    fully_prespecified: bool,
    #[serde(flatten)]
    result: &'a PlannedComparison,
}

/// A result that is not kept yet.
pub struct Computed {
    /// The cut it was computed on.
    pub cut: DataCut,
    /// The result.
    pub outcome: Outcome,
    /// What will be kept.
    new: NewComparison,
    /// The look that it takes; `None` for a cut that was looked at before, or without a plan.
    takes: Option<TakesLook>,
}

/// A look that is not kept yet.
#[derive(Clone, Copy)]
struct TakesLook {
    plan_number: i64,
    earlier: usize,
    look: KeptLook,
}

/// The looks under a plan up to that of a cut, if the cut was looked at.
pub(super) fn looks_until(kept: &[KeptLook], cut: DataCutId) -> Option<LooksTaken> {
    let at = kept.iter().position(|look| look.cut == cut)?;
    let earlier = kept[..at].iter().map(|look| look.taken).collect();
    Some(LooksTaken::again(earlier, kept[at].taken))
}

impl TakesLook {
    /// The look that a cut is under a plan: the same as before, or the next, which is to be kept.
    fn find(
        (plan, read): (&Plan, &AnalysisPlan),
        kept: &[KeptLook],
        (cut, cohort): (DataCutId, &Cohort),
    ) -> (LooksTaken, Option<Self>) {
        if let Some(again) = looks_until(kept, cut) {
            return (again, None);
        }
        let earlier = kept.iter().map(|look| look.taken).collect();
        let next = LooksTaken::next(read, earlier, information(cohort, read));
        let look = KeptLook { cut, taken: next.own() };
        (next, Some(Self { plan_number: plan.number, earlier: kept.len(), look }))
    }
}

/// Compares the strategies on a cut. Nothing is kept yet, so no writer waits
/// while numbers are computed.
///
/// # Errors
/// When there is no such cut or plan, or a record of the cut cannot be read.
pub fn compute(
    store: &Store,
    permit: Permit<RunComparison>,
    cut: DataCutId,
    question: Question,
) -> Result<Computed, RegistryError> {
    let (cut, asked, cohort) = store.read_blocking(permit, move |session| {
        let cut = session.find_cut(cut)?;
        let asked = match question {
            Question::Plan(id) => {
                let plan = session.find_plan(id)?;
                let (read, looks) = (plans::read(&plan)?, session.looks_of(plan.number)?);
                Asked::Plan(Box::new((plan, read)), looks)
            }
            Question::WithoutPlan(request) => Asked::WithoutPlan(request),
        };
        let plan = match &asked {
            Asked::Plan(plan, _) => Some(&plan.1),
            Asked::WithoutPlan(_) => None,
        };
        let cohort = cohort_of(session, &cut, plan)?;
        Ok::<_, RegistryError>((cut, asked, cohort))
    })?;
    let question = match &asked {
        Asked::Plan(asked, _) => {
            let plan = &asked.0;
            KeptQuestion::Plan { plan: plan.id, plan_hash: plan.content_hash.clone() }
        }
        Asked::WithoutPlan(request) => KeptQuestion::WithoutPlan(request.clone()),
    };
    let request = serde_json::to_string(&question).map_err(RegistryError::NotWritten)?;
    let (outcome, result, takes) = match asked {
        Asked::WithoutPlan(request) => {
            let result = comparison::compare(&cohort, &request);
            let kept = with_provenance(&cut, &result)?;
            (Outcome::Unplanned(Box::new(result)), kept, None)
        }
        Asked::Plan(asked, looks) => {
            let (plan, read) = *asked;
            let registered = Registered::new(&plan, &cut);
            let (taken, takes) = TakesLook::find((&plan, &read), &looks, (cut.id, &cohort));
            let result = carry_out_at(&cohort, &read, &taken);
            let kept = kept_as(&cut, &registered, &result)?;
            (Outcome::Planned(registered, Box::new(result)), kept, takes)
        }
    };
    let new = NewComparison { cut: cut.id, request, result, software_version: SOFTWARE_VERSION.to_owned() };
    Ok(Computed { cut, outcome, new, takes })
}

/// A planned result in the canonical JSON in which it is kept.
pub(super) fn kept_as(
    cut: &DataCut,
    registered: &Registered,
    result: &PlannedComparison,
) -> Result<String, RegistryError> {
    let fully_prespecified = registered.is_fully_prespecified();
    with_provenance(cut, &Kept { registered, fully_prespecified, result })
}

impl Computed {
    /// The comparison that asked the same of the same cut of the same software before.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn same(
        &self,
        session: &mut Session<'_, RunComparison, Writing>,
    ) -> Result<Option<Comparison>, StoreError> {
        session.same_comparison(self.cut.id, &self.new.request, SOFTWARE_VERSION)
    }

    /// Keeps the result, also one that only repeats another, and the look that it takes.
    ///
    /// # Errors
    /// When another look was taken meanwhile, or the store does not do it.
    pub fn keep(&self, session: &mut Session<'_, RunComparison, Writing>) -> Result<Comparison, StoreError> {
        if let Some(TakesLook { plan_number, earlier, look }) = self.takes {
            session.take_look(plan_number, earlier, look)?;
        }
        session.save_comparison(self.new.clone())
    }
}
