//! What a centre needs before it may send cases: the approval of its ethics board and its
//! agreement on the data. A centre for which one was ever recorded sends cases only while it
//! holds, and only of quarters that it covers.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::audit::Actor;
use crate::ids::{ApprovalId, CentreCode};
use crate::instant::Instant;
use crate::period::Quarter;
use crate::vocabulary::{ApprovalKind, Coded};

const SECONDS_A_DAY: i64 = 86_400;

/// So many days before its end an approval is said to run out.
pub const WARNING_DAYS: i64 = 60;

/// The longest reference, in characters.
pub const LONGEST_REFERENCE: usize = 80;

/// A calendar day in UTC. Approvals alone have whole dates: they concern no patient.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Day(i64);

/// Why a text is no day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("write the day as year, month and day, such as 2027-03-31")]
pub struct DayError;

impl Day {
    /// The day of a moment.
    #[must_use]
    pub fn of(at: Instant) -> Self {
        Self(at.unix_seconds().div_euclid(SECONDS_A_DAY))
    }

    /// The day moved by some days, backwards when negative.
    #[must_use]
    pub fn plus(self, days: i64) -> Self {
        Self(self.0 + days)
    }

    /// Days from another day until this one.
    #[must_use]
    pub fn since(self, other: Self) -> i64 {
        self.0 - other.0
    }

    fn first_of(quarter: Quarter) -> Self {
        Self::of(Instant::begin_of(quarter))
    }
}

impl FromStr for Day {
    type Err = DayError;

    fn from_str(text: &str) -> Result<Self, DayError> {
        let midnight: Instant = format!("{}T00:00:00.000Z", text.trim()).parse().map_err(|_| DayError)?;
        Ok(Self::of(midnight))
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (year, month, day) = Instant::from_unix_milliseconds(self.0 * SECONDS_A_DAY * 1_000).date();
        write!(f, "{year:04}-{month:02}-{day:02}")
    }
}

impl TryFrom<String> for Day {
    type Error = DayError;
    fn try_from(text: String) -> Result<Self, DayError> {
        text.parse()
    }
}

impl From<Day> for String {
    fn from(day: Day) -> String {
        day.to_string()
    }
}

/// What an approval says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Terms {
    /// What is approved.
    pub kind: ApprovalKind,
    /// How the centre itself calls it; names nobody.
    pub reference: String,
    /// Its first day.
    pub valid_from: Day,
    /// Its last day.
    pub valid_until: Day,
}

/// What is wrong with the terms of an approval.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TermsError {
    /// No reference, or a very long one.
    #[error("write 1 to {LONGEST_REFERENCE} characters on one line")]
    Reference,
    /// It would end before it begins.
    #[error("the last day is before the first, {from}; correct one of the two")]
    EndsBeforeItBegins {
        /// The first day.
        from: Day,
    },
}

impl Terms {
    /// Checks what the types leave open.
    ///
    /// # Errors
    /// When the reference is empty or long, or the days stand the wrong way round.
    pub fn check(&self) -> Result<(), TermsError> {
        let length = self.reference.trim().chars().count();
        if length == 0 || length > LONGEST_REFERENCE || self.reference.chars().any(char::is_control) {
            return Err(TermsError::Reference);
        }
        if self.valid_until < self.valid_from {
            return Err(TermsError::EndsBeforeItBegins { from: self.valid_from });
        }
        Ok(())
    }
}

/// That an approval was taken back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Withdrawal {
    /// Why.
    pub reason: String,
    /// Who recorded it.
    pub by: Actor,
    /// When.
    pub at: Instant,
}

/// An approval as it is kept. It never changes; a renewal is another one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Approval {
    /// Its identifier.
    pub id: ApprovalId,
    /// The centre.
    pub centre: CentreCode,
    /// What it says.
    pub terms: Terms,
    /// The approval that it renews, if it is a renewal.
    pub renews: Option<ApprovalId>,
    /// Who recorded it.
    pub by: Actor,
    /// When.
    pub at: Instant,
    /// That it was taken back, if it was.
    pub withdrawn: Option<Withdrawal>,
}

/// How a centre stands with one kind of approval on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// None was ever recorded, so nothing hangs on it.
    NeverRecorded,
    /// It holds, with its renewals, until this day.
    Holds {
        /// The last day.
        until: Day,
    },
    /// It ended.
    Ended {
        /// The last day.
        on: Day,
    },
    /// It begins later.
    Begins {
        /// The first day.
        on: Day,
    },
    /// Each one was taken back.
    Withdrawn,
}

impl Standing {
    /// How a centre stands with a kind of approval, from all that were recorded for it.
    #[must_use]
    pub fn of(approvals: &[Approval], kind: ApprovalKind, today: Day) -> Self {
        if approvals.iter().all(|approval| approval.terms.kind != kind) {
            return Self::NeverRecorded;
        }
        if let Some(until) = held_until(approvals, kind, today) {
            return Self::Holds { until };
        }
        let ended = in_force(approvals, kind).map(|terms| terms.valid_until).filter(|until| *until < today);
        let begins = in_force(approvals, kind).map(|terms| terms.valid_from).filter(|from| *from > today);
        match (ended.max(), begins.min()) {
            (_, Some(on)) => Self::Begins { on },
            (Some(on), None) => Self::Ended { on },
            (None, None) => Self::Withdrawn,
        }
    }

    /// Days until it ends, where that is soon enough to be said; negative once it has ended.
    #[must_use]
    pub fn runs_out_in(self, today: Day) -> Option<i64> {
        match self {
            Self::Holds { until } | Self::Ended { on: until } => {
                Some(until.since(today)).filter(|days| *days <= WARNING_DAYS)
            }
            Self::NeverRecorded | Self::Begins { .. } | Self::Withdrawn => None,
        }
    }
}

/// Why a centre may not send a case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum ApprovalRefusal {
    /// An approval does not hold today.
    #[error("the {} of this centre {}; cases are taken again once an administrator has recorded one that holds", .kind.label().to_lowercase(), said(.standing))]
    NotToday {
        /// Which.
        kind: ApprovalKind,
        /// How it stands.
        standing: Standing,
    },
    /// An approval does not cover the quarter of the procedure.
    #[error("the {} of this centre does not cover the whole of {quarter}; cases of that quarter are taken once an administrator has recorded one that does", .kind.label().to_lowercase())]
    NotThatQuarter {
        /// Which.
        kind: ApprovalKind,
        /// The quarter.
        quarter: Quarter,
    },
}

fn said(standing: &Standing) -> String {
    match standing {
        Standing::NeverRecorded => "is not recorded".to_owned(),
        Standing::Holds { until } => format!("holds until {until}"),
        Standing::Ended { on } => format!("ended on {on}"),
        Standing::Begins { on } => format!("begins on {on}"),
        Standing::Withdrawn => "was withdrawn".to_owned(),
    }
}

/// Whether a centre may send a case of a quarter: each kind of approval that was ever recorded
/// for it must hold today and must cover the quarter, as far as it has gone by. A case has no
/// date, so an approval that covers a part of the quarter proves nothing.
///
/// # Errors
/// With the first approval that stands in the way.
pub fn may_send(approvals: &[Approval], quarter: Quarter, today: Day) -> Result<(), ApprovalRefusal> {
    for kind in ApprovalKind::all() {
        match Standing::of(approvals, *kind, today) {
            Standing::NeverRecorded => continue,
            Standing::Holds { .. } => {}
            standing => return Err(ApprovalRefusal::NotToday { kind: *kind, standing }),
        }
        if !covers(approvals, *kind, quarter, today) {
            return Err(ApprovalRefusal::NotThatQuarter { kind: *kind, quarter });
        }
    }
    Ok(())
}

/// Whether both approvals are there for the cases of a quarter: each kind covers the whole of it, as
/// far as it has gone by. Unlike for [`may_send`], one that was never recorded is missing.
#[must_use]
pub fn is_approved(approvals: &[Approval], quarter: Quarter, today: Day) -> bool {
    ApprovalKind::all().iter().all(|kind| covers(approvals, *kind, quarter, today))
}

fn covers(approvals: &[Approval], kind: ApprovalKind, quarter: Quarter, today: Day) -> bool {
    let (first, last) = (Day::first_of(quarter), Day::first_of(quarter.next()).plus(-1).min(today));
    held_until(approvals, kind, first).is_some_and(|until| until >= last)
}

fn in_force(approvals: &[Approval], kind: ApprovalKind) -> impl Iterator<Item = &Terms> {
    let stands = move |approval: &&Approval| approval.terms.kind == kind && approval.withdrawn.is_none();
    approvals.iter().filter(stands).map(|approval| &approval.terms)
}

/// The last day of the unbroken time that holds on a day; a renewal that begins the day after
/// goes on with it.
fn held_until(approvals: &[Approval], kind: ApprovalKind, day: Day) -> Option<Day> {
    let mut until = None;
    loop {
        let from = until.map_or(day, |until: Day| until.plus(1));
        let further = in_force(approvals, kind)
            .filter(|terms| terms.valid_from <= from && from <= terms.valid_until)
            .map(|terms| terms.valid_until)
            .max();
        match further {
            Some(further) => until = Some(further),
            None => return until,
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]

    use super::*;

    const ETHICS: ApprovalKind = ApprovalKind::EthicsApproval;

    fn day(text: &str) -> Day {
        text.parse().unwrap()
    }

    fn approval(kind: ApprovalKind, from: &str, until: &str) -> Approval {
        let at: Instant = "2026-01-01T09:00:00.000Z".parse().unwrap();
        let terms = Terms {
            kind,
            reference: "board file 7".to_owned(),
            valid_from: day(from),
            valid_until: day(until),
        };
        let id = ApprovalId::from_random(0, [0; 10]);
        Approval {
            id,
            centre: "S07".parse().unwrap(),
            terms,
            renews: None,
            by: Actor::Operator,
            at,
            withdrawn: None,
        }
    }

    fn withdrawn(approval: Approval) -> Approval {
        let withdrawn = Withdrawal { reason: "taken back".to_owned(), by: Actor::Operator, at: approval.at };
        Approval { withdrawn: Some(withdrawn), ..approval }
    }

    fn q3_on(approvals: &[Approval], today: &str) -> Result<(), ApprovalRefusal> {
        may_send(approvals, Quarter::new(2026, 3).unwrap(), day(today))
    }

    #[test]
    fn cases_of_a_quarter_are_approved_by_both_kinds_for_the_whole_of_it() {
        let q3 = Quarter::new(2026, 3).unwrap();
        let agreement = ApprovalKind::DataAgreement;
        let (ethics, data) =
            (approval(ETHICS, "2026-07-01", "2026-09-30"), approval(agreement, "2026-01-01", "2027-01-31"));
        let ends_early = approval(agreement, "2026-01-01", "2026-09-29");
        for (approvals, today, approved) in [
            (vec![], "2026-12-01", false),
            (vec![ethics.clone()], "2026-12-01", false),
            (vec![ethics.clone(), data.clone()], "2026-12-01", true),
            (vec![withdrawn(ethics.clone()), data], "2026-12-01", false),
            (vec![ethics.clone(), ends_early.clone()], "2026-12-01", false),
            (vec![ethics, ends_early], "2026-09-29", true),
        ] {
            assert_eq!(is_approved(&approvals, q3, day(today)), approved, "{approvals:?} {today}");
        }
    }

    #[test]
    fn it_holds_from_its_first_day_to_its_last() {
        let ethics = [approval(ETHICS, "2026-07-01", "2026-10-31")];
        let ended =
            |on| Err(ApprovalRefusal::NotToday { kind: ETHICS, standing: Standing::Ended { on: day(on) } });
        for (today, expected) in [
            (
                "2026-06-30",
                Err(ApprovalRefusal::NotToday {
                    kind: ETHICS,
                    standing: Standing::Begins { on: day("2026-07-01") },
                }),
            ),
            ("2026-07-01", Ok(())),
            ("2026-10-31", Ok(())),
            ("2026-11-01", ended("2026-10-31")),
        ] {
            assert_eq!(q3_on(&ethics, today), expected, "{today}");
        }
        // The day is the same in its first and its last second.
        let last = |time: &str| Day::of(format!("2026-10-31T{time}Z").parse().unwrap());
        assert_eq!((last("00:00:00.000"), last("23:59:59.999")), (day("2026-10-31"), day("2026-10-31")));
    }

    #[test]
    fn a_gap_stands_in_the_way_and_a_seamless_renewal_does_not() {
        let first = || approval(ETHICS, "2026-01-01", "2026-08-15");
        let seamless = [first(), approval(ETHICS, "2026-08-16", "2027-08-15")];
        assert_eq!(q3_on(&seamless, "2026-11-01"), Ok(()));
        assert_eq!(
            Standing::of(&seamless, ETHICS, day("2026-05-01")),
            Standing::Holds { until: day("2027-08-15") }
        );
        let gap = [first(), approval(ETHICS, "2026-08-17", "2027-08-15")];
        let quarter = Quarter::new(2026, 3).unwrap();
        assert_eq!(q3_on(&gap, "2026-11-01"), Err(ApprovalRefusal::NotThatQuarter { kind: ETHICS, quarter }));
        assert!(matches!(q3_on(&gap, "2026-08-16"), Err(ApprovalRefusal::NotToday { .. })));
    }

    #[test]
    fn the_quarter_of_the_procedure_must_be_covered_as_far_as_it_has_gone() {
        let later = [approval(ETHICS, "2026-07-02", "2027-06-30")];
        let quarter = Quarter::new(2026, 3).unwrap();
        assert_eq!(
            q3_on(&later, "2026-09-01"),
            Err(ApprovalRefusal::NotThatQuarter { kind: ETHICS, quarter })
        );
        // Its last days are not over yet, and the approval ends today.
        assert_eq!(q3_on(&[approval(ETHICS, "2026-07-01", "2026-09-01")], "2026-09-01"), Ok(()));
    }

    #[test]
    fn both_kinds_count_once_they_were_recorded() {
        assert_eq!(q3_on(&[], "2026-11-01"), Ok(()));
        let ethics = || approval(ETHICS, "2026-01-01", "2027-01-01");
        assert_eq!(q3_on(&[ethics()], "2026-11-01"), Ok(()));
        let agreement = approval(ApprovalKind::DataAgreement, "2026-01-01", "2026-10-01");
        let kind = ApprovalKind::DataAgreement;
        let standing = Standing::Ended { on: day("2026-10-01") };
        assert_eq!(
            q3_on(&[ethics(), agreement], "2026-11-01"),
            Err(ApprovalRefusal::NotToday { kind, standing })
        );
        // One that was taken back does not open the gate again.
        let standing = Standing::Withdrawn;
        assert_eq!(
            q3_on(&[withdrawn(ethics())], "2026-11-01"),
            Err(ApprovalRefusal::NotToday { kind: ETHICS, standing })
        );
        assert_eq!(q3_on(&[withdrawn(ethics()), ethics()], "2026-11-01"), Ok(()));
    }

    #[test]
    fn it_is_said_when_it_runs_out() {
        let runs_out = |today: &str| {
            let all = [approval(ETHICS, "2026-01-01", "2026-10-31")];
            Standing::of(&all, ETHICS, day(today)).runs_out_in(day(today))
        };
        // Sixty days before 31 October 2026: GNU coreutils 9.1, `date -u -d "2026-10-31 - 60 days"`.
        assert_eq!(runs_out("2026-08-31"), None);
        assert_eq!(runs_out("2026-09-01"), Some(60));
        assert_eq!(runs_out("2026-10-31"), Some(0));
        assert_eq!(runs_out("2026-11-01"), Some(-1));
    }

    #[test]
    fn terms_are_checked() {
        let terms =
            |reference: &str, until: &str| approval(ETHICS, "2026-07-01", until).terms.check_with(reference);
        assert_eq!(terms("board file 7", "2026-07-01"), Ok(()));
        assert_eq!(
            terms("board file 7", "2026-06-30"),
            Err(TermsError::EndsBeforeItBegins { from: day("2026-07-01") })
        );
        for wrong in ["", "  ", "two\nlines", &"x".repeat(81)] {
            assert_eq!(terms(wrong, "2026-08-01"), Err(TermsError::Reference));
        }
        for wrong in ["", "2026-02-29", "31.10.2026", "2026-1-1", "tomorrow"] {
            assert_eq!(wrong.parse::<Day>(), Err(DayError), "{wrong}");
        }
    }

    impl Terms {
        fn check_with(self, reference: &str) -> Result<(), TermsError> {
            Self { reference: reference.to_owned(), ..self }.check()
        }
    }
}
