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
    /// The revision of the case that came with the answer, where a value was changed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub revision: Option<i64>,
}

/// Why a question was opened again, with what had been answered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reopened {
    /// What the answer left open.
    pub sentence: String,
    /// Who opened it again.
    pub by: Actor,
    /// When.
    pub at: Instant,
    /// The answer that did not do.
    pub answer: Option<Answer>,
}

/// The stage of a question with the facts that stage has.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum Stage {
    /// Waits for the centre.
    Open {
        /// Why it was opened again, if it was.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        again: Option<Reopened>,
    },
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
    /// A monitor accepted the answer and had something to say about it.
    AnswerAcceptedSaying(String),
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
    /// A question as it is first asked.
    pub const ASKED: Stage = Stage::Open { again: None };

    /// The stage in one word.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Stage::Open { .. } => "open",
            Stage::Answered { .. } => "answered",
            Stage::Closed { .. } => "closed",
        }
    }

    fn refuse(&self) -> QueryRefusal {
        let allowed = match self {
            Stage::Open { .. } => "answered or taken back",
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
        self.answered(text, by, at, None)
    }

    /// Answers with a change of the case, which made a revision of it.
    ///
    /// # Errors
    /// As for [`DataQuery::answer`].
    pub fn answer_with_change(
        self,
        text: &str,
        revision: i64,
        by: Actor,
        at: Instant,
    ) -> Result<Self, QueryRefusal> {
        self.answered(text, by, at, Some(revision))
    }

    fn answered(
        self,
        text: &str,
        by: Actor,
        at: Instant,
        revision: Option<i64>,
    ) -> Result<Self, QueryRefusal> {
        let text = checked(text, "answer")?;
        match self.stage {
            Stage::Open { .. } | Stage::Answered { .. } => {
                Ok(Self { stage: Stage::Answered { answer: Answer { text, by, at, revision } }, ..self })
            }
            Stage::Closed { .. } => Err(self.stage.refuse()),
        }
    }

    /// Accepts the answer, with or without a sentence.
    ///
    /// # Errors
    /// When there is no answer to accept, the answer is the closer's own, or the sentence is
    /// empty or too long.
    pub fn accept(self, saying: Option<&str>, by: Actor, at: Instant) -> Result<Self, QueryRefusal> {
        let why = match saying {
            None => Closing::AnswerAccepted,
            Some(sentence) => Closing::AnswerAcceptedSaying(checked(sentence, "sentence")?),
        };
        match self.stage {
            Stage::Answered { answer } if answer.by == by => Err(QueryRefusal::OwnAnswer),
            Stage::Answered { answer } => {
                Ok(Self { stage: Stage::Closed { answer: Some(answer), by, at, why }, ..self })
            }
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
            Stage::Open { .. } => Ok(Self {
                stage: Stage::Closed { answer: None, by, at, why: Closing::TakenBack(reason) },
                ..self
            }),
            _ => Err(self.stage.refuse()),
        }
    }

    /// Opens an answered or closed question again and says what is still to answer.
    ///
    /// # Errors
    /// When it is open, or the sentence is empty or too long.
    pub fn reopen(self, sentence: &str, by: Actor, at: Instant) -> Result<Self, QueryRefusal> {
        let sentence = checked(sentence, "sentence")?;
        let answer = match self.stage {
            Stage::Open { .. } => return Err(self.stage.refuse()),
            Stage::Answered { answer } => Some(answer),
            Stage::Closed { answer, .. } => answer,
        };
        let again = Some(Reopened { sentence, by, at, answer });
        Ok(Self { stage: Stage::Open { again }, ..self })
    }

    /// Settles a question of a rule that now passes; `None` when there is nothing to settle.
    #[must_use]
    pub fn settle_by_rule(self, by: Actor, at: Instant) -> Option<Self> {
        let answer = match (&self.origin, self.stage) {
            (Origin::Manual, _) | (_, Stage::Closed { .. }) => return None,
            (Origin::Rule(_), Stage::Open { .. }) => None,
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
            stage: Stage::ASKED,
        }
    }

    #[test]
    fn runs_from_question_to_settled() {
        let answered = raised(Origin::Manual).answer(" It is mGy. ", member(2), at(1)).unwrap();
        assert_eq!(answered.clone().accept(None, member(2), at(2)), Err(QueryRefusal::OwnAnswer));
        let closed = answered.accept(None, member(1), at(2)).unwrap();
        let Stage::Closed { answer: Some(answer), why: Closing::AnswerAccepted, .. } = &closed.stage else {
            panic!("{closed:?}")
        };
        assert_eq!(answer.text, "It is mGy.");
        let again = closed.reopen("Which unit does the console show?", member(1), at(3)).unwrap();
        let Stage::Open { again: Some(again) } = &again.stage else { panic!("{again:?}") };
        assert_eq!(again.sentence, "Which unit does the console show?");
        assert_eq!(again.answer.as_ref().map(|answer| answer.text.as_str()), Some("It is mGy."));
    }

    #[test]
    fn an_accepting_sentence_and_a_change_stay_with_the_question() {
        let changed = raised(Origin::Manual).answer_with_change("typed wrong", 2, member(2), at(1)).unwrap();
        let closed = changed.accept(Some(" Thank you. "), member(1), at(2)).unwrap();
        let Stage::Closed { answer: Some(answer), why, .. } = &closed.stage else { panic!("{closed:?}") };
        assert_eq!(
            (answer.revision, why),
            (Some(2), &Closing::AnswerAcceptedSaying("Thank you.".to_owned()))
        );
    }

    /// What was stored before questions could be opened again with a sentence.
    #[test]
    fn older_stages_read_back_as_they_were_written() {
        for text in [
            r#"{"state":"open"}"#,
            r#"{"state":"answered","answer":{"text":"yes","by":"operator","at":"2026-11-25T09:00:00.000Z"}}"#,
        ] {
            let stage: Stage = serde_json::from_str(text).unwrap();
            assert_eq!(serde_json::to_string(&stage).unwrap(), text);
        }
    }

    #[test]
    fn refuses_every_other_step() {
        let open = || raised(Origin::Manual);
        let answered = || open().answer("yes", member(2), at(1)).unwrap();
        let closed = || answered().accept(None, member(1), at(2)).unwrap();
        let wrong = |result: Result<DataQuery, QueryRefusal>| {
            assert!(matches!(result, Err(QueryRefusal::WrongStage { .. })), "{result:?}");
        };
        wrong(open().accept(None, member(1), at(1)));
        wrong(open().reopen("And the unit?", member(1), at(1)));
        wrong(answered().take_back("not needed", member(1), at(2)));
        wrong(closed().answer("again", member(2), at(3)));
        wrong(closed().accept(None, member(1), at(3)));
        wrong(closed().take_back("not needed", member(1), at(3)));
        for text in ["", "   ", &"x".repeat(1001)] {
            assert_eq!(open().answer(text, member(2), at(1)), Err(QueryRefusal::Text { field: "answer" }));
            assert_eq!(open().take_back(text, member(1), at(1)), Err(QueryRefusal::Text { field: "reason" }));
            let sentence = Err(QueryRefusal::Text { field: "sentence" });
            assert_eq!(answered().accept(Some(text), member(1), at(2)), sentence);
            assert_eq!(answered().reopen(text, member(1), at(2)), sentence);
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
