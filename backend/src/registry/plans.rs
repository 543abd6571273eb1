//! Analysis plans: registered before the comparison, with how much was known by then.

use quietbeam_analysis::study::arm::ByArm;
use quietbeam_analysis::study::cohort::CaseRow;
use quietbeam_analysis::study::plan::{AnalysisPlan, Change, PlanForm, Reach, changes};
use quietbeam_schema::ids::{CentreCode, PlanId};
use std::collections::BTreeMap;

use super::cases::record_of;
use super::{RegistryError, words};
use crate::access::Permit;
use crate::access::action::RegisterPlan;
use crate::store::{NewPlan, Plan, ReadsPlans, Session, Store, StoreError, Writing};

/// A plan that is not kept yet.
pub struct Prepared {
    /// The plan.
    pub plan: AnalysisPlan,
    /// What the cases in its scope that were entered already are worth.
    pub reach: Reach,
    new: NewPlan,
}

/// Reads a plan and counts the cases in its scope that were entered already. Nothing is kept
/// yet, so no writer waits while cases are counted.
///
/// # Errors
/// When the plan must be mended, or a record cannot be read.
pub fn prepare(
    store: &Store,
    permit: Permit<RegisterPlan>,
    form: PlanForm,
) -> Result<Prepared, RegistryError> {
    let plan = AnalysisPlan::newly_written(form)?;
    screened(&plan)?;
    let scope = plan.clone();
    let (cases_before, reach) = store.read_blocking(permit, move |session| {
        let (now, mut in_scope) = (session.now(), 0);
        let mut by_centre = BTreeMap::<CentreCode, ByArm<u32>>::new();
        session.each_case_now(|row| {
            let case = CaseRow::read(row.centre, &record_of(&row, now)?);
            if scope.eligibility().left_out(&case).is_none() {
                in_scope += 1;
                if let Some(arm) = scope.arm(&case) {
                    *by_centre.entry(case.centre).or_default().of_mut(arm) += 1;
                }
            }
            Ok::<_, RegistryError>(())
        })?;
        Ok::<_, RegistryError>((in_scope, Reach::new(by_centre.into_values())))
    })?;
    let content = serde_json::to_string(&plan).map_err(RegistryError::NotWritten)?;
    Ok(Prepared { new: NewPlan { title: plan.title().to_owned(), content, cases_before }, reach, plan })
}

/// A plan is read by many; a patient's name must not slip into it.
fn screened(plan: &AnalysisPlan) -> Result<(), RegistryError> {
    let fields = [("/title", plan.title()), ("/question", plan.question())];
    for (field, text) in fields {
        words::screened(text).map_err(|error| RegistryError::field(field, "free_text", error))?;
    }
    for planned in plan.endpoints() {
        words::screened(&planned.reason)
            .map_err(|error| RegistryError::field("/endpoints", "free_text", error))?;
    }
    Ok(())
}

impl Prepared {
    /// The newest version of a plan that says exactly the same.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn same<A: ReadsPlans, M>(
        &self,
        session: &mut Session<'_, A, M>,
    ) -> Result<Option<Plan>, StoreError> {
        Ok(session.list_plans()?.into_iter().find(|kept| kept.new.content == self.new.content))
    }

    /// Registers the plan.
    ///
    /// # Errors
    /// When the store does not do it.
    pub fn register(&self, session: &mut Session<'_, RegisterPlan, Writing>) -> Result<Plan, RegistryError> {
        Ok(session.register_plan(self.new.clone())?)
    }

    /// Registers it as a further version of a plan.
    ///
    /// # Errors
    /// When there is no such plan, nothing differs, or the reason must be mended.
    pub fn amend(
        &self,
        session: &mut Session<'_, RegisterPlan, Writing>,
        id: PlanId,
        reason: &str,
    ) -> Result<Plan, RegistryError> {
        let old = session.find_plan(id)?;
        let reason = words::reason(reason)
            .map_err(|error| RegistryError::field("/reason", "reason_required", error))?;
        if read(&old)? == self.plan {
            let sentence = "nothing differs from the version that is amended";
            return Err(RegistryError::field("/plan", "unchanged", sentence));
        }
        Ok(session.amend_plan(&old, self.new.clone(), &reason)?)
    }
}

/// The plan that a kept version holds.
///
/// # Errors
/// When the kept content is not a plan of this version of the software.
pub fn read(plan: &Plan) -> Result<AnalysisPlan, RegistryError> {
    serde_json::from_str(&plan.new.content).map_err(RegistryError::NotWritten)
}

/// What an amendment changed; nothing for the plan as it was registered.
///
/// # Errors
/// When the version before cannot be read.
pub fn amended<A: ReadsPlans, M>(
    session: &mut Session<'_, A, M>,
    plan: &Plan,
) -> Result<Vec<Change>, RegistryError> {
    match session.plan_before(plan)? {
        Some(before) => Ok(changes(&read(&before)?, &read(plan)?)),
        None => Ok(Vec::new()),
    }
}

/// The plan that a person names: its identifier, its number, or number and version as `2.1`.
/// A number alone is its newest version.
///
/// # Errors
/// When there is no such plan.
pub fn named<A: ReadsPlans, M>(session: &mut Session<'_, A, M>, name: &str) -> Result<Plan, StoreError> {
    let wanted = name.trim();
    let matches = |plan: &Plan| {
        plan.id.to_string() == wanted
            || plan.number.to_string() == wanted
            || format!("{}.{}", plan.number, plan.version) == wanted
    };
    // The newest version stands first.
    session.list_plans()?.into_iter().find(matches).ok_or(StoreError::Absent("analysis plan"))
}
