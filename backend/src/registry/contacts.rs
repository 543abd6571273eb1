//! The 30-day contacts that are due, and their quick answers.

use quietbeam_schema::contact::Contact;
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::reported::MissingCode;
use quietbeam_schema::vocabulary::{Coded, FollowUpStatus, YesNo};

use super::cases::{self, Submitted};
use super::{IfMatch, RegistryError, Version, words};
use crate::access::action::{ReadCase, RecordFollowUp};
use crate::store::{Awaiting, Session, StoreError, Writing};

/// The contacts of the centres within reach.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Contacts {
    /// Due or overdue, the oldest first.
    pub due: Vec<(Awaiting, Contact)>,
    /// Days until the next one opens, if one will.
    pub next_opens_in: Option<i64>,
}

impl Contacts {
    /// How many are overdue.
    #[must_use]
    pub fn overdue(&self) -> usize {
        self.due.iter().filter(|(_, contact)| matches!(contact, Contact::Overdue { .. })).count()
    }
}

/// Which contacts are due, which overdue, and when the next one opens.
///
/// # Errors
/// When the store fails.
pub fn due(session: &mut Session<'_, ReadCase>) -> Result<Contacts, StoreError> {
    let now = session.now();
    let mut contacts = Contacts::default();
    for case in session.awaiting_contact()? {
        match Contact::of(case.period, case.entered, now) {
            Contact::Early { opens_in } => {
                let sooner = contacts.next_opens_in.map_or(opens_in, |known| known.min(opens_in));
                contacts.next_opens_in = Some(sooner);
            }
            open => contacts.due.push((case, open)),
        }
    }
    let day = |contact: &Contact| match contact {
        Contact::Early { .. } => 0,
        Contact::Due { day } | Contact::Overdue { day } => *day,
    };
    contacts.due.sort_by_key(|(case, contact)| (-day(contact), case.code));
    Ok(contacts)
}

/// What can be said of many cases in one sitting. An event is entered in its case: here there
/// is no way to state one, and none to state "no event" without having looked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Learnt {
    /// The patient was asked on a day, and there was no new event.
    Asked {
        /// As typed.
        day: String,
    },
    /// The records were read up to a day, and there was no new event.
    ChartRead {
        /// As typed.
        day: String,
    },
    /// Neither contact nor records were to be had.
    Lost,
}

impl Learnt {
    fn entries(&self) -> Vec<(&'static str, &str)> {
        let (status, seen) = match self {
            Self::Asked { day } => (FollowUpStatus::Contacted, Some(day)),
            Self::ChartRead { day } => (FollowUpStatus::ChartOnly, Some(day)),
            Self::Lost => (FollowUpStatus::Lost, None),
        };
        let mut entries = vec![("fu30_status", status.code())];
        match seen {
            Some(day) => entries.extend([
                ("fu30_day", day.trim()),
                ("fu30_no_events", YesNo::Yes.code()),
                ("death", YesNo::No.code()),
            ]),
            None => entries.push(("death", MissingCode::Unknown.code())),
        }
        entries
    }
}

/// Records what was learnt about a case, by the rules of every other follow-up. What else
/// stands in its follow-up stays.
///
/// # Errors
/// When the case was changed since it was read, or something must be mended.
pub fn record(
    session: &mut Session<'_, RecordFollowUp, Writing>,
    code: CaseCode,
    if_match: &IfMatch,
    learnt: &Learnt,
) -> Result<Submitted, RegistryError> {
    let current = session.current_case(code)?;
    if_match.holds(&Version::of_revision(current.revision))?;
    let mut form = cases::form_of(&current)?;
    let follow_up = form.follow_up.get_or_insert_default();
    // A quick answer must not unsay what somebody entered with care.
    if [("death", YesNo::Yes), ("fu30_no_events", YesNo::No)]
        .into_iter()
        .any(|(key, said)| follow_up.given(key).and_then(YesNo::from_code) == Some(said))
    {
        let sentence =
            "An event or a death stands in this follow-up already; open the case and finish it there.";
        return Err(RegistryError::field("/follow_up/fu30_status", "event_stands_already", sentence));
    }
    for (key, text) in learnt.entries() {
        follow_up.put(key, text);
    }
    let reason = words::reason("30-day status learnt")
        .map_err(|error| RegistryError::field("/reason", "reason_required", error))?;
    let ready = cases::check(&form, session.now())?;
    cases::supersede(session, &current, ready, reason)
}
