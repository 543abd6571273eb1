//! Drafts: a case that is being entered, saved again and again until it is sent in.

use std::collections::BTreeMap;

use quietbeam_schema::audit::Deed;
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::entries::Entries;
use quietbeam_schema::entry::{DraftCheck, check_draft};
use quietbeam_schema::ids::{CentreCode, DraftId};
use serde::{Deserialize, Serialize};

use super::RegistryError;
use super::cases::{self, Submitted};
use crate::access::action::SubmitCase;
use crate::store::{Broken, DraftRow, Session, StoreError, Writing};

/// A draft with the form it fills.
pub struct Draft {
    /// As it was last saved.
    pub row: DraftRow,
    /// What was entered.
    pub form: CaseForm,
}

/// A form as it is kept, field key to text.
#[derive(Serialize, Deserialize)]
struct Kept {
    case: BTreeMap<String, String>,
    complications: Vec<BTreeMap<String, String>>,
    follow_up: Option<BTreeMap<String, String>>,
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
    let DraftCheck { kept, .. } = check_draft(form, session.now().quarter());
    Ok(session.begin_draft(centre, &written(&kept)?)?)
}

/// Reads a draft.
///
/// # Errors
/// When there is none within reach.
pub fn read<M>(session: &mut Session<'_, SubmitCase, M>, id: DraftId) -> Result<Draft, RegistryError> {
    let row = session.draft(id)?;
    Ok(Draft { form: form_of(&row)?, row })
}

/// The drafts within reach.
///
/// # Errors
/// When the store fails.
pub fn list<M>(session: &mut Session<'_, SubmitCase, M>) -> Result<Vec<Draft>, RegistryError> {
    let read = |row: DraftRow| Ok(Draft { form: form_of(&row)?, row });
    session.list_drafts()?.into_iter().map(read).collect()
}

/// Saves over the version that was looked at. What the record could never hold is not kept. The
/// same again is no conflict: the answer to the first may have been lost on its way.
///
/// # Errors
/// When somebody else saved meanwhile.
pub fn save(
    session: &mut Session<'_, SubmitCase, Writing>,
    id: DraftId,
    version: i64,
    form: &CaseForm,
) -> Result<Draft, RegistryError> {
    let DraftCheck { kept, .. } = check_draft(form, session.now().quarter());
    let entries = written(&kept)?;
    let row = match session.save_draft(id, version, &entries) {
        Err(StoreError::Conflict(conflict)) => Some(session.draft(id)?)
            .filter(|current| current.entries == entries)
            .ok_or(StoreError::from(conflict))?,
        saved => saved?,
    };
    Ok(Draft { row, form: kept })
}

/// Sends a draft in as a case, as it was last saved.
///
/// # Errors
/// As for [`cases::submit`], and when somebody else saved meanwhile.
pub fn submit(
    session: &mut Session<'_, SubmitCase, Writing>,
    id: DraftId,
    version: i64,
) -> Result<Submitted, RegistryError> {
    let Draft { row, form } = read(session, id)?;
    if row.version != version {
        let stale = crate::store::Conflict::StaleRevision { expected: version, current: row.version };
        return Err(StoreError::from(stale).into());
    }
    let submitted = cases::submit(session, &form, Some(row.centre))?;
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

fn written(form: &CaseForm) -> Result<String, RegistryError> {
    let map = |entries: &Entries| {
        entries.iter().map(|(key, text)| (key.to_owned(), text.to_owned())).collect::<BTreeMap<_, _>>()
    };
    let kept = Kept {
        case: map(&form.case),
        complications: form.complications.iter().map(map).collect(),
        follow_up: form.follow_up.as_ref().map(map),
    };
    serde_json::to_string(&kept).map_err(RegistryError::NotWritten)
}

fn form_of(row: &DraftRow) -> Result<CaseForm, StoreError> {
    let entries = |map: BTreeMap<String, String>| {
        let mut entries = Entries::default();
        map.into_iter().for_each(|(key, text)| entries.put(key, text));
        entries
    };
    let unreadable = |_| Broken::Unreadable { table: "case_draft", column: "entries" };
    let Kept { case, complications, follow_up } = serde_json::from_str(&row.entries).map_err(unreadable)?;
    Ok(CaseForm::new(entries(case), complications.into_iter().map(entries).collect(), follow_up.map(entries)))
}
