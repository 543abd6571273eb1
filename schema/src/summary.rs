//! A safety summary on its way to the public: drafted, approved, published, perhaps
//! withdrawn; or refused on the way. Drafting, approving and publishing are three people's work.

use serde::{Deserialize, Serialize};

use crate::audit::{Actor, Reason};
use crate::ids::SummaryNumber;
use crate::instant::Instant;

/// Who did a step, and when.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Step {
    /// Who.
    pub by: Actor,
    /// When.
    pub at: Instant,
}

/// The stage of a summary with the facts that stage has.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum SummaryStage {
    /// Composed; waits for approval.
    Draft {
        /// Who composed it.
        drafted: Step,
    },
    /// Its disclosure was approved; waits for publication.
    Approved {
        /// Who composed it.
        drafted: Step,
        /// Who approved.
        approved: Step,
    },
    /// Beside what was published meanwhile it would give a count away. What was published cannot be
    /// unread, so nothing leads on from here: it is composed anew.
    Refused {
        /// Who composed it.
        drafted: Step,
        /// Who had approved it, if anyone had.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        approved: Option<Step>,
        /// Who took the step at which it was attacked.
        refused: Step,
        /// Which number who could work out, and no count.
        reason: String,
    },
    /// Open to everyone.
    Published {
        /// Who composed it.
        drafted: Step,
        /// Who approved.
        approved: Step,
        /// Who published.
        published: Step,
        /// Its public number.
        number: SummaryNumber,
    },
    /// No longer to be relied on; number and reason stay public.
    Withdrawn {
        /// Who composed it.
        drafted: Step,
        /// Who approved.
        approved: Step,
        /// Who published.
        published: Step,
        /// Its public number.
        number: SummaryNumber,
        /// Who withdrew it.
        withdrawn: Step,
        /// The public reason.
        reason: String,
        /// The summary that says it right.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        corrected_by: Option<SummaryNumber>,
    },
}

/// Why a step was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SummaryRefusal {
    /// The stage does not allow the step.
    #[error("the summary is {stage}; it can now be {allowed}")]
    WrongStage {
        /// The present stage.
        stage: &'static str,
        /// The step that is allowed.
        allowed: &'static str,
    },
    /// The drafter would approve or publish the own draft.
    #[error("whoever drafted a summary can neither approve nor publish it; ask somebody else")]
    OwnDraft,
    /// A correction that came no later.
    #[error("a summary is corrected by one that was published after it")]
    NotLater,
    /// The approver would publish.
    #[error("whoever approved the disclosure of a summary cannot publish it")]
    OwnApproval,
}

impl SummaryStage {
    /// The stage in one word.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            SummaryStage::Draft { .. } => "draft",
            SummaryStage::Approved { .. } => "approved",
            SummaryStage::Refused { .. } => "refused",
            SummaryStage::Published { .. } => "published",
            SummaryStage::Withdrawn { .. } => "withdrawn",
        }
    }

    fn no_such_step(&self) -> SummaryRefusal {
        let allowed = match self {
            SummaryStage::Draft { .. } => "approved",
            SummaryStage::Approved { .. } => "published",
            SummaryStage::Refused { .. } => "composed anew",
            SummaryStage::Published { .. } => "withdrawn",
            SummaryStage::Withdrawn { .. } => "read, nothing else",
        };
        SummaryRefusal::WrongStage { stage: self.name(), allowed }
    }

    /// Approves the disclosure.
    ///
    /// # Errors
    /// When it is no draft, or the approver drafted it.
    pub fn approve(self, step: Step) -> Result<Self, SummaryRefusal> {
        match self {
            SummaryStage::Draft { drafted } if same_person(drafted, step) => Err(SummaryRefusal::OwnDraft),
            SummaryStage::Draft { drafted } => Ok(SummaryStage::Approved { drafted, approved: step }),
            other => Err(other.no_such_step()),
        }
    }

    /// Ends the way of a summary that would give a count away.
    ///
    /// # Errors
    /// When it is no longer on its way.
    pub fn refuse(self, step: Step, reason: String) -> Result<Self, SummaryRefusal> {
        match self {
            SummaryStage::Draft { drafted } => {
                Ok(SummaryStage::Refused { drafted, approved: None, refused: step, reason })
            }
            SummaryStage::Approved { drafted, approved } => {
                Ok(SummaryStage::Refused { drafted, approved: Some(approved), refused: step, reason })
            }
            other => Err(other.no_such_step()),
        }
    }

    /// Publishes under a number.
    ///
    /// # Errors
    /// When it is not approved, or the publisher drafted or approved it.
    pub fn publish(self, step: Step, number: SummaryNumber) -> Result<Self, SummaryRefusal> {
        match self {
            SummaryStage::Approved { approved, .. } if same_person(approved, step) => {
                Err(SummaryRefusal::OwnApproval)
            }
            SummaryStage::Approved { drafted, .. } if same_person(drafted, step) => {
                Err(SummaryRefusal::OwnDraft)
            }
            SummaryStage::Approved { drafted, approved } => {
                Ok(SummaryStage::Published { drafted, approved, published: step, number })
            }
            other => Err(other.no_such_step()),
        }
    }

    /// Withdraws with a public reason; a correction names the summary that says it right.
    ///
    /// # Errors
    /// When it is not published, or would be corrected by itself or an earlier one.
    pub fn withdraw(
        self,
        step: Step,
        reason: &Reason,
        corrected_by: Option<SummaryNumber>,
    ) -> Result<Self, SummaryRefusal> {
        match self {
            SummaryStage::Published { number, .. }
                if corrected_by.is_some_and(|successor| successor.0 <= number.0) =>
            {
                Err(SummaryRefusal::NotLater)
            }
            SummaryStage::Published { drafted, approved, published, number } => Ok(SummaryStage::Withdrawn {
                drafted,
                approved,
                published,
                number,
                withdrawn: step,
                reason: reason.as_str().to_owned(),
                corrected_by,
            }),
            other => Err(other.no_such_step()),
        }
    }
}

/// Whether both steps are known to be one member's. The operator of the server stands for
/// whoever is at the command line, so two steps of the operator are not one person's.
fn same_person(one: Step, other: Step) -> bool {
    matches!((one.by, other.by), (Actor::Member(a), Actor::Member(b)) if a == b)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

    use super::*;
    use crate::ids::MemberId;

    fn step(number: u8) -> Step {
        let by = Actor::Member(MemberId::from_random(0, [number; 10]));
        Step { by, at: Instant::from_unix_milliseconds(i64::from(number)) }
    }

    #[test]
    fn three_people_take_it_to_the_public() {
        let draft = SummaryStage::Draft { drafted: step(1) };
        assert_eq!(draft.clone().approve(step(1)), Err(SummaryRefusal::OwnDraft));
        let approved = draft.approve(step(2)).unwrap();
        assert_eq!(approved.clone().publish(step(2), SummaryNumber(1)), Err(SummaryRefusal::OwnApproval));
        assert_eq!(approved.clone().publish(step(1), SummaryNumber(1)), Err(SummaryRefusal::OwnDraft));
        let published = approved.publish(step(3), SummaryNumber(1)).unwrap();
        let reason = "a centre sent wrong counts".parse().unwrap();
        let withdrawn = published.withdraw(step(2), &reason, None).unwrap();
        assert_eq!(withdrawn.name(), "withdrawn");
    }

    #[test]
    fn no_step_can_be_skipped_or_repeated() {
        let reason: Reason = "no longer right".parse().unwrap();
        let draft = || SummaryStage::Draft { drafted: step(1) };
        let approved = || draft().approve(step(2)).unwrap();
        let published = || approved().publish(step(3), SummaryNumber(1)).unwrap();
        let wrong = |result: Result<SummaryStage, SummaryRefusal>| {
            assert!(matches!(result, Err(SummaryRefusal::WrongStage { .. })), "{result:?}");
        };
        wrong(draft().publish(step(3), SummaryNumber(1)));
        wrong(draft().withdraw(step(3), &reason, None));
        let why = || "somebody could work out a count".to_owned();
        for refused in [draft(), approved()].map(|stage| stage.refuse(step(3), why()).unwrap()) {
            assert_eq!(refused.name(), "refused");
            wrong(refused.clone().approve(step(4)));
            wrong(refused.clone().publish(step(4), SummaryNumber(1)));
            wrong(refused.clone().withdraw(step(4), &reason, None));
            wrong(refused.refuse(step(4), why()));
        }
        wrong(published().refuse(step(4), why()));
        wrong(approved().approve(step(3)));
        wrong(approved().withdraw(step(3), &reason, None));
        wrong(published().approve(step(4)));
        wrong(published().publish(step(4), SummaryNumber(2)));
        for earlier in [0, 1] {
            let by = Some(SummaryNumber(earlier));
            assert_eq!(published().withdraw(step(4), &reason, by), Err(SummaryRefusal::NotLater));
        }
        let withdrawn = published().withdraw(step(4), &reason, None).unwrap();
        wrong(withdrawn.withdraw(step(5), &reason, None));
    }
}
