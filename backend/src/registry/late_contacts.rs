//! The contacts after the first that are due: after blanking, and at a year.

use quietbeam_schema::case::CaseForm;
use quietbeam_schema::contact::Contact;
use quietbeam_schema::late_contact::{LateContact, awaited};
use quietbeam_schema::vocabulary::{Coded, ProcedureType};

use crate::access::action::ReadCase;
use crate::store::{Awaiting, Broken, Session, StoreError};

/// A late contact that is due or overdue.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LateDue {
    /// The case.
    pub case: Awaiting,
    /// Which contact.
    pub contact: LateContact,
    /// How it stands.
    pub stands: Contact,
}

/// The late contacts of the centres within reach whose time has come, the overdue first and the
/// oldest first among them.
///
/// # Errors
/// When the store fails.
pub fn due(session: &mut Session<'_, ReadCase>) -> Result<Vec<LateDue>, StoreError> {
    let now = session.now();
    let mut due = Vec::new();
    for (case, record) in session.followed_once()? {
        let unreadable = |_| Broken::Unreadable { table: "case_revision", column: "record" };
        let form = CaseForm::from_json(serde_json::from_str(&record).map_err(unreadable)?);
        let (Some(procedure), Some(seen)) = (ProcedureType::from_code(&case.procedure), &form.follow_up)
        else {
            continue;
        };
        match awaited(procedure, seen, (case.period, case.entered), now) {
            None | Some((_, Contact::Early { .. })) => {}
            Some((contact, stands)) => due.push(LateDue { case, contact, stands }),
        }
    }
    due.sort_by_key(|late| (std::cmp::Reverse(late.stands), late.case.code));
    Ok(due)
}
