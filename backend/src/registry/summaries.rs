//! Safety summaries: composed from a cut as a design asks, with small cells hidden before anyone
//! sees them; attacked again with everything published meanwhile before each step to the public;
//! withdrawn with a public reason, corrected by a later one.

use quietbeam_analysis::methods::disclosure::Learnt;
use quietbeam_analysis::study::cohort::Cohort;
use quietbeam_analysis::study::plan::AnalysisPlan;
use quietbeam_analysis::study::summary::{
    Asking, Earlier, SafetySummary, SummaryError, attack_again, summarise,
};
use quietbeam_schema::ids::{DataCutId, SummaryId, SummaryNumber};
use quietbeam_schema::summary::SummaryStage;
use quietbeam_schema::summary_design::DesignForm;

use super::at_cut::surroundings_of;
use super::comparisons::with_provenance;
use super::cut_columns::cohort_of;
use super::published_comparison::Chosen;
use super::{IfMatch, RegistryError, Stale, Version, words};
use crate::access::action::{ApproveSummary, DraftSummary, PublishSummary, WithdrawSummary};
use crate::access::{Action, Permit};
use crate::store::{
    Conflict, DataCut, NewSummary, ReadsCutCases, ReadsSummaries, Session, Store, StoreError, Summary,
    Writing,
};

/// What a draft will say.
pub struct Composed {
    /// The cut it was made from.
    pub cut: DataCut,
    /// The summary.
    pub summary: SafetySummary,
    /// What every seat could learn from it and all before it; never published.
    pub learnt: Learnt,
    /// The same as they are kept.
    pub new: NewSummary,
}

/// A summary that was published, with the cases it was made from.
struct Before {
    number: SummaryNumber,
    cohort: Cohort,
    summary: SafetySummary,
}

/// Composes a summary, attacked from every seat together with all that was ever published; nothing
/// is kept yet.
///
/// # Errors
/// When the design must be mended, there is no such cut, or a record of it cannot be read.
pub fn compose(
    store: &Store,
    [reading, comparing]: [Permit<DraftSummary>; 2],
    cut: DataCutId,
    design: DesignForm,
) -> Result<Composed, RegistryError> {
    let design = design.check().map_err(RegistryError::Design)?;
    let asked = design.comparison();
    let (cut, cohort, before, chosen) = store.read_blocking(reading, move |session| {
        let cut = session.find_cut(cut)?;
        let chosen = asked.map(|id| Chosen::find(session, id, cut.id)).transpose()?;
        let cohort = cases_of(session, &cut, chosen.as_ref().map(|chosen| &chosen.plan))?;
        Ok::<_, RegistryError>((cut, cohort, published_before(session)?, chosen))
    })?;
    let comparison = chosen.map(|chosen| chosen.published(store, comparing)).transpose()?;
    let made = summarise(Asking { cohort: &cohort, design: &design, comparison }, &earlier(&before))?;
    let content = with_provenance(&cut, &made.summary)?;
    let learnt = made.learnt.told();
    let new = NewSummary { cut: cut.id, content, learnt: Some(written(&learnt)?) };
    Ok(Composed { cut, summary: made.summary, learnt, new })
}

/// The cases of a cut with what stood around them; where a comparison is published, with what its plan
/// asks of how things stood.
fn cases_of<A: ReadsCutCases, M>(
    session: &mut Session<'_, A, M>,
    cut: &DataCut,
    plan: Option<&AnalysisPlan>,
) -> Result<Cohort, RegistryError> {
    Ok(cohort_of(session, cut, plan)?.amid(surroundings_of(session, cut)?))
}

fn written(learnt: &Learnt) -> Result<String, RegistryError> {
    serde_json::to_string(learnt).map_err(RegistryError::NotWritten)
}

fn earlier(before: &[Before]) -> Vec<Earlier<'_>> {
    let one = |before: &'_ Before| format!("safety summary {}", before.number.0);
    before
        .iter()
        .map(|before| Earlier { name: one(before), cohort: &before.cohort, summary: &before.summary })
        .collect()
}

/// Everything published so far, oldest first. What was withdrawn has been read too.
fn published_before<A: ReadsSummaries + ReadsCutCases, M>(
    session: &mut Session<'_, A, M>,
) -> Result<Vec<Before>, RegistryError> {
    let mut before = Vec::new();
    for kept in session.list_summaries()? {
        let (SummaryStage::Published { number, .. } | SummaryStage::Withdrawn { number, .. }) = kept.stage
        else {
            continue;
        };
        let cut = session.find_cut(kept.cut)?;
        let summary = said(&kept)?;
        let cohort = cases_of(session, &cut, summary.plan())?;
        before.push(Before { number, cohort, summary });
    }
    before.sort_by_key(|before| before.number.0);
    Ok(before)
}

/// What a kept summary says.
///
/// # Errors
/// When this version of the software cannot read it.
pub fn said(kept: &Summary) -> Result<SafetySummary, RegistryError> {
    content_of(&kept.content)
}

/// A summary from what is kept of it.
///
/// # Errors
/// When this version of the software cannot read it.
pub fn content_of(content: &str) -> Result<SafetySummary, RegistryError> {
    serde_json::from_str(content).map_err(RegistryError::NotRead)
}

/// What every seat could learn from a summary, as it was asked last; nothing for one from before
/// it was kept.
///
/// # Errors
/// When this version of the software cannot read it.
pub fn learnt(kept: &Summary) -> Result<Option<Learnt>, RegistryError> {
    kept.learnt.as_deref().map(serde_json::from_str).transpose().map_err(RegistryError::NotRead)
}

/// A summary with what every seat could learn from it by now.
struct Attacked {
    kept: Summary,
    /// How many were published by then.
    published: i64,
    /// Nothing where the step is none of its stage, which the core will say.
    found: Option<Found>,
}

/// What an attack found, as it is kept.
enum Found {
    Passes { learnt: String },
    GivesAway { learnt: String, reason: String },
}

impl Found {
    fn of(attacked: Result<Learnt, SummaryError>) -> Result<Self, RegistryError> {
        match attacked {
            Ok(learnt) => Ok(Self::Passes { learnt: written(&learnt.told())? }),
            Err(error @ SummaryError::Refused(_)) => {
                let reason = error.to_string();
                let SummaryError::Refused(learnt) = error else { return Err(error.into()) };
                Ok(Self::GivesAway { learnt: written(&learnt.told())?, reason })
            }
            Err(other) => Err(other.into()),
        }
    }
}

/// Attacks a summary again, with all that was published by now, if it stands where a step begins.
fn attacked<A: Action + ReadsSummaries + ReadsCutCases>(
    store: &Store,
    permit: Permit<A>,
    id: SummaryId,
    (begins_as, read): (&str, Option<&IfMatch>),
) -> Result<Attacked, RegistryError> {
    let (kept, published, there) = store.read_blocking(permit, |session| {
        let kept = session.find_summary(id)?;
        read.map_or(Ok(()), |read| read.holds(&version(&kept)))?;
        let published = session.published_so_far()?;
        if kept.stage.name() != begins_as {
            return Ok((kept, published, None));
        }
        let (cut, said) = (session.find_cut(kept.cut)?, said(&kept)?);
        let there = (cases_of(session, &cut, said.plan())?, said, published_before(session)?);
        Ok::<_, RegistryError>((kept, published, Some(there)))
    })?;
    let find = |(cohort, said, before): (Cohort, SafetySummary, Vec<Before>)| {
        Found::of(attack_again(&cohort, &said, &earlier(&before)))
    };
    let found = there.map(find).transpose()?;
    Ok(Attacked { kept, published, found })
}

/// Nothing may have been published since the attack.
fn still<A: ReadsSummaries, M>(session: &mut Session<'_, A, M>, published: i64) -> Result<(), RegistryError> {
    let none = session.published_so_far()? == published;
    if none { Ok(()) } else { Err(StoreError::from(Conflict::Race).into()) }
}

/// The version of a summary that an approver signs: what it says, and what could be learnt from it.
pub fn version(summary: &Summary) -> Version {
    Version::of_hash(&summary.approval_hash())
}

/// Approves the disclosure of exactly what was read, after one more attack. Where the attack finds
/// otherwise than it did last, because more was published, what it finds is kept and must be read
/// before it is approved. Where somebody could work out a count by now, its way ends here.
///
/// # Errors
/// When something else was read, it was refused, or the stage or the person is not the right one.
pub fn approve(
    store: &Store,
    [reading, writing]: [Permit<ApproveSummary>; 2],
    id: SummaryId,
    read: &IfMatch,
) -> Result<Summary, RegistryError> {
    let Attacked { kept, published, found } = attacked(store, reading, id, ("draft", Some(read)))?;
    let signed = kept.approval_hash();
    let after = store.write_blocking(writing, move |session| {
        still(session, published)?;
        match found {
            Some(Found::GivesAway { learnt, reason }) => Ok(session.refuse_summary(id, learnt, reason)?),
            Some(Found::Passes { learnt }) if kept.learnt.as_ref() != Some(&learnt) => {
                session.renew_learnt(id, &learnt)?;
                Ok::<_, RegistryError>(session.find_summary(id)?)
            }
            _ => Ok(session.approve_summary(id, &signed)?),
        }
    })?;
    match after.stage {
        SummaryStage::Draft { .. } => Err(Stale.into()),
        SummaryStage::Refused { reason, .. } => Err(RegistryError::RefusedOnItsWay(reason)),
        _ => Ok(after),
    }
}

/// Publishes an approved summary under the next number, after one more attack. Where somebody could
/// work out a count by now, its way ends here.
///
/// # Errors
/// When it was refused, or the stage or the person is not the right one.
pub fn publish(
    store: &Store,
    [reading, writing]: [Permit<PublishSummary>; 2],
    id: SummaryId,
) -> Result<(SummaryNumber, Summary), RegistryError> {
    let Attacked { published, found, .. } = attacked(store, reading, id, ("approved", None))?;
    store.write_blocking(writing, move |session| {
        still(session, published)?;
        match found {
            Some(Found::GivesAway { learnt, reason }) => {
                session.refuse_summary(id, learnt, reason.clone())?;
                Ok(Err(RegistryError::RefusedOnItsWay(reason)))
            }
            _ => Ok::<_, RegistryError>(Ok(session.publish_summary(id)?)),
        }
    })?
}

/// Withdraws a published summary; a correction names the later one that says it right.
///
/// # Errors
/// When the reason must be mended, the summary is not published, or what corrects it is not in force.
pub fn withdraw(
    session: &mut Session<'_, WithdrawSummary, Writing>,
    id: SummaryId,
    reason: &str,
    corrected_by: Option<SummaryNumber>,
) -> Result<Summary, RegistryError> {
    session.find_summary(id)?;
    let reason =
        words::reason(reason).map_err(|error| RegistryError::field("/reason", "reason_required", error))?;
    if let Some(successor) = corrected_by {
        let is_it = |kept: &Summary| matches!(kept.stage, SummaryStage::Published { number, .. } if number == successor);
        if !session.list_summaries()?.iter().any(is_it) {
            let sentence = "no safety summary of this number is in force; publish the correction first";
            return Err(RegistryError::field("/corrected_by", "not_in_force", sentence));
        }
    }
    Ok(session.withdraw_summary(id, &reason, corrected_by)?)
}
