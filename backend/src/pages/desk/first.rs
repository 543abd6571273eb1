//! What to begin with: the first thing that waits, in the order of the desk.

use maud::{Render, html};
use quietbeam_schema::contact::{Contact, USUAL_DAYS};

use super::approval_rows::worrying;
use super::draft_rows::first_open_field;
use super::late_rows::late_field;
use super::{Waits, contact_mark, field_of, follow_up_of};
use crate::pages::centres::stands;
use crate::pages::components::{Link, Mark, StartHere, case_code};
use crate::pages::words::moment;

impl Waits {
    /// The one thing to begin with; "nothing waits" only where that is so.
    pub(super) fn start_here(&self) -> StartHere {
        let overdue = || self.contact().filter(|(_, stands)| matches!(stands, Contact::Overdue { .. }));
        overdue()
            .map(|(start, _)| start)
            .or_else(|| self.query())
            .or_else(|| self.contact().map(|(start, _)| start))
            .or_else(|| self.late_contact())
            .or_else(|| self.draft())
            .or_else(|| self.signature())
            .or_else(|| self.approval())
            .unwrap_or_else(|| self.nothing())
    }

    fn contact(&self) -> Option<(StartHere, Contact)> {
        let (case, contact) = self.contacts.due.first()?;
        let late = matches!(contact, Contact::Overdue { .. });
        let start = StartHere::With {
            mark: contact_mark(*contact),
            sentence: html! { (case_code(&case.code)) ": the 30-day contact is " (if late { "overdue" } else { "due" }) },
            why: html! {
                @if late { "Without it nobody can say whether a complication came later." }
                @else { "It is usually made by day " (USUAL_DAYS.1) "." }
            },
            button: Link::new(follow_up_of(&case.code), "Open the case"),
        };
        Some((start, *contact))
    }

    fn query(&self) -> Option<StartHere> {
        let row = self.queries.first()?;
        Some(StartHere::With {
            mark: Mark::ToAnswer,
            sentence: html! { (case_code(&row.query.code)) ": a question has waited longest" },
            why: row.query.sentence.render(),
            button: Link::new(field_of(row), "Open the field"),
        })
    }

    fn late_contact(&self) -> Option<StartHere> {
        let late = self.late.first()?;
        let (_, last) = late.contact.usual_days();
        Some(StartHere::With {
            mark: contact_mark(late.stands),
            sentence: html! { (case_code(&late.case.code)) ": the contact " (late.contact.label()) " is due" },
            why: html! { "It is usually made by day " (last) "." },
            button: Link::new(late_field(&late.case.code), "Open the field"),
        })
    }

    fn draft(&self) -> Option<StartHere> {
        let draft = self.drafts.first()?;
        Some(StartHere::With {
            mark: Mark::Draft,
            sentence: html! { "A draft is not sent in yet" },
            why: html! { "It was last saved " (moment(draft.row.saved_at)) "." },
            button: Link::new(first_open_field(draft), "Finish it"),
        })
    }

    fn signature(&self) -> Option<StartHere> {
        let unsigned = self.unsigned();
        let (quarter, (_, bar)) = unsigned.first_key_value()?;
        Some(StartHere::With {
            mark: Mark::ToSign,
            sentence: html! { (quarter) ": the screening log is not signed" },
            why: html! { (bar.sentence()) "." },
            button: Link::new(format!("/screening-log#{quarter}"), "Open the log"),
        })
    }

    fn approval(&self) -> Option<StartHere> {
        let worrying = worrying(&self.approvals, self.today());
        let of = worrying.first()?;
        Some(StartHere::With {
            mark: Mark::ToSign,
            sentence: html! { (of.centre) ": " (stands(of.kind, of.standing, self.today())) },
            why: html! { "Cases are taken only while it holds; an administrator records its renewal." },
            button: Link::new(format!("/centres/{}/approvals", of.centre), "Show it"),
        })
    }

    fn nothing(&self) -> StartHere {
        StartHere::Nothing {
            next: match self.contacts.next_opens_in {
                Some(1) => html! { "The next 30-day contact opens tomorrow." },
                Some(days) => html! { "The next 30-day contact opens in " (days) " days." },
                None => html! { "No case waits for a contact." },
            },
        }
    }
}
