//! Data queries: what people write in them is screened before it is kept.

use quietbeam_schema::ids::DataQueryId;

use super::{RegistryError, words};
use crate::access::action::{AnswerQuery, CloseQuery, ListQueries, RaiseQuery};
use crate::store::{QueryFilter, QueryRow, Question, Session, StoreError, Writing};

/// The most a question or an answer may say.
const LONGEST: usize = 1_000;

/// How many questions wait for an answer.
///
/// # Errors
/// When the store fails.
pub fn count_open(session: &mut Session<'_, ListQueries>) -> Result<usize, StoreError> {
    session.count_queries(&waiting())
}

/// The questions that have waited longest, at most `most` of them.
///
/// # Errors
/// When the store fails.
pub fn longest_waiting(
    session: &mut Session<'_, ListQueries>,
    most: u8,
) -> Result<Vec<QueryRow>, StoreError> {
    session.oldest_queries(&waiting(), most)
}

fn waiting() -> QueryFilter {
    QueryFilter { state: Some("open".to_owned()), ..QueryFilter::default() }
}

/// Asks a centre about a case.
///
/// # Errors
/// When the sentence must be mended or there is no such case within reach.
pub fn raise(
    session: &mut Session<'_, RaiseQuery, Writing>,
    question: Question,
) -> Result<QueryRow, RegistryError> {
    let sentence = said(&question.sentence, "/sentence")?;
    let field = question.field.as_deref().map(|field| said(field, "/field")).transpose()?;
    let id = session.raise_query(Question { code: question.code, field, sentence })?;
    Ok(session.find_query(id)?)
}

/// Answers a question with a sentence.
///
/// # Errors
/// When the answer must be mended, or the question does not wait for one.
pub fn answer(
    session: &mut Session<'_, AnswerQuery, Writing>,
    id: DataQueryId,
    text: &str,
) -> Result<QueryRow, RegistryError> {
    // Another centre's question is absent whatever the answer says.
    session.find_query(id)?;
    let text = said(text, "/answer")?;
    Ok(session.answer_query(id, &text)?)
}

/// Takes a question back.
///
/// # Errors
/// When the reason must be mended, or the question is closed already.
pub fn take_back(
    session: &mut Session<'_, CloseQuery, Writing>,
    id: DataQueryId,
    reason: &str,
) -> Result<QueryRow, RegistryError> {
    session.find_query(id)?;
    let reason = said(reason, "/reason")?;
    Ok::<_, StoreError>(session.take_back_query(id, &reason)?).map_err(RegistryError::from)
}

pub(super) fn said(text: &str, field: &'static str) -> Result<String, RegistryError> {
    let text = words::line(text, LONGEST).map_err(|error| RegistryError::field(field, "value", error))?;
    words::screened(&text).map_err(|error| RegistryError::field(field, "free_text", error))?;
    Ok(text)
}
