//! What the judges of events said. Nothing is written over: an event whose facts are corrected is
//! another event, and is judged anew.

use diesel::prelude::*;
use quietbeam_schema::audit::{Actor, Deed, Event, Subject};
use quietbeam_schema::ids::CaseCode;
use quietbeam_schema::instant::Instant;
use quietbeam_schema::vocabulary::{Coded, HarmRuling};
use serde_json::json;

use super::cases::{CaseRow, Row as CaseTableRow, read_row as read_case};
use super::connection::MultiBackend;
use super::current_cases::CASES_A_PAGE;
use super::cuts::{DataCut, ReadsCutCases};
use super::error::{Broken, Conflict, Refused, StoreError};
use super::session::{Session, Writing, read};
use super::tables::{case_revision, judgement};
use crate::access::Action;
use crate::access::action::{JudgeEvents, ReadJudgements};

/// What stands in the record of a case with a complication, and in no other.
const WITH_COMPLICATION: &str = "%\"complications\":[{%";
/// What stands in that of a patient who died by the follow-up.
const WITH_DEATH: &str = "%\"death\":\"yes\"%";

/// The permits that see events and what became of them.
pub trait ReadsEvents: Action {}
impl ReadsEvents for JudgeEvents {}
impl ReadsEvents for ReadJudgements {}

/// What one judge said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Judgement {
    /// The hash of the event.
    pub event: String,
    /// Its case.
    pub code: CaseCode,
    /// Whether it was the first judgement of the event, the second or the third.
    pub place: i64,
    /// How grave it was.
    pub ruling: HarmRuling,
    /// Why.
    pub sentence: String,
    /// Who judged.
    pub actor: Actor,
    /// When.
    pub at: Instant,
}

/// A judgement to be kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewJudgement {
    /// The hash of the event.
    pub event: String,
    /// Its case.
    pub code: CaseCode,
    /// What the judge was shown.
    pub shown: String,
    /// How many judgements of it were read.
    pub read: usize,
    /// How grave it was.
    pub ruling: HarmRuling,
    /// Why.
    pub sentence: String,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = judgement, check_for_backend(MultiBackend))]
struct Row {
    event: String,
    code: String,
    place: i64,
    ruling: String,
    sentence: String,
    actor: String,
    at: String,
}

impl<A: ReadsEvents, M> Session<'_, A, M> {
    /// Every judgement, in the order in which they were given.
    pub fn list_judgements(&mut self) -> Result<Vec<Judgement>, StoreError> {
        self.judgements_until(i64::MAX)
    }

    /// The current cases with a complication or a death, in the order of the codes.
    pub fn cases_with_events(&mut self) -> Result<Vec<CaseRow>, StoreError> {
        let mut cases: Vec<CaseRow> = Vec::new();
        loop {
            let after = cases.last().map(|case| case.code.to_string()).unwrap_or_default();
            let page: Vec<CaseTableRow> = case_revision::table
                .select(CaseTableRow::as_select())
                .filter(case_revision::superseded_by_seq.is_null())
                .filter(
                    case_revision::record.like(WITH_COMPLICATION).or(case_revision::record.like(WITH_DEATH)),
                )
                .filter(case_revision::code.gt(after))
                .order(case_revision::code.asc())
                .limit(CASES_A_PAGE)
                .load(self.connection)?;
            if page.is_empty() {
                return Ok(cases);
            }
            cases.extend(page.into_iter().map(read_case).collect::<Result<Vec<_>, _>>()?);
        }
    }
}

impl<A: ReadsCutCases, M> Session<'_, A, M> {
    /// The judgements that a cut took in, in the order in which they were given.
    pub fn judgements_of(&mut self, cut: &DataCut) -> Result<Vec<Judgement>, StoreError> {
        self.judgements_until(cut.judgement_boundary_seq)
    }
}

impl<A: Action, M> Session<'_, A, M> {
    /// The judgements up to a place in the order in which they were given.
    pub(super) fn judgements_until(&mut self, boundary: i64) -> Result<Vec<Judgement>, StoreError> {
        let rows: Vec<Row> = judgement::table
            .select(Row::as_select())
            .filter(judgement::seq.le(boundary))
            .order(judgement::seq.asc())
            .load(self.connection)?;
        rows.into_iter().map(read_row).collect()
    }
}

impl Session<'_, JudgeEvents, Writing> {
    /// Keeps a judgement behind those that were read.
    pub fn judge(&mut self, new: NewJudgement) -> Result<Judgement, StoreError> {
        let NewJudgement { event, code, shown, read, ruling, sentence } = new;
        let place = i64::try_from(read).unwrap_or(i64::MAX) + 1;
        let kept = Judgement { event, code, place, ruling, sentence, actor: self.actor(), at: self.now() };
        diesel::insert_into(judgement::table)
            .values((
                judgement::event.eq(kept.event.clone()),
                judgement::code.eq(code.to_string()),
                judgement::place.eq(place),
                judgement::ruling.eq(ruling.code()),
                judgement::sentence.eq(kept.sentence.clone()),
                judgement::shown.eq(shown),
                judgement::actor.eq(kept.actor.to_string()),
                judgement::at.eq(kept.at.to_string()),
            ))
            .execute(self.connection)
            .map_err(taken_before)?;
        let values = json!({ "case": code, "place": place, "ruling": ruling, "sentence": kept.sentence });
        self.record(
            Event::new(Deed::EventJudged, Subject::JudgedEvent, &kept.event).values(None, Some(values)),
        )?;
        Ok(kept)
    }
}

/// Somebody took the place of this judgement between reading and writing.
fn taken_before(error: diesel::result::Error) -> StoreError {
    match StoreError::from(error) {
        StoreError::Conflict(Conflict::Race) => Refused::NotToBeJudged.into(),
        other => other,
    }
}

fn read_row(row: Row) -> Result<Judgement, StoreError> {
    const TABLE: &str = "judgement";
    Ok(Judgement {
        event: row.event,
        code: read(&row.code, TABLE, "code")?,
        place: row.place,
        ruling: HarmRuling::from_code(&row.ruling)
            .ok_or(Broken::Unreadable { table: TABLE, column: "ruling" })?,
        sentence: row.sentence,
        actor: read(&row.actor, TABLE, "actor")?,
        at: read(&row.at, TABLE, "at")?,
    })
}
