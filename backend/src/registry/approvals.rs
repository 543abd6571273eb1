//! The approvals of a centre: recorded, renewed, taken back, and asked before a new case is
//! taken. How they stood at a data cut is the matter of `at_cut.rs`.

use quietbeam_schema::centre_approval::{Approval, Day, Standing, Terms, TermsError, may_send};
use quietbeam_schema::ids::{ApprovalId, CentreCode};
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{ApprovalKind, Coded};

use super::{RegistryError, words};
use crate::access::action::{ManageCentres, ReadCentres};
use crate::store::{ReadsApprovals, Refused, Session, StoreError, Writing};

/// Records an approval, or the renewal of one of the same centre and kind.
///
/// # Errors
/// When a field must be mended, or there is no such approval to renew.
pub fn record(
    session: &mut Session<'_, ManageCentres, Writing>,
    centre: CentreCode,
    terms: Terms,
    renews: Option<ApprovalId>,
) -> Result<Approval, RegistryError> {
    session.find_centre(centre)?;
    if let Some(id) = renews
        && find(session, centre, id)?.terms.kind != terms.kind
    {
        let sentence =
            "This renews an approval of another kind; choose that kind, or record it as a new one.";
        return Err(RegistryError::field("/kind", "renewal", sentence));
    }
    terms.check().map_err(|error| match error {
        TermsError::Reference => RegistryError::field("/reference", "value", error),
        TermsError::EndsBeforeItBegins { .. } => RegistryError::field("/valid_until", "value", error),
    })?;
    words::screened(&terms.reference)
        .map_err(|error| RegistryError::field("/reference", "free_text", error))?;
    let terms = Terms { reference: terms.reference.trim().to_owned(), ..terms };
    Ok(session.record_approval(centre, terms, renews)?)
}

/// Takes an approval back, at once.
///
/// # Errors
/// When there is none, it was taken back before, or the reason says nothing.
pub fn withdraw(
    session: &mut Session<'_, ManageCentres, Writing>,
    (centre, id): (CentreCode, ApprovalId),
    reason: &str,
) -> Result<Approval, RegistryError> {
    session.alone_among_administrators()?;
    session.find_centre(centre)?;
    let old = find(session, centre, id)?;
    if old.withdrawn.is_some() {
        return Err(StoreError::from(Refused::ApprovalWithdrawn).into());
    }
    let reason =
        words::reason(reason).map_err(|error| RegistryError::field("/reason", "reason_required", error))?;
    Ok(session.withdraw_approval(old, &reason)?)
}

fn find(
    session: &mut Session<'_, ManageCentres, Writing>,
    centre: CentreCode,
    id: ApprovalId,
) -> Result<Approval, StoreError> {
    let all = session.list_approvals(centre)?;
    all.into_iter().find(|approval| approval.id == id).ok_or(StoreError::Absent("approval"))
}

/// Refuses a new case of a quarter that the centre may not send now.
///
/// # Errors
/// With the approval that stands in the way.
pub fn gate<A: ReadsApprovals, M>(
    session: &mut Session<'_, A, M>,
    centre: CentreCode,
    quarters: impl IntoIterator<Item = Quarter>,
) -> Result<(), RegistryError> {
    let approvals = session.list_approvals(centre)?;
    let today = Day::of(session.now());
    quarters.into_iter().try_for_each(|quarter| Ok(may_send(&approvals, quarter, today)?))
}

/// How a centre stands with one kind of approval.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CentreStanding {
    /// The centre.
    pub centre: CentreCode,
    /// Which kind.
    pub kind: ApprovalKind,
    /// How it stands today.
    pub standing: Standing,
}

/// How the centres within reach stand with each kind of approval.
///
/// # Errors
/// When the store fails.
pub fn standings(session: &mut Session<'_, ReadCentres>) -> Result<Vec<CentreStanding>, StoreError> {
    let today = Day::of(session.now());
    let mut all = Vec::new();
    for centre in session.list_centres()? {
        let approvals = session.list_approvals(centre.code)?;
        let of = |kind: &ApprovalKind| CentreStanding {
            centre: centre.code,
            kind: *kind,
            standing: Standing::of(&approvals, *kind, today),
        };
        all.extend(ApprovalKind::all().iter().map(of));
    }
    Ok(all)
}
