//! Questions about cases. What each step may do is decided by the core; here it is kept.

use diesel::prelude::*;
use quietbeam_schema::audit::{Deed, Event, Subject};
use quietbeam_schema::data_query::{DataQuery, Origin, Stage};
use quietbeam_schema::ids::{CaseCode, CentreCode, DataQueryId};
use quietbeam_schema::instant::Instant;
use serde_json::json;

use super::cases::ReadsCases;
use super::connection::MultiBackend;
use super::error::{Conflict, StoreError};
use super::session::{Page, PageRequest, Session, Writing, read, read_json, to_json};
use super::tables::data_query;
use crate::access::Action;
use crate::access::action::{AnswerQuery, ChangeCase, CloseQuery, RaiseQuery};

/// A question with the centre it goes to.
#[derive(Debug, Clone, PartialEq)]
pub struct QueryRow {
    /// The question.
    pub query: DataQuery,
    /// The centre of the case.
    pub centre: CentreCode,
    pub(super) seq: i64,
}

/// Which questions are wanted.
#[derive(Debug, Clone, Default)]
pub struct QueryFilter {
    /// Only in this stage: `open`, `answered` or `closed`.
    pub state: Option<String>,
    /// Only about this case.
    pub code: Option<CaseCode>,
    /// Only to this centre.
    pub centre: Option<CentreCode>,
    /// Only from this rule, or from monitors.
    pub origin: Option<Origin>,
    /// Only about this field.
    pub field: Option<String>,
    /// Only raised at this moment or earlier.
    pub raised_until: Option<Instant>,
}

/// Questions of one origin about one field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QueryGroup {
    /// Rule or person.
    pub origin: Origin,
    /// The field, if it is one.
    pub field: Option<String>,
    /// The sentence of one of them.
    pub example: String,
    /// How many there are.
    pub number: usize,
}

/// A question that a monitor asks.
pub struct Question {
    /// The case.
    pub code: CaseCode,
    /// The field, if it is one.
    pub field: Option<String>,
    /// The question.
    pub sentence: String,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = data_query, check_for_backend(MultiBackend))]
pub(super) struct Row {
    seq: i64,
    id: String,
    code: String,
    centre: String,
    field: Option<String>,
    rule: Option<String>,
    sentence: String,
    raised_by: String,
    raised_at: String,
    stage: String,
}

#[derive(Insertable)]
#[diesel(table_name = data_query, treat_none_as_default_value = false)]
pub(super) struct NewRow {
    id: String,
    code: String,
    centre: String,
    field: Option<String>,
    rule: Option<String>,
    sentence: String,
    raised_by: String,
    raised_at: String,
    state: &'static str,
    stage: String,
}

/// The rule, the field, one of the sentences, and how many.
type Grouped = (Option<String>, Option<String>, Option<String>, i64);

/// Narrows a boxed query of `data_query` to the centres of a session and to a filter: a
/// macro, because a boxed query's type says what it selects.
macro_rules! narrowed {
    ($session:ident, $query:expr, $filter:expr) => {{
        let mut query = $query.into_boxed();
        if let Some(centres) = $session.centres() {
            query = query.filter(data_query::centre.eq_any(centres));
        }
        if let Some(state) = &$filter.state {
            query = query.filter(data_query::state.eq(state.clone()));
        }
        if let Some(code) = $filter.code {
            query = query.filter(data_query::code.eq(code.to_string()));
        }
        if let Some(centre) = $filter.centre {
            query = query.filter(data_query::centre.eq(centre.to_string()));
        }
        match &$filter.origin {
            Some(Origin::Rule(rule)) => query = query.filter(data_query::rule.eq(rule.clone())),
            Some(Origin::Manual) => query = query.filter(data_query::rule.is_null()),
            None => {}
        }
        if let Some(field) = &$filter.field {
            query = query.filter(data_query::field.eq(field.clone()));
        }
        if let Some(moment) = $filter.raised_until {
            query = query.filter(data_query::raised_at.le(moment.to_string()));
        }
        query
    }};
}

impl<A: ReadsCases, M> Session<'_, A, M> {
    /// The questions, newest first.
    pub fn list_queries(
        &mut self,
        filter: &QueryFilter,
        page: PageRequest,
    ) -> Result<Page<QueryRow>, StoreError> {
        self.queries_in_order(filter, page, true)
    }

    /// How many questions there are.
    pub fn count_queries(&mut self, filter: &QueryFilter) -> Result<usize, StoreError> {
        let query = narrowed!(self, data_query::table.select(diesel::dsl::count_star()), filter);
        let number: i64 = query.first(self.connection)?;
        Ok(usize::try_from(number).unwrap_or(0))
    }

    /// The questions, oldest first.
    pub fn oldest_queries(
        &mut self,
        filter: &QueryFilter,
        page: PageRequest,
    ) -> Result<Page<QueryRow>, StoreError> {
        self.queries_in_order(filter, page, false)
    }

    fn queries_in_order(
        &mut self,
        filter: &QueryFilter,
        page: PageRequest,
        newest_first: bool,
    ) -> Result<Page<QueryRow>, StoreError> {
        let mut query = narrowed!(self, data_query::table.select(Row::as_select()), filter);
        query = match (page.after, newest_first) {
            (None, _) => query,
            (Some(after), true) => query.filter(data_query::seq.lt(after)),
            (Some(after), false) => query.filter(data_query::seq.gt(after)),
        };
        query = match newest_first {
            true => query.order(data_query::seq.desc()),
            false => query.order(data_query::seq.asc()),
        };
        let rows: Vec<Row> = query.limit(page.fetch()).load(self.connection)?;
        page.page(rows, |row| row.seq, read_row)
    }

    /// The questions by what asks and what about, the most frequent first.
    pub fn query_groups(&mut self, filter: &QueryFilter) -> Result<Vec<QueryGroup>, StoreError> {
        let columns = (data_query::rule, data_query::field);
        let all = data_query::table.group_by(columns).select((
            columns.0,
            columns.1,
            diesel::dsl::min(data_query::sentence),
            diesel::dsl::count_star(),
        ));
        let rows: Vec<Grouped> = narrowed!(self, all, filter).load(self.connection)?;
        let group = |(rule, field, example, number): Grouped| QueryGroup {
            origin: rule.map_or(Origin::Manual, Origin::Rule),
            field,
            example: example.unwrap_or_default(),
            number: usize::try_from(number).unwrap_or(0),
        };
        let mut groups: Vec<QueryGroup> = rows.into_iter().map(group).collect();
        groups.sort_by(|a, b| b.number.cmp(&a.number).then_with(|| a.example.cmp(&b.example)));
        Ok(groups)
    }

    /// Which centres were asked, and when.
    pub fn asked_when(&mut self, filter: &QueryFilter) -> Result<Vec<(CentreCode, Instant)>, StoreError> {
        let all = data_query::table.select((data_query::centre, data_query::raised_at));
        let rows: Vec<(String, String)> = narrowed!(self, all, filter).load(self.connection)?;
        rows.into_iter()
            .map(|(centre, at)| {
                Ok((read(&centre, "data_query", "centre")?, read(&at, "data_query", "raised_at")?))
            })
            .collect()
    }

    /// One question.
    pub fn find_query(&mut self, id: DataQueryId) -> Result<QueryRow, StoreError> {
        let mut query =
            data_query::table.select(Row::as_select()).filter(data_query::id.eq(id.to_string())).into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(data_query::centre.eq_any(centres));
        }
        let row: Option<Row> = query.first(self.connection).optional()?;
        row.map_or(Err(StoreError::Absent("query")), read_row)
    }
}

impl Session<'_, RaiseQuery, Writing> {
    /// Asks a centre about a case.
    pub fn raise_query(&mut self, question: Question) -> Result<DataQueryId, StoreError> {
        let Question { code, field, sentence } = question;
        let centre = self.current_case(code)?.centre;
        let query = DataQuery {
            id: self.new_id(DataQueryId::from_random)?,
            code,
            field,
            origin: Origin::Manual,
            sentence,
            raised_by: self.actor(),
            raised_at: self.now(),
            stage: Stage::ASKED,
        };
        diesel::insert_into(data_query::table).values(new_row(&query, centre)?).execute(self.connection)?;
        self.record(raised(&query, centre))?;
        Ok(query.id)
    }
}

impl Session<'_, AnswerQuery, Writing> {
    /// Answers a question.
    pub fn answer_query(&mut self, id: DataQueryId, text: &str) -> Result<QueryRow, StoreError> {
        let (actor, now) = (self.actor(), self.now());
        self.step(id, Deed::QueryAnswered, |query| Ok(query.answer(text, actor, now)?))
    }
}

impl Session<'_, ChangeCase, Writing> {
    /// Answers a question with the revision of the case that the change makes.
    pub fn answer_query_with_change(
        &mut self,
        id: DataQueryId,
        text: &str,
        revision: i64,
    ) -> Result<QueryRow, StoreError> {
        let (actor, now) = (self.actor(), self.now());
        self.step(id, Deed::QueryAnswered, |query| Ok(query.answer_with_change(text, revision, actor, now)?))
    }
}

impl Session<'_, CloseQuery, Writing> {
    /// Accepts the answer to a question.
    pub fn accept_answer(&mut self, id: DataQueryId, saying: Option<&str>) -> Result<QueryRow, StoreError> {
        let (actor, now) = (self.actor(), self.now());
        self.step(id, Deed::QueryClosed, |query| Ok(query.accept(saying, actor, now)?))
    }

    /// Takes an unanswered question back.
    pub fn take_back_query(&mut self, id: DataQueryId, reason: &str) -> Result<QueryRow, StoreError> {
        let (actor, now) = (self.actor(), self.now());
        self.step(id, Deed::QueryClosed, |query| Ok(query.take_back(reason, actor, now)?))
    }

    /// Opens a question again.
    pub fn reopen_query(&mut self, id: DataQueryId, sentence: &str) -> Result<QueryRow, StoreError> {
        let (actor, now) = (self.actor(), self.now());
        self.step(id, Deed::QueryReopened, |query| Ok(query.reopen(sentence, actor, now)?))
    }
}

impl<A: ReadsCases> Session<'_, A, Writing> {
    fn step(
        &mut self,
        id: DataQueryId,
        deed: Deed,
        decide: impl FnOnce(DataQuery) -> Result<DataQuery, StoreError>,
    ) -> Result<QueryRow, StoreError> {
        let old = self.find_query(id)?;
        let new = QueryRow { query: decide(old.query.clone())?, ..old.clone() };
        self.keep_step(&old, &new, deed)?;
        Ok(new)
    }
}

impl<A: Action> Session<'_, A, Writing> {
    /// Keeps a step unless somebody else took one in between.
    pub(super) fn keep_step(&mut self, old: &QueryRow, new: &QueryRow, deed: Deed) -> Result<(), StoreError> {
        let kept = diesel::update(data_query::table)
            .filter(data_query::id.eq(old.query.id.to_string()))
            .filter(data_query::stage.eq(to_json(&old.query.stage)?))
            .set((
                data_query::state.eq(new.query.stage.name()),
                data_query::stage.eq(to_json(&new.query.stage)?),
            ))
            .execute(self.connection)?;
        if kept != 1 {
            return Err(Conflict::Race.into());
        }
        let event = Event::new(deed, Subject::DataQuery, new.query.id)
            .at_centre(new.centre)
            .values(Some(json!(old.query.stage)), Some(json!(new.query.stage)));
        self.record(event)
    }
}

pub(super) fn new_row(query: &DataQuery, centre: CentreCode) -> Result<NewRow, StoreError> {
    Ok(NewRow {
        id: query.id.to_string(),
        code: query.code.to_string(),
        centre: centre.to_string(),
        field: query.field.clone(),
        rule: match &query.origin {
            Origin::Rule(rule) => Some(rule.clone()),
            Origin::Manual => None,
        },
        sentence: query.sentence.clone(),
        raised_by: query.raised_by.to_string(),
        raised_at: query.raised_at.to_string(),
        state: query.stage.name(),
        stage: to_json(&query.stage)?,
    })
}

pub(super) fn raised(query: &DataQuery, centre: CentreCode) -> Event {
    Event::new(Deed::QueryRaised, Subject::DataQuery, query.id).at_centre(centre).values(
        None,
        Some(json!({
            "case_code": query.code,
            "origin": query.origin,
            "field": query.field,
            "sentence": query.sentence,
        })),
    )
}

pub(super) fn read_row(row: Row) -> Result<QueryRow, StoreError> {
    const TABLE: &str = "data_query";
    Ok(QueryRow {
        query: DataQuery {
            id: read(&row.id, TABLE, "id")?,
            code: read(&row.code, TABLE, "code")?,
            field: row.field,
            origin: row.rule.map_or(Origin::Manual, Origin::Rule),
            sentence: row.sentence,
            raised_by: read(&row.raised_by, TABLE, "raised_by")?,
            raised_at: read(&row.raised_at, TABLE, "raised_at")?,
            stage: read_json(&row.stage, TABLE, "stage")?,
        },
        centre: read(&row.centre, TABLE, "centre")?,
        seq: row.seq,
    })
}
