//! What is done with a question, and in which words a refusal comes back.

use quietbeam_schema::finding::Weight;
use quietbeam_schema::ids::DataQueryId;

use crate::access::action::{AnswerQuery, ChangeCase, CloseQuery};
use crate::access::session::Caller;
use crate::api::Problem;
use crate::pages::words::capital;
use crate::registry::queries::{self, Mend};
use crate::registry::{IfMatch, RegistryError};
use crate::store::{Conflict, QueryRow, Refused, Store, StoreError};

/// A step.
#[derive(Clone)]
pub(super) enum Deed {
    /// It is right, because.
    Answer(String),
    /// Another value stands in the field from now on.
    Change {
        /// The revision of the case that was read.
        read: IfMatch,
        /// What is to stand there.
        mend: Mend,
        /// Why.
        because: String,
    },
    /// The answer will do; a blank says nothing with it.
    Accept(String),
    /// The answer will not do.
    Reopen(String),
    /// The question was none.
    TakeBack(String),
}

/// Why a step was not taken.
pub(super) enum Refusal {
    /// The sentence must be mended, whichever question it is for.
    Sentence(String),
    /// This question or its case does not take it.
    Row(String),
}

impl Deed {
    /// Takes the step.
    pub(super) async fn perform(
        self,
        caller: &Caller,
        store: &Store,
        id: DataQueryId,
    ) -> Result<Result<QueryRow, Refusal>, Problem> {
        let done = match self {
            Deed::Answer(text) => {
                let permit = caller.permit::<AnswerQuery>()?;
                store.write(permit, move |session| queries::answer(session, id, &text)).await
            }
            Deed::Change { read, mend, because } => {
                let permit = caller.permit::<ChangeCase>()?;
                let work = store.write(permit, move |session| {
                    queries::answer_with_change(session, id, &read, &mend, &because)
                });
                work.await
            }
            Deed::Accept(text) => {
                let permit = caller.permit::<CloseQuery>()?;
                let work = store.write(permit, move |session| {
                    queries::accept(session, id, Some(text.as_str()).filter(|text| !text.trim().is_empty()))
                });
                work.await
            }
            Deed::Reopen(text) => {
                let permit = caller.permit::<CloseQuery>()?;
                store.write(permit, move |session| queries::reopen(session, id, &text)).await
            }
            Deed::TakeBack(text) => {
                let permit = caller.permit::<CloseQuery>()?;
                store.write(permit, move |session| queries::take_back(session, id, &text)).await
            }
        };
        match done {
            Ok(row) => Ok(Ok(row)),
            Err(error) => refusal(error).map(Err),
        }
    }
}

fn refusal(error: RegistryError) -> Result<Refusal, Problem> {
    match error {
        RegistryError::Stale(_)
        | RegistryError::Store(StoreError::Conflict(Conflict::StaleRevision { .. } | Conflict::Race)) => {
            let sentence = "Somebody else changed this after you opened the page. What stands there now was not overwritten; look again.";
            Ok(Refusal::Row(sentence.to_owned()))
        }
        RegistryError::Store(StoreError::Refused(Refused::Query(refused))) => {
            Ok(Refusal::Row(format!("{}.", capital(&refused.to_string()))))
        }
        RegistryError::Field { field: "/answer" | "/sentence" | "/reason", sentence, .. } => {
            Ok(Refusal::Sentence(sentence))
        }
        RegistryError::Field { sentence, .. } => Ok(Refusal::Row(sentence)),
        RegistryError::Findings(findings) => {
            let hard = findings.iter().filter(|finding| finding.weight == Weight::Hard);
            Ok(Refusal::Row(hard.map(|finding| finding.sentence.as_str()).collect::<Vec<_>>().join(" ")))
        }
        other => Err(other.into()),
    }
}
