//! The 30-day contacts that are due.

use quietbeam_schema::contact::Contact;

use crate::access::action::ReadCase;
use crate::store::{Awaiting, Session, StoreError};

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
