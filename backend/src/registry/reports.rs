//! Reports of comparisons: computed again from the frozen data when somebody looks, once for
//! each comparison, and checked against what was kept.

use std::sync::{Arc, Mutex, PoisonError};

use quietbeam_analysis::study::comparison::{self, Comparison as Unplanned};
use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::report::{
    Amendment, Before, Entry, Facts, JudgedCase, JudgedEvent, Origin, Report, ReportCase, ToldBy, report,
};
use quietbeam_analysis::study::request::ComparisonRequest;
use quietbeam_schema::adjudication::Settled;
use quietbeam_schema::case::{CaseRecord, Complication};
use quietbeam_schema::endpoint::{self, HarmWindow};
use quietbeam_schema::ids::ComparisonId;
use quietbeam_schema::instant::Instant;
use quietbeam_schema::vocabulary::{HarmRuling, HarmTier};

use super::adjudication::{self, Ruled, Standing};
use super::at_cut::{Around, log_of};
use super::cases::form_of;
use super::comparisons::{
    KeptQuestion, Registered, SOFTWARE_VERSION, cohort_of, kept_as, looks_until, with_provenance,
};
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
                let Read { cases, entry, judged } = read_cases(session, &cut, &plans::read(&plan)?)?;
                let facts = Facts { entry: Some(entry), judged, ..facts(session, &plan, &cut)? };
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

/// The cases of a cut, how they came in, and what their judges said.
#[derive(Default)]
struct Read {
    cases: Vec<ReportCase>,
    entry: Entry,
    judged: Vec<JudgedCase>,
}

fn read_cases<A: ReadsReports>(
    session: &mut Session<'_, A>,
    cut: &DataCut,
    plan: &AnalysisPlan,
) -> Result<Read, RegistryError> {
    let around = Around::asked(session, cut, plan)?;
    let entries = session.entries_of(cut)?;
    let rulings = adjudication::by_event(session.judgements_of(cut)?);
    let mut read = Read { cases: Vec::with_capacity(entries.len()), ..Read::default() };
    // The rules are applied as they stood when the cut was taken.
    session.each_case(cut, |row| {
        let (entered, at) = entries.get(&row.code.to_string()).copied().unwrap_or((row.seq, row.at));
        let form = form_of(&row)?;
        let record = form.check(cut.at.quarter()).map_err(RegistryError::Findings)?.record;
        let mut case = ReportCase::read(entered, row.centre, &record);
        if let Some(around) = &around {
            case.row.at_cut = around.against(&row.code.to_string(), case.row.centre, case.row.period);
        }
        let days = (at.unix_seconds() - Instant::begin_of(case.row.period.next()).unix_seconds()) / 86_400;
        read.entry.delays_days.push(u32::try_from(days).unwrap_or(0));
        let standing = adjudication::standing(row.code, &form, &rulings);
        if !standing.complications.is_empty() || standing.death.is_some() {
            read.judged.push(judged(entered, &record, &standing));
        }
        read.cases.push(case);
        Ok::<_, RegistryError>(())
    })?;
    for question in session.questions_at(cut)? {
        read.entry.questions += 1;
        read.entry.open += u32::from(question.open);
        let decides = question.field.as_deref().is_some_and(endpoint::decides);
        read.entry.open_on_outcome += u32::from(question.open && decides);
    }
    Ok(read)
}

/// A case by its judges, and by the record where they settled nothing.
fn judged(entered: i64, record: &CaseRecord, standing: &Standing) -> JudgedCase {
    let by_record =
        |event: &Complication| endpoint::harm_tier(event, record).used().unwrap_or(HarmTier::Minor);
    let is_major = |place: usize, event: &Complication| {
        let ruled = standing.complications.get(place).and_then(Option::as_ref);
        counts(ruled, by_record(event) == HarmTier::Major)
    };
    // A death that a complication tells stands and falls with it.
    let complications = || record.complications().iter().enumerate();
    let mut fatal = complications().filter(|(_, event)| endpoint::is_fatal(event)).peekable();
    let death_counts = match fatal.peek() {
        Some(_) => fatal.any(|(place, event)| is_major(place, event)),
        None => counts(standing.death.as_ref(), true),
    };
    let event = |by_record, ruled: Option<&Ruled>, told_by| JudgedEvent {
        by_record,
        told_by,
        settled: ruled.map(Ruled::settled),
        first_two: ruled.and_then(Ruled::first_two),
    };
    let told = record.complications().iter().zip(&standing.complications);
    let told = told.map(|(told, ruled)| event(by_record(told), ruled.as_ref(), ToldBy::Complication));
    let death = standing.death.as_ref().map(|ruled| event(HarmTier::Major, Some(ruled), ToldBy::FollowUp));
    JudgedCase {
        entered,
        events: told.chain(death).collect(),
        major_within_30_days: endpoint::major_by(record, HarmWindow::Within30Days, is_major, death_counts),
        major_before_discharge: endpoint::major_by(
            record,
            HarmWindow::BeforeDischarge,
            is_major,
            death_counts,
        ),
    }
}

/// Whether an event counts as major: by its judges, and by the record where they settled nothing.
fn counts(ruled: Option<&Ruled>, by_record: bool) -> bool {
    match ruled.map(Ruled::settled).and_then(Settled::ruling) {
        Some(HarmRuling::Major) => true,
        Some(HarmRuling::Minor | HarmRuling::NoHarm) => false,
        Some(HarmRuling::CannotTell) | None => by_record,
    }
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
