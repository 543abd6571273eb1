//! What happens in the demo, step by step, each by the person whose work it is.

use super::super::Failure;
use super::super::compare;
use super::super::import::rows_bar;
use super::super::plan;
use super::super::registry::Registry;
use super::people::Staff;
use crate::access::Permit;
use crate::access::action::{
    ApproveSummary, DraftSummary, ImportFiles, IssueCaseCodes, ManageCentres, PublishSummary, ReadCentres,
    ReadDataCuts, RegisterPlan, RunComparison, SignScreeningLog, TakeDataCut, WriteScreeningLog,
};
use crate::access::session::Caller;
use crate::demo::{CentreFiles, DemoCentre, Scenario};
use crate::intake::{FileKind, Files, Source};
use crate::registry::comparisons::{self, Computed, Question};
use crate::registry::imports::{Outcome, Request, Wanted, import};
use crate::registry::plans;
use crate::registry::{approvals, centres, cuts, summaries};
use crate::store::{Comparison, DataCut, ScreeningEntry, ScreeningLine, StoreError};
use quietbeam_schema::centre_approval::{Day, Terms};
use quietbeam_schema::instant::Instant;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::summary_design::DesignForm;
use quietbeam_schema::vocabulary::{ApprovalKind, Coded, DisclosureProfile, SummaryTable};
use std::io::Write;
use std::sync::Arc;

/// So many days from the day of the demo its ethics approvals still hold, and its agreements.
const DAYS_OF_ETHICS: i64 = 23;
const DAYS_OF_AGREEMENT: i64 = 400;

/// What a folder holds before the demo begins.
pub(super) enum Found {
    /// A new registry.
    Nothing,
    /// The demo of an earlier run.
    Demo { cases: i64 },
    /// Somebody's registry.
    Foreign,
}

/// Looks at what is there.
pub(super) fn found(registry: &Registry) -> Result<Found, Failure> {
    let permit = Permit::<ReadCentres>::for_operator("demo looks at what is there");
    let there = registry.store.read_blocking(permit, |session| session.list_centres())?;
    if there.is_empty() {
        return Ok(Found::Nothing);
    }
    let invented = Scenario::generate(0, 100);
    if there.iter().any(|centre| !invented.centres.iter().any(|known| known.centre == *centre)) {
        return Ok(Found::Foreign);
    }
    let permit = Permit::<ReadDataCuts>::for_operator("demo looks at what is there");
    let cuts = registry.store.read_blocking(permit, |session| session.list_cuts())?;
    match cuts.first() {
        Some(cut) => Ok(Found::Demo { cases: cut.cases }),
        // A run that was cut short left centres without results.
        None => Err(Failure::Refused(
            "an earlier run of the demo did not finish; remove its folder or database and run it again"
                .to_owned(),
        )),
    }
}

/// Enters a centre with its rooms and its approvals, of which one ends soon.
pub(super) fn open_centre(registry: &Registry, centre: &DemoCentre) -> Result<(), Failure> {
    let (new, rooms) = (centre.centre.clone(), centre.rooms.clone());
    let begin = Day::of(Instant::begin_of(Quarter::FIRST));
    let today = Day::of(registry.clock.now());
    let terms = move |kind, reference: &str, days| Terms {
        kind,
        reference: reference.to_owned(),
        valid_from: begin,
        valid_until: today.plus(days),
    };
    let permit = Permit::<ManageCentres>::for_operator("demo centres");
    registry.store.write_blocking(permit, move |session| {
        centres::create(session, &new)?;
        let ethics = terms(ApprovalKind::EthicsApproval, "board file 7", DAYS_OF_ETHICS);
        approvals::record(session, new.code, ethics, None)?;
        let agreement = terms(ApprovalKind::DataAgreement, "network agreement, version 2", DAYS_OF_AGREEMENT);
        approvals::record(session, new.code, agreement, None)?;
        rooms.iter().try_for_each(|room| centres::record_room(session, new.code, None, room))
    })?;
    Ok(())
}

/// One centre takes codes, sends its files, and signs its screening log.
pub(super) fn send_files(
    registry: &Registry,
    staff: &Staff,
    centre: &DemoCentre,
    out: &mut dyn Write,
) -> Result<(), Failure> {
    let code = centre.centre.code;
    let Some((coordinator, lead)) = staff.centres.get(&code) else {
        return Err(Failure::Broken("a demo centre has nobody who works there".to_owned()));
    };
    let number = centre.case_rows();
    let codes = registry.store.write_blocking(coordinator.permit::<IssueCaseCodes>()?, move |session| {
        session.issue_case_codes(code, number)
    })?;
    let files = centre.files(&codes);
    let texts = [&files.cases, &files.complications, &files.follow_ups];
    let rows: usize = texts.iter().map(|text| text.lines().skip(1).count()).sum();
    let bar = rows_bar(code.to_string(), u64::try_from(rows).ok());
    let progress = {
        let bar = bar.clone();
        Arc::new(move |rows| bar.set_position(rows))
    };
    let files = files_of(files);
    let request = Request { centre: code, files, wanted: Wanted::GoodRows, progress };
    let outcome = import(
        &registry.store,
        coordinator.permit::<ImportFiles>()?,
        coordinator.permit::<ImportFiles>()?,
        request,
    )?;
    bar.finish_and_clear();
    print_outcome(centre, &outcome, out)?;
    keep_log(registry, (coordinator, lead), centre)
}

fn files_of(files: CentreFiles) -> Files {
    let CentreFiles { cases, complications, follow_ups } = files;
    let mut all = Files::default();
    let texts = [
        (FileKind::Cases, cases),
        (FileKind::Complications, complications),
        (FileKind::FollowUps, follow_ups),
    ];
    // A centre that had no complication sends no file of them.
    for (kind, text) in texts.into_iter().filter(|(_, text)| text.lines().nth(1).is_some()) {
        all.put(kind, Source::Bytes(text.into_bytes().into()));
    }
    all
}

fn print_outcome(centre: &DemoCentre, outcome: &Outcome, out: &mut dyn Write) -> Result<(), Failure> {
    let counts = outcome.report.counts(FileKind::Cases);
    writeln!(
        out,
        "{}  {:<32} {:>6} rows sent  {:>6} stored  {:>4} with something to answer  {:>3} refused",
        centre.centre.code,
        centre.centre.name,
        counts.read,
        outcome.changes.new,
        counts.with_query,
        counts.refused
    )?;
    let hard = outcome.report.problems.iter().filter(|problem| {
        problem.file == FileKind::Cases && problem.weight == quietbeam_schema::finding::Weight::Hard
    });
    // One example tells what a line of the report looks like.
    for problem in hard.take(1) {
        writeln!(out, "       {problem}")?;
    }
    Ok(())
}

/// The coordinator enters the screening log and the lead signs it.
fn keep_log(
    registry: &Registry,
    (coordinator, lead): (&Caller, &Caller),
    centre: &DemoCentre,
) -> Result<(), Failure> {
    let code = centre.centre.code;
    let lines = centre.screening.clone();
    let entered =
        registry.store.write_blocking(coordinator.permit::<WriteScreeningLog>()?, move |session| {
            let mut entered = Vec::with_capacity(lines.len());
            for line in lines {
                let counts = line.counts;
                let line = ScreeningLine { centre: code, period: line.period, group: line.group };
                let entry = ScreeningEntry { line, expected_revision: None, counts, reason: None };
                entered.push((line, session.record_screening(entry)?.revision));
            }
            Ok::<_, StoreError>(entered)
        })?;
    registry.store.write_blocking(lead.permit::<SignScreeningLog>()?, move |session| {
        entered
            .into_iter()
            .try_for_each(|(line, revision)| session.sign_screening(line, revision).map(|_| ()))
    })?;
    Ok(())
}

/// The investigator freezes the data.
pub(super) fn take_cut(registry: &Registry, staff: &Staff, out: &mut dyn Write) -> Result<DataCut, Failure> {
    let permit = staff.investigator.permit::<TakeDataCut>()?;
    let cut = registry.store.write_blocking(permit, |session| cuts::take(session, "demo cut"))?;
    writeln!(out, "\nData cut \"{}\": {} cases, hash {}", cut.name, cut.cases, &cut.content_hash[..16])?;
    Ok(cut)
}

/// The society composes a summary, the monitor approves what it says, and
/// another member of the society publishes it.
pub(super) fn publish(
    registry: &Registry,
    staff: &Staff,
    (cut, compared): (&DataCut, &Comparison),
    out: &mut dyn Write,
) -> Result<String, Failure> {
    let store = &registry.store;
    let permits = [staff.composer.permit()?, staff.composer.permit()?];
    let composed = summaries::compose(store, permits, cut.id, design(cut, compared))?;
    let content = composed.new.content.clone();
    let kept = store.write_blocking(staff.composer.permit::<DraftSummary>()?, move |session| {
        let id = session.draft_summary(&composed.new)?;
        session.find_summary(id)
    })?;
    let permit = || staff.monitor.permit::<ApproveSummary>();
    let read = summaries::version(&kept).into();
    summaries::approve(store, [permit()?, permit()?], kept.id, &read)?;
    let permit = || staff.publisher.permit::<PublishSummary>();
    let (number, _) = summaries::publish(store, [permit()?, permit()?], kept.id)?;
    writeln!(
        out,
        "Safety summary {} published: composed by the society, approved by the monitor, published by a third person.",
        number.0
    )?;
    Ok(content)
}

/// So many cases make two tiers show something, and every table worth its check.
const LARGE: i64 = 1_000;

/// What a summary can show of a large network; of a small one the table that every summary has.
fn design(cut: &DataCut, compared: &Comparison) -> DesignForm {
    if cut.cases < LARGE {
        return DesignForm::default();
    }
    let text = "Seven centres sent every ablation that they entered, with the strategy as it was meant beforehand.\n\
        We show rare harms of the whole network even where they are few, because patients and staff must be told \
        of them, and nothing by which a patient could be recognised.\n\
        Whether doing without X-ray changes what happens, these tables cannot say: operators chose it for the \
        easier cases.";
    DesignForm {
        tables: SummaryTable::all().iter().copied().collect(),
        comparison: Some(compared.id.to_string()),
        profile: Some(DisclosureProfile::TwoTier),
        profile_reason: Some("rare harms of the whole network must be told to patients and staff".to_owned()),
        question: Some("How safe is ablation when no X-ray is planned?".to_owned()),
        text: Some(text.to_owned()),
        ..DesignForm::default()
    }
}

/// The investigator writes down what will be compared, before any case is there.
pub(super) fn register_plan(registry: &Registry, staff: &Staff, out: &mut dyn Write) -> Result<(), Failure> {
    let permit = || staff.investigator.permit::<RegisterPlan>();
    let prepared = plans::prepare(&registry.store, permit()?, plan::example()?)?;
    let kept = registry.store.write_blocking(permit()?, move |session| prepared.register(session))?;
    Ok(writeln!(
        out,
        "Plan {}.{} registered before the first case, hash {}\n",
        kept.number,
        kept.version,
        &kept.content_hash[..16]
    )?)
}

/// The investigator carries out the plan.
pub(super) fn compare(
    registry: &Registry,
    staff: &Staff,
    cut: &DataCut,
) -> Result<(Arc<Computed>, Comparison), Failure> {
    let permit = || staff.investigator.permit::<RunComparison>();
    let plan = registry.store.read_blocking(permit()?, |session| plans::named(session, "1"))?;
    let question = Question::Plan(plan.id);
    let computed = Arc::new(comparisons::compute(&registry.store, permit()?, cut.id, question)?);
    let kept = compare::keep(&registry.store, permit()?, &computed)?;
    Ok((computed, kept))
}
