//! Adjudication: events put before judges who do not know how the case was guided. Two judge each
//! event, a third where they differ, and nobody sees what another said.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use quietbeam_analysis::methods::interval::Confidence;
use quietbeam_analysis::study::judges::Agreement;
use quietbeam_schema::adjudication::{BlindedEvent, Settled, blinded, blinded_death};
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
        self.ruled().settled()
    }

    fn ruled(&self) -> Ruled {
        Ruled::of(&self.judgements)
    }

    fn by(&self, judge: Actor) -> Option<&Judgement> {
        self.judgements.iter().find(|judgement| judgement.actor == judge)
    }
}

/// How the events of a case stand.
pub(super) struct Standing {
    /// Its complications, in the order of the record; `None` for one that cannot be shown.
    pub(super) complications: Vec<Option<Ruled>>,
    /// A death that the follow-up alone tells.
    pub(super) death: Option<Ruled>,
}

/// What the judges of an event said, in the order in which they said it.
pub(super) struct Ruled(Vec<HarmRuling>);

impl Ruled {
    fn of(judgements: &[Judgement]) -> Self {
        Self(judgements.iter().map(|judgement| judgement.ruling).collect())
    }

    /// What follows from it.
    pub(super) fn settled(&self) -> Settled {
        Settled::of(&self.0)
    }

    /// What the first two said without knowing of each other, once both have.
    pub(super) fn first_two(&self) -> Option<[HarmRuling; 2]> {
        self.0.first_chunk().copied()
    }
}

/// How the events of a case stand by these judgements.
pub(super) fn standing(
    code: CaseCode,
    form: &CaseForm,
    judgements: &BTreeMap<String, Vec<Judgement>>,
) -> Standing {
    let ruled =
        |event: BlindedEvent| Ruled::of(judgements.get(&id_of(&event)).map_or(&[][..], Vec::as_slice));
    Standing {
        complications: blinded(code, form).into_iter().map(|event| event.map(ruled)).collect(),
        death: blinded_death(code, form).map(ruled),
    }
}

fn id_of(event: &BlindedEvent) -> String {
    sha256_hex(event.identity.as_bytes())
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
    for row in session.cases_with_events()? {
        let form = form_of(&row)?;
        for shown in blinded(row.code, &form).into_iter().flatten().chain(blinded_death(row.code, &form)) {
            let id = id_of(&shown);
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

/// How far the first two judges agree, of the events that have two, settled or not; limits at 95 %.
pub fn agreement(events: &[Event]) -> Option<Agreement> {
    let pairs: Vec<_> = events.iter().filter_map(|event| event.ruled().first_two()).collect();
    Agreement::of(&pairs, Confidence::new(0.95).ok()?)
}
