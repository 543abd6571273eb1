//! Adjudication: events put before judges who do not know how the case was guided. Two judge each
//! event, a third where they differ, and nobody sees what another said.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use quietbeam_schema::adjudication::{BlindedEvent, Settled, blinded};
use quietbeam_schema::audit::Actor;
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::vocabulary::HarmRuling;

use super::cases::form_of;
use super::{RegistryError, words};
use crate::access::action::{JudgeEvents, ReadJudgements};
use crate::store::{Judgement, NewJudgement, ReadsEvents, Refused, Session, StoreError, Writing, sha256_hex};

/// The longest sentence of a judge.
const LONGEST: usize = 500;

/// An event with what its judges said.
pub struct Event {
    /// A hash of its case and of what is shown of it.
    pub id: String,
    /// Its case, which no judge is told.
    pub case: CaseCode,
    /// What its judges see.
    pub shown: BlindedEvent,
    /// What they said, in the order in which they said it.
    pub judgements: Vec<Judgement>,
}

impl Event {
    /// What the judges make of it.
    pub fn settled(&self) -> Settled {
        settled(&self.judgements)
    }

    fn by(&self, judge: Actor) -> Option<&Judgement> {
        self.judgements.iter().find(|judgement| judgement.actor == judge)
    }
}

/// How each complication of a case stands, in the order of the record; `None` for one that cannot
/// be shown.
pub(super) fn settled_in(
    code: CaseCode,
    form: &CaseForm,
    judgements: &BTreeMap<String, Vec<Judgement>>,
) -> Vec<Option<Settled>> {
    let stands = |(id, _)| settled(judgements.get(&id).map_or(&[], Vec::as_slice));
    identified(code, form).into_iter().map(|event| event.map(stands)).collect()
}

/// What follows from the judgements of one event, in the order in which they were given.
fn settled(judgements: &[Judgement]) -> Settled {
    Settled::of(&judgements.iter().map(|judgement| judgement.ruling).collect::<Vec<_>>())
}

/// Each complication of a case with its identifier, in the order of the record; `None` for one that
/// cannot be shown without telling that X-ray was used.
fn identified(code: CaseCode, form: &CaseForm) -> Vec<Option<(String, BlindedEvent)>> {
    let with_id = |event: BlindedEvent| (sha256_hex(event.identity.as_bytes()), event);
    blinded(code, form).into_iter().map(|event| event.map(with_id)).collect()
}

/// Judgements by event.
pub(super) fn by_event(judgements: Vec<Judgement>) -> BTreeMap<String, Vec<Judgement>> {
    let mut of = BTreeMap::<String, Vec<Judgement>>::new();
    for judgement in judgements {
        of.entry(judgement.event.clone()).or_default().push(judgement);
    }
    of
}

/// Every event that can be judged. They stand in the order of their hashes, which tells nothing.
fn events<A: ReadsEvents, M>(session: &mut Session<'_, A, M>) -> Result<Vec<Event>, StoreError> {
    let mut judgements = by_event(session.list_judgements()?);
    let mut events = BTreeMap::new();
    for row in session.cases_with_complications()? {
        for (id, shown) in identified(row.code, &form_of(&row)?).into_iter().flatten() {
            // Two events of a case that look the same are one to whoever judges them.
            if let Entry::Vacant(place) = events.entry(id) {
                let judgements = judgements.remove(place.key()).unwrap_or_default();
                let id = place.key().clone();
                place.insert(Event { id, case: row.code, shown, judgements });
            }
        }
    }
    Ok(events.into_values().collect())
}

/// What stands before a judge.
pub struct Docket {
    /// Events that wait for this judge.
    pub waiting: Vec<Event>,
    /// Events that this judge has judged, with what they said.
    pub judged: Vec<(Event, Judgement)>,
}

/// What stands before the judge who asks.
///
/// # Errors
/// When a record cannot be read.
pub fn docket<M>(session: &mut Session<'_, JudgeEvents, M>) -> Result<Docket, StoreError> {
    let judge = session.actor();
    let mut docket = Docket { waiting: Vec::new(), judged: Vec::new() };
    for event in events(session)? {
        match event.by(judge).cloned() {
            Some(own) => docket.judged.push((event, own)),
            None if event.settled() == Settled::Open => docket.waiting.push(event),
            None => {}
        }
    }
    Ok(docket)
}

/// Keeps what the judge says of an event.
///
/// # Errors
/// When the sentence must be mended, or the event does not wait for this judge: it is settled, was
/// judged by the same person, or was corrected by its centre.
pub fn judge(
    session: &mut Session<'_, JudgeEvents, Writing>,
    id: &str,
    ruling: HarmRuling,
    sentence: &str,
) -> Result<Judgement, RegistryError> {
    let event = docket(session)?.waiting.into_iter().find(|event| event.id == id);
    keep(session, event.ok_or(StoreError::from(Refused::NotToBeJudged))?, ruling, sentence)
}

/// Keeps what the judge says of an event from their docket.
///
/// # Errors
/// When the sentence must be mended, or somebody else judged the event meanwhile.
pub fn keep(
    session: &mut Session<'_, JudgeEvents, Writing>,
    event: Event,
    ruling: HarmRuling,
    sentence: &str,
) -> Result<Judgement, RegistryError> {
    let sentence =
        words::line(sentence, LONGEST).map_err(|error| RegistryError::field("/sentence", "value", error))?;
    words::screened(&sentence).map_err(|error| RegistryError::field("/sentence", "free_text", error))?;
    Ok(session.judge(NewJudgement {
        event: event.id,
        code: event.case,
        shown: event.shown.identity,
        read: event.judgements.len(),
        ruling,
        sentence,
    })?)
}

/// Every event with what its judges said, for whoever watches over them.
///
/// # Errors
/// When a record cannot be read.
pub fn progress(session: &mut Session<'_, ReadJudgements>) -> Result<Vec<Event>, StoreError> {
    events(session)
}
