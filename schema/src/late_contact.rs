//! The contacts after the first: whether the rhythm came back once the heart had healed, and
//! how the patient was after a year. Their days are counted like those of the 30-day contact,
//! as the least day on which a case can stand.
//!
//! The days are common practice, no source: recurrence after ablation of atrial fibrillation
//! counts once a blanking period of at most 90 days is over, and a year is usually asked about
//! within a month before to two months after it.

use crate::contact::Contact;
use crate::entries::Entries;
use crate::instant::Instant;
use crate::period::Quarter;
use crate::vocabulary::{Coded, FollowUpStatus, ProcedureType, YesNo};

/// A contact after the first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum LateContact {
    /// After the blanking period, for atrial fibrillation alone.
    AfterBlanking,
    /// At a year, for every ablation.
    OneYear,
}

impl LateContact {
    const ALL: [Self; 2] = [Self::AfterBlanking, Self::OneYear];

    /// The first day on which it is usually made, and the last.
    #[must_use]
    pub fn usual_days(self) -> (i64, i64) {
        match self {
            Self::AfterBlanking => (91, 180),
            Self::OneYear => (335, 425),
        }
    }

    /// Its name within a sentence.
    #[must_use]
    pub fn label(self) -> &'static str {
        match self {
            Self::AfterBlanking => "after blanking",
            Self::OneYear => "one year",
        }
    }

    fn is_expected_of(self, procedure: ProcedureType) -> bool {
        match self {
            Self::AfterBlanking => procedure.is_af(),
            Self::OneYear => procedure != ProcedureType::DiagnosticOnly,
        }
    }
}

/// The late contact that a case waits for now, and how it stands: the latest one whose time has
/// come, else the next one. `None` where none is expected any more, or the 30-day contact comes
/// first.
#[must_use]
pub fn awaited(
    procedure: ProcedureType,
    follow_up: &Entries,
    (period, entered): (Quarter, Instant),
    now: Instant,
) -> Option<(LateContact, Contact)> {
    let known_until = known_until(follow_up)?;
    let open =
        |contact: &LateContact| contact.is_expected_of(procedure) && known_until < contact.usual_days().0;
    let stands =
        |contact: LateContact| (contact, Contact::within(contact.usual_days(), period, entered, now));
    let expected: Vec<_> = LateContact::ALL.into_iter().filter(open).map(stands).collect();
    let has_come = expected.iter().rev().find(|(_, stands)| !matches!(stands, Contact::Early { .. }));
    has_come.or(expected.first()).copied()
}

/// The day until which the patient is known to have been followed; `None` where there is nobody
/// to ask, or the first contact is still to come.
fn known_until(follow_up: &Entries) -> Option<i64> {
    use FollowUpStatus as S;
    let status = |key| follow_up.given(key).and_then(S::from_code);
    let died = follow_up.given("death").and_then(YesNo::from_code) == Some(YesNo::Yes);
    match (status("fu30_status"), status("fu_late_status")) {
        _ if died => None,
        (None | Some(S::Pending | S::Dead | S::Withdrawn), _) => None,
        // Lost late: it was tried. Lost at 30 days: a later try may find the patient again.
        (_, Some(S::Lost | S::Dead | S::Withdrawn)) => None,
        (_, Some(S::Contacted | S::ChartOnly)) => {
            Some(follow_up.given("fu_last_day").and_then(|day| day.trim().parse().ok()).unwrap_or(0))
        }
        (_, None | Some(S::Pending)) => Some(0),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;

    const FIRST: ProcedureType = ProcedureType::AfParoxysmalFirst;

    /// A case of 2025Q3 that was entered after its quarter, so that its days count from
    /// 30 September 2025. Dates from days: GNU coreutils 9.1, `date -u -d "2025-09-30 + N days"`.
    fn stands(
        procedure: ProcedureType,
        follow_up: &[(&str, &str)],
        now: &str,
    ) -> Option<(LateContact, Contact)> {
        let at = |text: &str| format!("{text}T09:00:00.000Z").parse::<Instant>().unwrap();
        let mut entries = Entries::default();
        follow_up.iter().for_each(|(key, text)| entries.put(*key, *text));
        awaited(procedure, &entries, (Quarter::new(2025, 3).unwrap(), at("2025-10-20")), at(now))
    }

    const SEEN: (&str, &str) = ("fu30_status", "contacted");

    #[test]
    fn fibrillation_is_asked_about_after_blanking_and_at_a_year() {
        let of = |now| stands(FIRST, &[SEEN], now);
        use LateContact::{AfterBlanking, OneYear};
        assert_eq!(of("2025-12-29"), Some((AfterBlanking, Contact::Early { opens_in: 1 })));
        assert_eq!(of("2025-12-30"), Some((AfterBlanking, Contact::Due { day: 91 })));
        assert_eq!(of("2026-03-29"), Some((AfterBlanking, Contact::Due { day: 180 })));
        assert_eq!(of("2026-03-30"), Some((AfterBlanking, Contact::Overdue { day: 181 })));
        assert_eq!(of("2026-08-30"), Some((AfterBlanking, Contact::Overdue { day: 334 })));
        // One contact answers both.
        assert_eq!(of("2026-08-31"), Some((OneYear, Contact::Due { day: 335 })));
        assert_eq!(of("2026-11-29"), Some((OneYear, Contact::Due { day: 425 })));
        assert_eq!(of("2026-11-30"), Some((OneYear, Contact::Overdue { day: 426 })));
    }

    #[test]
    fn another_ablation_is_asked_about_at_a_year_and_a_study_never() {
        let of = |procedure| stands(procedure, &[SEEN], "2026-01-30");
        assert_eq!(of(ProcedureType::Avnrt), Some((LateContact::OneYear, Contact::Early { opens_in: 213 })));
        assert_eq!(of(ProcedureType::DiagnosticOnly), None);
    }

    #[test]
    fn what_is_known_is_not_asked_again() {
        let of = |status: &str, day: &str| {
            stands(FIRST, &[SEEN, ("fu_late_status", status), ("fu_last_day", day)], "2026-10-01")
        };
        let (year, due) = (LateContact::OneYear, Contact::Due { day: 366 });
        assert_eq!(of("contacted", "120"), Some((year, due)));
        assert_eq!(of("chart_only", "334"), Some((year, due)));
        assert_eq!(of("contacted", "335"), None);
        assert_eq!(of("pending", ""), Some((year, due)));
        for over in ["lost", "dead", "withdrawn"] {
            assert_eq!(of(over, ""), None, "{over}");
        }
        let followed = [SEEN, ("fu_late_status", "contacted"), ("fu_last_day", "100")];
        let next = Contact::Early { opens_in: 183 };
        assert_eq!(stands(FIRST, &followed, "2026-03-01"), Some((year, next)));
    }

    #[test]
    fn the_first_contact_comes_first_and_the_dead_are_not_asked() {
        let of = |follow_up: &[(&str, &str)]| stands(FIRST, follow_up, "2026-10-01");
        assert_eq!(of(&[]), None);
        assert_eq!(of(&[("fu30_status", "pending")]), None);
        assert_eq!(of(&[("fu30_status", "dead")]), None);
        assert_eq!(of(&[("fu30_status", "withdrawn")]), None);
        assert_eq!(of(&[SEEN, ("death", "yes")]), None);
        assert!(of(&[("fu30_status", "lost"), ("death", "unk")]).is_some());
    }
}
