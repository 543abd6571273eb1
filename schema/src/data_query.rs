//! A question about a case: raised, answered, closed.

use serde::{Deserialize, Serialize};

use crate::audit::Actor;
use crate::ids::{CaseCode, DataQueryId};
use crate::instant::Instant;

/// Where a question comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Origin {
    /// A rule of the dictionary found something odd. Only the rule closes it by itself.
    Rule(String),
    /// A monitor asked.
    Manual,
}

/// An answer: who, when and what.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Answer {
    /// What the centre answered.
    pub text: String,
    /// Who answered.
    pub by: Actor,
    /// When.
    pub at: Instant,
}

/// The stage of a question with the facts that stage has.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum Stage {
    /// Waits for the centre.
    Open,
    /// The centre answered; waits for the monitor.
    Answered {
        /// The answer.
        answer: Answer,
    },
    /// Settled.
    Closed {
        /// The answer, if there was one.
        answer: Option<Answer>,
        /// Who closed it.
        by: Actor,
        /// When.
        at: Instant,
        /// Why it counts as settled.
        why: Closing,
    },
}

/// Why a question counts as settled.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Closing {
    /// A monitor accepted the answer.
    AnswerAccepted,
    /// The data changed and the rule no longer finds anything.
    RulePasses,
    /// A monitor took the question back, with a reason.
    TakenBack(String),
}

/// A question about one case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DataQuery {
    /// Its identifier.
    pub id: DataQueryId,
    /// The case asked about.
    pub code: CaseCode,
    /// The field asked about, if it is one.
    pub field: Option<String>,
    /// Rule or person.
    pub origin: Origin,
    /// The question, with how to mend what is asked about.
    pub sentence: String,
    /// Who asked.
    pub raised_by: Actor,
    /// When.
    pub raised_at: Instant,
    /// Where it stands.
    pub stage: Stage,
}

/// Why a step was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum QueryRefusal {
    /// The stage does not allow the step.
    #[error("the query is {stage}; it can now be {allowed}")]
    WrongStage {
        /// The present stage.
        stage: &'static str,
        /// The steps that are allowed.
        allowed: &'static str,
    },
    /// An answer or reason without text.
    #[error("{field}: write 1 to 1,000 characters")]
    Text {
        /// Which text.
        field: &'static str,
    },
    /// The person who answered would accept the own answer.
    #[error("whoever answered a query cannot also close it")]
    OwnAnswer,
}

impl Stage {
    /// The stage in one word.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Stage::Open => "open",
            Stage::Answered { .. } => "answered",
            Stage::Closed { .. } => "closed",
        }
    }

    fn refuse(&self) -> QueryRefusal {
        let allowed = match self {
            Stage::Open => "answered or taken back",
            Stage::Answered { .. } => "answered again, closed or reopened",
            Stage::Closed { .. } => "reopened",
        };
        QueryRefusal::WrongStage { stage: self.name(), allowed }
    }
}

impl DataQuery {
    /// Answers, or replaces an answer that nobody has accepted yet.
    ///
    /// # Errors
    /// When the query is closed or the text is empty or too long.
    pub fn answer(self, text: &str, by: Actor, at: Instant) -> Result<Self, QueryRefusal> {
        let text = checked(text, "answer")?;
        match self.stage {
            Stage::Open | Stage::Answered { .. } => {
                Ok(Self { stage: Stage::Answered { answer: Answer { text, by, at } }, ..self })
            }
            Stage::Closed { .. } => Err(self.stage.refuse()),
        }
    }

    /// Accepts the answer.
    ///
    /// # Errors
    /// When there is no answer to accept, or the answer is the closer's own.
    pub fn accept(self, by: Actor, at: Instant) -> Result<Self, QueryRefusal> {
        match self.stage {
            Stage::Answered { answer } if answer.by == by => Err(QueryRefusal::OwnAnswer),
            Stage::Answered { answer } => Ok(Self {
                stage: Stage::Closed { answer: Some(answer), by, at, why: Closing::AnswerAccepted },
                ..self
            }),
            _ => Err(self.stage.refuse()),
        }
    }

    /// Takes an unanswered question back.
    ///
    /// # Errors
    /// When it was answered or closed, or the reason is empty or too long.
    pub fn take_back(self, reason: &str, by: Actor, at: Instant) -> Result<Self, QueryRefusal> {
        let reason = checked(reason, "reason")?;
        match self.stage {
            Stage::Open => Ok(Self {
                stage: Stage::Closed { answer: None, by, at, why: Closing::TakenBack(reason) },
                ..self
            }),
            _ => Err(self.stage.refuse()),
        }
    }

    /// Opens an answered or closed question again; the former answer stays in the trail.
    ///
    /// # Errors
    /// When it is open.
    pub fn reopen(self) -> Result<Self, QueryRefusal> {
        match self.stage {
            Stage::Open => Err(self.stage.refuse()),
            _ => Ok(Self { stage: Stage::Open, ..self }),
        }
    }

    /// Settles a question of a rule that now passes; `None` when there is nothing to settle.
    #[must_use]
    pub fn settle_by_rule(self, by: Actor, at: Instant) -> Option<Self> {
        let answer = match (&self.origin, self.stage) {
            (Origin::Manual, _) | (_, Stage::Closed { .. }) => return None,
            (Origin::Rule(_), Stage::Open) => None,
            (Origin::Rule(_), Stage::Answered { answer }) => Some(answer),
        };
        let stage = Stage::Closed { answer, by, at, why: Closing::RulePasses };
        Some(Self { stage, ..self })
    }
}

/// Checks the text of a question, an answer or a reason and trims it.
fn checked(text: &str, field: &'static str) -> Result<String, QueryRefusal> {
    let text = text.trim();
    if text.is_empty() || text.chars().count() > 1000 {
        return Err(QueryRefusal::Text { field });
    }
    Ok(text.to_owned())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

    use super::*;
    use crate::ids::MemberId;

    fn member(number: u8) -> Actor {
        Actor::Member(MemberId::from_random(0, [number; 10]))
    }

    fn at(seconds: i64) -> Instant {
        Instant::from_unix_milliseconds(seconds * 1000)
    }

    fn raised(origin: Origin) -> DataQuery {
        DataQuery {
            id: DataQueryId::from_random(0, [0; 10]),
            code: CaseCode::from_random([1; 16]),
            field: Some("air_kerma".to_owned()),
            origin,
            sentence: "Please check the unit.".to_owned(),
            raised_by: member(1),
            raised_at: at(0),
            stage: Stage::Open,
        }
    }

    #[test]
    fn runs_from_question_to_settled() {
        let answered = raised(Origin::Manual).answer(" It is mGy. ", member(2), at(1)).unwrap();
        assert_eq!(answered.clone().accept(member(2), at(2)), Err(QueryRefusal::OwnAnswer));
        let closed = answered.accept(member(1), at(2)).unwrap();
        let Stage::Closed { answer: Some(answer), why: Closing::AnswerAccepted, .. } = &closed.stage else {
            panic!("{closed:?}")
        };
        assert_eq!(answer.text, "It is mGy.");
        assert_eq!(closed.reopen().unwrap().stage, Stage::Open);
    }

    #[test]
    fn refuses_every_other_step() {
        let open = || raised(Origin::Manual);
        let answered = || open().answer("yes", member(2), at(1)).unwrap();
        let closed = || answered().accept(member(1), at(2)).unwrap();
        let wrong = |result: Result<DataQuery, QueryRefusal>| {
            assert!(matches!(result, Err(QueryRefusal::WrongStage { .. })), "{result:?}");
        };
        wrong(open().accept(member(1), at(1)));
        wrong(open().reopen());
        wrong(answered().take_back("not needed", member(1), at(2)));
        wrong(closed().answer("again", member(2), at(3)));
        wrong(closed().accept(member(1), at(3)));
        wrong(closed().take_back("not needed", member(1), at(3)));
        for text in ["", "   ", &"x".repeat(1001)] {
            assert_eq!(open().answer(text, member(2), at(1)), Err(QueryRefusal::Text { field: "answer" }));
            assert_eq!(open().take_back(text, member(1), at(1)), Err(QueryRefusal::Text { field: "reason" }));
        }
    }

    #[test]
    fn a_rule_settles_only_its_own_question() {
        let of_rule = raised(Origin::Rule("dose_without_beam".to_owned()));
        let settled = of_rule.settle_by_rule(member(2), at(1)).unwrap();
        assert!(matches!(settled.stage, Stage::Closed { why: Closing::RulePasses, .. }));
        assert_eq!(settled.settle_by_rule(member(2), at(2)), None);
        assert_eq!(raised(Origin::Manual).settle_by_rule(member(2), at(1)), None);
    }
}
