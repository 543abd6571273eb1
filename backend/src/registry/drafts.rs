//! Drafts: a case that is being entered, saved again and again until it is sent in.

use std::collections::BTreeMap;

use quietbeam_schema::audit::Deed;
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::draft::{DraftCheck, check_draft};
use quietbeam_schema::entries::Entries;
use quietbeam_schema::entry::Because;
use quietbeam_schema::ids::{CentreCode, DraftId};
use quietbeam_schema::instant::Instant;
use quietbeam_schema::merge::{Choices, merged};
use serde::{Deserialize, Serialize};

use super::cases::{self, Submitted};
use super::{RegistryError, queries};
use crate::access::action::SubmitCase;
use crate::store::{AuditRow, Broken, Conflict, DraftRow, Session, StoreError, Writing};

/// A draft with what was entered.
pub struct Draft {
    /// As it was last saved.
    pub row: DraftRow,
    /// What was entered.
    pub entered: Entered,
    /// When the intended strategy that stands there was entered.
    pub declared: Option<Declared>,
}

/// What a person enters.
#[derive(Default, Clone)]
pub struct Entered {
    /// The case.
    pub form: CaseForm,
    /// Why values are right that a rule asks about.
    pub because: Vec<Because>,
}

/// The intended strategy and when it was entered; another strategy has another time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Declared {
    /// The strategy's code.
    pub strategy: String,
    /// When.
    pub at: Instant,
}

impl Declared {
    /// As the trail of a case tells it; a case that was never a draft has none.
    pub fn of_trail(trail: &[AuditRow]) -> Option<Self> {
        let said = trail.iter().find(|row| row.event.deed == Deed::StrategyDeclared)?.event.after.as_ref()?;
        let text = |key: &str| said.get(key).and_then(|value| value.as_str());
        Some(Self { strategy: text("strategy_intended")?.to_owned(), at: text("entered_at")?.parse().ok()? })
    }
}

/// From which version a draft was changed.
#[derive(Debug, Clone, Default)]
pub struct Base {
    /// The version that was looked at.
    pub version: i64,
    /// After somebody else saved: their version, and whose value stands in each field.
    pub over: Option<(i64, Choices)>,
}

/// What is kept of a draft, field key to text.
#[derive(Serialize, Deserialize)]
struct Kept {
    case: BTreeMap<String, String>,
    complications: Vec<BTreeMap<String, String>>,
    follow_up: Option<BTreeMap<String, String>>,
    #[serde(default)]
    because: Vec<Because>,
    #[serde(default)]
    declared: Option<Declared>,
}

/// Begins a draft with what is known already.
///
/// # Errors
/// When the centre is not named and not the only one, or not the member's.
pub fn begin(
    session: &mut Session<'_, SubmitCase, Writing>,
    centre: Option<CentreCode>,
    form: &CaseForm,
) -> Result<DraftId, RegistryError> {
    let centre = session.centre_or_own(centre)?;
    let entered = taken(&Entered { form: form.clone(), because: Vec::new() }, session.now());
    let declared = declared(&entered.form, None, session.now());
    Ok(session.begin_draft(centre, &written(&entered, declared.as_ref())?)?)
}

/// Reads a draft.
///
/// # Errors
/// When there is none within reach.
pub fn read<M>(session: &mut Session<'_, SubmitCase, M>, id: DraftId) -> Result<Draft, RegistryError> {
    Ok(draft_of(session.draft(id)?)?)
}

/// The drafts within reach.
///
/// # Errors
/// When the store fails.
pub fn list<M>(session: &mut Session<'_, SubmitCase, M>) -> Result<Vec<Draft>, RegistryError> {
    Ok(session.list_drafts()?.into_iter().map(draft_of).collect::<Result<_, _>>()?)
}

/// Why a reason cannot be kept, if it cannot.
pub fn refusal_of(because: &Because) -> Option<RegistryError> {
    queries::said(&because.text, "/because").err()
}

/// Saves over the version that was looked at. What the record could never hold is not kept. The
/// same again is no conflict: the answer to the first may have been lost on its way.
///
/// # Errors
/// When somebody else saved meanwhile, and it was not chosen for every field in which the two
/// differ whose value stands.
pub fn save(
    session: &mut Session<'_, SubmitCase, Writing>,
    id: DraftId,
    base: &Base,
    entered: &Entered,
) -> Result<Draft, RegistryError> {
    let former = read(session, id)?;
    let current = former.row.version;
    let stale = || StoreError::from(Conflict::StaleRevision { expected: base.version, current });
    let chosen = match &base.over {
        Some((over, choices)) if *over == current => {
            let form = merged(&entered.form, &former.entered.form, choices).map_err(|_| stale())?;
            Entered { form, because: entered.because.clone() }
        }
        _ if base.version == current => entered.clone(),
        _ => return if is_kept(entered, &former, session.now())? { Ok(former) } else { Err(stale().into()) },
    };
    let kept = taken(&chosen, session.now());
    let declared = declared(&kept.form, former.declared, session.now());
    let row = session.save_draft(id, current, &written(&kept, declared.as_ref())?)?;
    Ok(Draft { row, entered: kept, declared })
}

/// Whether a draft holds exactly this already.
fn is_kept(entered: &Entered, draft: &Draft, now: Instant) -> Result<bool, RegistryError> {
    Ok(written(&taken(entered, now), draft.declared.as_ref())? == draft.row.entries)
}

/// Sends a draft in as a case, as it was last saved. What was said about a value answers the
/// question that a rule asks about it.
///
/// # Errors
/// As for [`cases::submit`], and when somebody else saved meanwhile.
pub fn submit(
    session: &mut Session<'_, SubmitCase, Writing>,
    id: DraftId,
    version: i64,
) -> Result<Submitted, RegistryError> {
    let Draft { row, entered, declared } = read(session, id)?;
    if row.version != version {
        let stale = Conflict::StaleRevision { expected: version, current: row.version };
        return Err(StoreError::from(stale).into());
    }
    let submitted = cases::submit(session, &entered.form, Some(row.centre))?;
    let code = submitted.saved.code;
    for finding in &submitted.queries {
        if let Some(because) = entered.because.iter().find(|because| because.is_about(finding)) {
            session.answer_found(code, &cases::found_of(finding), &because.text)?;
        }
    }
    if let Some(Declared { strategy, at }) = declared {
        session.keep_declaration((code, row.centre), &strategy, at)?;
    }
    session.end_draft(id, Deed::DraftSubmitted)?;
    Ok(submitted)
}

/// Throws a draft away.
///
/// # Errors
/// When there is none within reach.
pub fn discard(session: &mut Session<'_, SubmitCase, Writing>, id: DraftId) -> Result<(), RegistryError> {
    Ok(session.end_draft(id, Deed::DraftDiscarded)?)
}

/// What of it may be kept.
fn taken(entered: &Entered, now: Instant) -> Entered {
    let DraftCheck { kept: form, .. } = check_draft(&entered.form, now.quarter());
    let because = entered.because.iter().filter(|because| refusal_of(because).is_none()).cloned().collect();
    Entered { form, because }
}

/// A strategy keeps the time at which it was entered for as long as it stands.
fn declared(form: &CaseForm, former: Option<Declared>, now: Instant) -> Option<Declared> {
    let strategy = form.case.given("strategy_intended")?;
    let kept = former.filter(|former| former.strategy == strategy);
    kept.or_else(|| Some(Declared { strategy: strategy.to_owned(), at: now }))
}

fn written(entered: &Entered, declared: Option<&Declared>) -> Result<String, RegistryError> {
    let map = |entries: &Entries| {
        entries.iter().map(|(key, text)| (key.to_owned(), text.to_owned())).collect::<BTreeMap<_, _>>()
    };
    let Entered { form, because } = entered;
    let kept = Kept {
        case: map(&form.case),
        complications: form.complications.iter().map(map).collect(),
        follow_up: form.follow_up.as_ref().map(map),
        because: because.clone(),
        declared: declared.cloned(),
    };
    serde_json::to_string(&kept).map_err(RegistryError::NotWritten)
}

fn draft_of(row: DraftRow) -> Result<Draft, StoreError> {
    let entries = |map: BTreeMap<String, String>| {
        let mut entries = Entries::default();
        map.into_iter().for_each(|(key, text)| entries.put(key, text));
        entries
    };
    let unreadable = |_| Broken::Unreadable { table: "case_draft", column: "entries" };
    let Kept { case, complications, follow_up, because, declared } =
        serde_json::from_str(&row.entries).map_err(unreadable)?;
    let complications = complications.into_iter().map(entries).collect();
    let form = CaseForm::new(entries(case), complications, follow_up.map(entries));
    Ok(Draft { row, entered: Entered { form, because }, declared })
}
