//! Reports of comparisons: computed again from the frozen data when somebody looks, once for
//! each comparison, and checked against what was kept.

use std::sync::{Arc, Mutex, PoisonError};

use quietbeam_analysis::study::comparison::{self, Comparison as Unplanned};
use quietbeam_analysis::study::report::{Before, Facts, LogCounts, Report, ReportCase, report};
use quietbeam_analysis::study::request::ComparisonRequest;
use quietbeam_schema::ids::ComparisonId;

use super::cases::record_of;
use super::comparisons::{KeptQuestion, Registered, cohort_of, kept_as, with_provenance};
use super::{RegistryError, plans};
use crate::access::Permit;
use crate::access::action::ReadComparisons;
use crate::store::{Comparison, DataCut, Plan, Session, Store, StoreError};

/// What a comparison found, ready to be read.
pub struct Opened {
    /// The comparison as it was kept.
    pub kept: Comparison,
    /// The cut it was computed on.
    pub cut: DataCut,
    /// What came out.
    pub found: Found,
    /// Whether this version of the software computes to the letter what was kept.
    pub as_kept: bool,
}

/// What came out.
pub enum Found {
    /// A plan was carried out.
    Planned(Registered, Box<Report>),
    /// A comparison without a plan.
    Unplanned(Box<Unplanned>),
}

/// How many reports stay in memory.
const KEPT: usize = 8;

/// The reports that were read last. A comparison never changes, so neither does its report.
#[derive(Default)]
pub struct Reports(Mutex<Vec<Arc<Opened>>>);

impl Reports {
    fn find(&self, id: ComparisonId) -> Option<Arc<Opened>> {
        let mut reports = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let at = reports.iter().position(|report| report.kept.id == id)?;
        // The one read last stands last.
        let report = reports.remove(at);
        reports.push(Arc::clone(&report));
        Some(report)
    }

    fn keep(&self, report: &Arc<Opened>) {
        let mut reports = self.0.lock().unwrap_or_else(PoisonError::into_inner);
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
    ) -> Result<Arc<Opened>, RegistryError> {
        if let Some(report) = self.find(opened.id) {
            return Ok(report);
        }
        let report = Arc::new(read_again(store, permit, opened)?);
        self.keep(&report);
        Ok(report)
    }
}

/// What is read from the store before anything is computed.
enum Material {
    Plan(Box<Plan>, Vec<ReportCase>, Facts),
    WithoutPlan(Box<Unplanned>),
}

fn read_again(
    store: &Store,
    permit: Permit<ReadComparisons>,
    kept: Comparison,
) -> Result<Opened, RegistryError> {
    let question = serde_json::from_str(&kept.content.request).map_err(RegistryError::NotWritten)?;
    let look = kept.clone();
    let (cut, material) = store.read_blocking(permit, move |session| {
        let cut = session.find_cut(look.content.cut)?;
        let material = match question {
            KeptQuestion::Plan { plan, .. } => {
                let plan = session.find_plan(plan)?;
                let facts = facts(session, &plan, &cut, &look)?;
                Material::Plan(Box::new(plan), cases(session, &cut)?, facts)
            }
            KeptQuestion::WithoutPlan(request) => unplanned(session, &cut, &request)?,
        };
        Ok::<_, RegistryError>((cut, material))
    })?;
    let (found, again) = match material {
        Material::Plan(plan, cases, facts) => {
            let registered = Registered::new(&plan, &cut);
            let report = report(cases, &plans::read(&plan)?, &facts);
            let again = kept_as(&cut, &registered, &report.planned)?;
            (Found::Planned(registered, Box::new(report)), again)
        }
        Material::WithoutPlan(result) => {
            let again = with_provenance(&cut, &result)?;
            (Found::Unplanned(result), again)
        }
    };
    Ok(Opened { as_kept: again == kept.content.result, kept, cut, found })
}

fn unplanned(
    session: &mut Session<'_, ReadComparisons>,
    cut: &DataCut,
    request: &ComparisonRequest,
) -> Result<Material, RegistryError> {
    Ok(Material::WithoutPlan(Box::new(comparison::compare(&cohort_of(session, cut)?, request))))
}

fn cases(
    session: &mut Session<'_, ReadComparisons>,
    cut: &DataCut,
) -> Result<Vec<ReportCase>, RegistryError> {
    let entries = session.entries_of(cut)?;
    let mut cases = Vec::with_capacity(entries.len());
    // The rules are applied as they stood when the cut was taken.
    session.each_case(cut, |row| {
        let entered = entries.get(&row.code.to_string()).copied().unwrap_or(row.seq);
        cases.push(ReportCase::read(entered, row.centre, &record_of(&row, cut.at)?));
        Ok::<_, RegistryError>(())
    })?;
    Ok(cases)
}

fn facts(
    session: &mut Session<'_, ReadComparisons>,
    plan: &Plan,
    cut: &DataCut,
    look: &Comparison,
) -> Result<Facts, StoreError> {
    let whole = |number: i64| u32::try_from(number).unwrap_or(u32::MAX);
    let log = session.screening_of(cut)?.into_iter().map(|row| LogCounts {
        centre: row.line.centre,
        period: row.line.period,
        group: row.line.group,
        counts: row.counts,
        signed: row.signed_by.is_some(),
    });
    Ok(Facts {
        log: log.collect(),
        before: Before {
            cases: whole(plan.new.cases_before),
            views: whole(plan.comparisons_before + plan.opened_before),
            cut_taken: cut.at < plan.at,
        },
        earlier_looks: earlier_looks(session, plan, look)?,
        // Nobody can write the texts of the checklist yet, so their items stand as missing.
        ..Facts::default()
    })
}

/// How often the plan, in any version, had been carried out before this time.
fn earlier_looks(
    session: &mut Session<'_, ReadComparisons>,
    plan: &Plan,
    look: &Comparison,
) -> Result<u32, StoreError> {
    let versions = session.list_plans()?.into_iter().filter(|other| other.number == plan.number);
    let versions: Vec<_> = versions.map(|version| version.id).collect();
    let runs = session.list_comparison_runs()?;
    // The newest stands first, so what stands behind this one came before it.
    let before = runs.iter().skip_while(|run| run.id != look.id).skip(1);
    let same = before.filter(|run| match serde_json::from_str(&run.request) {
        Ok(KeptQuestion::Plan { plan, .. }) => versions.contains(&plan),
        _ => false,
    });
    Ok(u32::try_from(same.count()).unwrap_or(u32::MAX))
}
