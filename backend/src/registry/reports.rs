//! Reports of comparisons: computed again from the frozen data when somebody looks, once for
//! each comparison, and checked against what was kept.

use std::sync::{Arc, Mutex, PoisonError};

use quietbeam_analysis::study::comparison::{self, Comparison as Unplanned};
use quietbeam_analysis::study::report::{Amendment, Before, Facts, Origin, Report, ReportCase, report};
use quietbeam_analysis::study::request::ComparisonRequest;
use quietbeam_schema::ids::ComparisonId;
use quietbeam_schema::instant::Instant;

use super::at_cut::{Around, log_of};
use super::comparisons::{KeptQuestion, Registered, SOFTWARE_VERSION, kept_as, looks_until, with_provenance};
use super::cut_columns::{CutColumns, cohort_of};
use super::report_texts::Texts;
use super::{RegistryError, plans};
use crate::access::Permit;
use crate::access::action::ReadComparisons;
use crate::store::{
    Comparison, DataCut, Plan, ReadsComparisons, ReadsCutCases, ReadsPlans, Session, Store, StoreError,
};

/// What a comparison found, ready to be read.
#[derive(Clone)]
pub struct Opened {
    /// The comparison as it was kept.
    pub kept: Comparison,
    /// The cut it was computed on.
    pub cut: DataCut,
    /// What came out.
    pub found: Found,
    /// Whether this version of the software computes to the letter what was kept.
    pub as_kept: bool,
    /// What people wrote into it.
    pub texts: Texts,
}

impl Opened {
    /// The same with what people wrote since.
    pub(super) fn with(mut self, texts: Texts) -> Self {
        if let Found::Planned(_, report) = &mut self.found {
            report.checklist.write(&texts.written());
        }
        self.texts = texts;
        self
    }
}

/// What came out.
#[derive(Clone)]
pub enum Found {
    /// A plan was carried out.
    Planned(Registered, Box<Report>),
    /// A comparison without a plan.
    Unplanned(Box<Unplanned>),
}

/// How many reports stay in memory.
const KEPT: usize = 8;

/// The reports that were read last. A comparison never changes, so neither does its report, but
/// for what people write into it.
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
        reports.retain(|other| other.kept.id != report.kept.id);
        if reports.len() >= KEPT {
            reports.remove(0);
        }
        reports.push(Arc::clone(report));
    }

    /// The report of a comparison that was opened, with what stands written in it.
    ///
    /// # Errors
    /// When a record of the cut cannot be read.
    pub fn of(
        &self,
        store: &Store,
        permit: Permit<ReadComparisons>,
        (opened, texts): (Comparison, Texts),
    ) -> Result<Arc<Opened>, RegistryError> {
        let report = match self.find(opened.id) {
            Some(report) if report.texts == texts => return Ok(report),
            Some(report) => Opened::clone(&report).with(texts),
            None => read_again(store, permit, opened)?.with(texts),
        };
        let report = Arc::new(report);
        self.keep(&report);
        Ok(report)
    }
}

/// What is read from the store before anything is computed.
enum Material {
    Plan(Box<Plan>, Vec<ReportCase>, Box<Facts>),
    WithoutPlan(Box<Unplanned>),
}

/// The permits that make a report.
pub(super) trait ReadsReports: ReadsComparisons + ReadsCutCases + ReadsPlans {}
impl<A: ReadsComparisons + ReadsCutCases + ReadsPlans> ReadsReports for A {}

/// Computes a comparison again, without what people wrote into its report.
///
/// # Errors
/// When a record of the cut cannot be read.
pub(super) fn read_again<A: ReadsReports>(
    store: &Store,
    permit: Permit<A>,
    kept: Comparison,
) -> Result<Opened, RegistryError> {
    let question = serde_json::from_str(&kept.content.request).map_err(RegistryError::NotWritten)?;
    let on = kept.content.cut;
    let (cut, material) = store.read_blocking(permit, move |session| {
        let cut = session.find_cut(on)?;
        let material = match question {
            KeptQuestion::Plan { plan, .. } => {
                let plan = session.find_plan(plan)?;
                let around = Around::asked(session, &cut, &plans::read(&plan)?)?;
                let columns = CutColumns::of(session, &cut)?;
                let cases = columns.cases(around.as_ref());
                let (entry, judged) = (Some(columns.entry.clone()), columns.judged.clone());
                let facts = Facts { entry, judged, ..facts(session, &plan, &cut)? };
                Material::Plan(Box::new(plan), cases, Box::new(facts))
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
    Ok(Opened { as_kept: again == kept.content.result, kept, cut, found, texts: Texts::default() })
}

fn unplanned<A: ReadsReports>(
    session: &mut Session<'_, A>,
    cut: &DataCut,
    request: &ComparisonRequest,
) -> Result<Material, RegistryError> {
    Ok(Material::WithoutPlan(Box::new(comparison::compare(&cohort_of(session, cut, None)?, request))))
}

fn facts<A: ReadsReports>(
    session: &mut Session<'_, A>,
    plan: &Plan,
    cut: &DataCut,
) -> Result<Facts, StoreError> {
    let whole = |number: i64| u32::try_from(number).unwrap_or(u32::MAX);
    Ok(Facts {
        log: log_of(session, cut)?,
        before: Before {
            cases: whole(plan.new.cases_before),
            views: whole(plan.comparisons_before + plan.opened_before),
            cut_taken: cut.at < plan.at,
        },
        // A kept comparison has its look; without one it would be told as the first.
        looks: looks_until(&session.looks_of(plan.number)?, cut.id),
        origin: Some(origin(session, plan, cut)?),
        entry: None,
        judged: Vec::new(),
    })
}

fn origin<A: ReadsReports>(
    session: &mut Session<'_, A>,
    plan: &Plan,
    cut: &DataCut,
) -> Result<Origin, StoreError> {
    let day = |at: Instant| at.to_string()[..10].to_owned();
    let mut versions: Vec<Plan> = session.list_plans()?;
    versions.retain(|other| other.number == plan.number && other.version <= plan.version);
    versions.sort_by_key(|version| version.version);
    let amendment = |version: Plan| {
        let registered = day(version.at);
        version.reason.map(|reason| Amendment { registered, reason })
    };
    Ok(Origin {
        cut: cut.name.clone(),
        cut_hash: cut.content_hash.clone(),
        cut_taken: day(cut.at),
        form_versions: session.form_versions_of(cut)?,
        plan: format!("{}.{}", plan.number, plan.version),
        plan_hash: plan.content_hash.clone(),
        plan_registered: day(plan.at),
        amendments: versions.into_iter().filter_map(amendment).collect(),
        software: SOFTWARE_VERSION.to_owned(),
    })
}
