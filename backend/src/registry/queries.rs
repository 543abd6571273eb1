//! Data queries: what people write in them is screened before it is kept.

use std::collections::BTreeMap;

use quietbeam_analysis::methods::sample::{Sample, median};
use quietbeam_schema::case::{CaseForm, variables_of};
use quietbeam_schema::dictionary::column;
use quietbeam_schema::finding::Place;
use quietbeam_schema::ids::{CentreCode, DataQueryId};

use super::{IfMatch, RegistryError, Version, cases, words};
use crate::access::action::{AnswerQuery, ChangeCase, CloseQuery, ListQueries, RaiseQuery};
use crate::store::{PageRequest, QueryFilter, QueryRow, Question, Session, StoreError, Writing};

/// The most a question or an answer may say.
const LONGEST: usize = 1_000;

/// How many questions wait for an answer.
///
/// # Errors
/// When the store fails.
pub fn count_open(session: &mut Session<'_, ListQueries>) -> Result<usize, StoreError> {
    session.count_queries(&in_state("open"))
}

/// How many answers wait for a monitor.
///
/// # Errors
/// When the store fails.
pub fn count_answered(session: &mut Session<'_, ListQueries>) -> Result<usize, StoreError> {
    session.count_queries(&in_state("answered"))
}

/// The questions that have waited longest, at most `most` of them.
///
/// # Errors
/// When the store fails.
pub fn longest_waiting(
    session: &mut Session<'_, ListQueries>,
    most: u8,
) -> Result<Vec<QueryRow>, StoreError> {
    let page = PageRequest { after: None, limit: i64::from(most) };
    Ok(session.oldest_queries(&in_state("open"), page)?.rows)
}

fn in_state(state: &str) -> QueryFilter {
    QueryFilter { state: Some(state.to_owned()), ..QueryFilter::default() }
}

/// How long the open questions of a centre have waited.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ageing {
    /// The centre.
    pub centre: CentreCode,
    /// How many are open.
    pub open: usize,
    /// The median of the days they have been open.
    pub median_days: f64,
}

/// How long open questions have waited, by centre.
///
/// # Errors
/// When the store fails.
pub fn ageing(session: &mut Session<'_, ListQueries>) -> Result<Vec<Ageing>, StoreError> {
    let now = session.now().unix_seconds();
    let mut days: BTreeMap<CentreCode, Vec<f64>> = BTreeMap::new();
    for (centre, asked) in session.asked_when(&in_state("open"))? {
        let waited = (now - asked.unix_seconds()).max(0) / 86_400;
        days.entry(centre).or_default().push(waited as f64);
    }
    let of = |(centre, days): (CentreCode, Vec<f64>)| {
        let open = days.len();
        let sample = Sample::new(days).ok()?;
        Some(Ageing { centre, open, median_days: median(&sample) })
    };
    Ok(days.into_iter().filter_map(of).collect())
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

/// What is to stand in the field that was asked about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Mend {
    /// Another value, with its unit where the field has one; a blank empties the field.
    Value {
        /// As typed.
        text: String,
        /// The unit's code.
        unit: Option<String>,
    },
    /// The same number, read in another unit.
    Unit(String),
}

/// Answers a question by a change of the case, which passes every check that any change
/// passes. The question of a rule that now finds nothing is settled with it.
///
/// # Errors
/// When the case was changed since it was read, or something must be mended.
pub fn answer_with_change(
    session: &mut Session<'_, ChangeCase, Writing>,
    id: DataQueryId,
    if_match: &IfMatch,
    mend: &Mend,
    because: &str,
) -> Result<QueryRow, RegistryError> {
    let query = session.find_query(id)?.query;
    let current = session.current_case(query.code)?;
    if_match.holds(&Version::of_revision(current.revision))?;
    let said = said(because, "/answer")?;
    let reason =
        words::reason(because).map_err(|error| RegistryError::field("/answer", "reason_required", error))?;
    let mut form = cases::form_of(&current)?;
    apply(mend, query.field.as_deref(), &mut form)?;
    let ready = cases::check(&form, session.now())?;
    if *ready.content() == current.content {
        let sentence = "This stands there already; change it, or answer that it is right.";
        return Err(RegistryError::field("/value", "unchanged", sentence));
    }
    session.answer_query_with_change(id, &said, current.revision + 1)?;
    cases::supersede(session, &current, ready, reason)?;
    Ok(session.find_query(id)?)
}

/// Puts what is to stand in a field into the form.
fn apply(mend: &Mend, field: Option<&str>, form: &mut CaseForm) -> Result<(), RegistryError> {
    let elsewhere = || {
        let sentence = "This question is about no field that the case has now; change the case itself.";
        RegistryError::field("/value", "no_field", sentence)
    };
    let place = field.and_then(Place::from_pointer).ok_or_else(elsewhere)?;
    // A rule that asks about a unit asks about the field that has it.
    let (variable, _) = column(&variables_of(place.part), &place.key).ok_or_else(elsewhere)?;
    let entries = form.part_mut(place.part).ok_or_else(elsewhere)?;
    match mend {
        Mend::Value { text, unit } => {
            entries.put(variable.key, text.as_str());
            if let (Some(key), Some(unit)) = (variable.unit_key(), unit) {
                entries.put(key, unit.as_str());
            }
        }
        Mend::Unit(unit) => entries.put(variable.unit_key().ok_or_else(elsewhere)?, unit.as_str()),
    }
    Ok(())
}

/// Accepts an answer, with or without a sentence.
///
/// # Errors
/// When the sentence must be mended, or there is no answer to accept.
pub fn accept(
    session: &mut Session<'_, CloseQuery, Writing>,
    id: DataQueryId,
    saying: Option<&str>,
) -> Result<QueryRow, RegistryError> {
    session.find_query(id)?;
    let saying = saying.map(|text| said(text, "/sentence")).transpose()?;
    Ok(session.accept_answer(id, saying.as_deref())?)
}

/// Opens a question again and says what is still to answer.
///
/// # Errors
/// When the sentence must be mended, or the question is open.
pub fn reopen(
    session: &mut Session<'_, CloseQuery, Writing>,
    id: DataQueryId,
    sentence: &str,
) -> Result<QueryRow, RegistryError> {
    session.find_query(id)?;
    let sentence = said(sentence, "/sentence")?;
    Ok(session.reopen_query(id, &sentence)?)
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
