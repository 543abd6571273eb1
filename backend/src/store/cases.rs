//! Reading cases. The record itself is kept as canonical JSON; a few columns beside it serve
//! lists and filters.

use std::collections::BTreeMap;

use diesel::dsl::{exists, not};
use diesel::prelude::*;
use quietbeam_schema::audit::{Actor, Subject};
use quietbeam_schema::ids::{CaseCode, CentreCode};
use quietbeam_schema::instant::Instant;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{Coded, ProcedureGroup, ProcedureType, RecordState, Strategy, YesNo};
use serde::Serialize;

use super::audit::AuditRow;
use super::case_changes::{CaseContent, CaseIndex};
use super::connection::MultiBackend;
use super::dialect::ROWS_A_STATEMENT;
use super::error::StoreError;
use super::session::{Page, PageRequest, Session, read};
use super::tables::{case_revision, data_query};
use crate::access::Action;
use crate::access::action::{
    AnswerQuery, ChangeCase, CloseQuery, ExportCases, ImportFiles, ListQueries, RaiseQuery, ReadCase,
    ReadHistory, RecordFollowUp, SubmitCase,
};

/// The permits that open case records.
pub trait ReadsCases: Action {}
impl ReadsCases for ReadCase {}
impl ReadsCases for ReadHistory {}
impl ReadsCases for SubmitCase {}
impl ReadsCases for ChangeCase {}
impl ReadsCases for RecordFollowUp {}
impl ReadsCases for ImportFiles {}
impl ReadsCases for ExportCases {}
impl ReadsCases for ListQueries {}
impl ReadsCases for RaiseQuery {}
impl ReadsCases for AnswerQuery {}
impl ReadsCases for CloseQuery {}

/// One revision of a case.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseRow {
    /// Its place in the chain of all revisions.
    pub seq: i64,
    /// The case.
    pub code: CaseCode,
    /// Counted from 1.
    pub revision: i64,
    /// The centre.
    pub centre: CentreCode,
    /// Who wrote it.
    pub actor: Actor,
    /// When.
    pub at: Instant,
    /// Why, from the second revision on.
    pub reason: Option<String>,
    /// The record and its index.
    pub content: CaseContent,
    /// SHA-256 of the record.
    pub record_hash: String,
}

/// Everything that ever stood in a case, and everything that was done to it.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseHistory {
    /// All revisions in order.
    pub revisions: Vec<CaseRow>,
    /// The audit trail of the case, with values.
    pub trail: Vec<AuditRow>,
}

/// Which cases are wanted, by what the database knows of them.
#[derive(Debug, Clone, Default, Serialize)]
pub struct CaseFilter {
    /// Only of this centre.
    pub centre: Option<CentreCode>,
    /// Only of this quarter.
    pub period: Option<Quarter>,
    /// Only of this group of procedures.
    pub procedure_group: Option<ProcedureGroup>,
    /// Only of this procedure.
    pub procedure: Option<ProcedureType>,
    /// Only with this intended strategy.
    pub strategy_intended: Option<Strategy>,
    /// Only where the record stands so.
    pub state: Option<RecordState>,
    /// Only with a question that waits for an answer, or only without.
    pub open_query: Option<YesNo>,
}

impl CaseFilter {
    /// Whether it tells something of the questions about the cases.
    pub fn is_about_queries(&self) -> bool {
        self.state.is_some() || self.open_query.is_some()
    }
}

/// How many cases share a quarter, an intended strategy and a use of the beam.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StrategyCount {
    /// The quarter.
    pub period: String,
    /// The code of the intended strategy.
    pub strategy_intended: String,
    /// The code of the use of the beam.
    pub fluoro_used: String,
    /// The cases.
    pub cases: u32,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = case_revision, check_for_backend(MultiBackend))]
pub(super) struct Row {
    pub(super) seq: i64,
    code: String,
    revision: i64,
    centre: String,
    actor: String,
    at: String,
    reason: Option<String>,
    form_version: String,
    record: String,
    record_hash: String,
    period: String,
    procedure_group: String,
    procedure: String,
    strategy_intended: String,
    fluoro_used: String,
    air_kerma_mgy: Option<f64>,
    kap_gycm2: Option<f64>,
    fluoro_time_s: Option<f64>,
}

impl<A: ReadsCases, M> Session<'_, A, M> {
    /// The current revision of a case.
    pub fn current_case(&mut self, code: CaseCode) -> Result<CaseRow, StoreError> {
        let mut query = case_revision::table
            .select(Row::as_select())
            .filter(case_revision::code.eq(code.to_string()))
            .filter(case_revision::superseded_by_seq.is_null())
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(case_revision::centre.eq_any(centres));
        }
        let row: Option<Row> = query.first(self.connection).optional()?;
        row.map_or(Err(StoreError::Absent("case")), read_row)
    }

    /// The current cases, newest first.
    pub fn list_cases(
        &mut self,
        filter: &CaseFilter,
        page: PageRequest,
    ) -> Result<Page<CaseRow>, StoreError> {
        let mut query = case_revision::table
            .select(Row::as_select())
            .filter(case_revision::superseded_by_seq.is_null())
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(case_revision::centre.eq_any(centres));
        }
        if let Some(centre) = filter.centre {
            query = query.filter(case_revision::centre.eq(centre.to_string()));
        }
        if let Some(period) = filter.period {
            query = query.filter(case_revision::period.eq(period.to_string()));
        }
        if let Some(group) = filter.procedure_group {
            query = query.filter(case_revision::procedure_group.eq(group.code()));
        }
        if let Some(procedure) = filter.procedure {
            query = query.filter(case_revision::procedure.eq(procedure.code()));
        }
        if let Some(strategy) = filter.strategy_intended {
            query = query.filter(case_revision::strategy_intended.eq(strategy.code()));
        }
        let asked = data_query::table.filter(data_query::code.eq(case_revision::code));
        let unsettled = exists(asked.filter(data_query::state.ne("closed")));
        query = match filter.state {
            None => query,
            Some(RecordState::Queried) => query.filter(unsettled),
            Some(RecordState::Submitted) => query.filter(not(unsettled)),
        };
        let open = exists(asked.filter(data_query::state.eq("open")));
        query = match filter.open_query {
            None => query,
            Some(YesNo::Yes) => query.filter(open),
            Some(YesNo::No) => query.filter(not(open)),
        };
        if let Some(after) = page.after {
            query = query.filter(case_revision::seq.lt(after));
        }
        let rows: Vec<Row> =
            query.order(case_revision::seq.desc()).limit(page.fetch()).load(self.connection)?;
        page.page(rows, |row| row.seq, read_row)
    }

    /// The quarters that have a case, newest first.
    pub fn case_periods(&mut self) -> Result<Vec<String>, StoreError> {
        let mut query = case_revision::table
            .select(case_revision::period)
            .filter(case_revision::superseded_by_seq.is_null())
            .distinct()
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(case_revision::centre.eq_any(centres));
        }
        Ok(query.order(case_revision::period.desc()).load(self.connection)?)
    }

    /// How many cases there are of each quarter, intended strategy and use of the beam.
    pub fn strategy_counts(&mut self) -> Result<Vec<StrategyCount>, StoreError> {
        let columns = (case_revision::period, case_revision::strategy_intended, case_revision::fluoro_used);
        let mut query = case_revision::table
            .filter(case_revision::superseded_by_seq.is_null())
            .group_by(columns)
            .select((columns.0, columns.1, columns.2, diesel::dsl::count_star()))
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(case_revision::centre.eq_any(centres));
        }
        let rows: Vec<(String, String, String, i64)> = query.load(self.connection)?;
        let read = |(period, strategy_intended, fluoro_used, cases): (_, _, _, i64)| StrategyCount {
            period,
            strategy_intended,
            fluoro_used,
            cases: u32::try_from(cases).unwrap_or(u32::MAX),
        };
        Ok(rows.into_iter().map(read).collect())
    }

    /// Those of the codes that have a case, with its current revision.
    pub fn existing_cases(&mut self, codes: &[CaseCode]) -> Result<BTreeMap<CaseCode, CaseRow>, StoreError> {
        let mut found = BTreeMap::new();
        for chunk in codes.chunks(ROWS_A_STATEMENT) {
            let mut query = case_revision::table
                .select(Row::as_select())
                .filter(case_revision::code.eq_any(chunk.iter().map(ToString::to_string).collect::<Vec<_>>()))
                .filter(case_revision::superseded_by_seq.is_null())
                .into_boxed();
            if let Some(centres) = self.centres() {
                query = query.filter(case_revision::centre.eq_any(centres));
            }
            let rows: Vec<Row> = query.load(self.connection)?;
            for row in rows {
                let row = read_row(row)?;
                found.insert(row.code, row);
            }
        }
        Ok(found)
    }
}

impl<M> Session<'_, ReadHistory, M> {
    /// Everything that ever stood in a case, and everything that was done to it.
    pub fn case_history(&mut self, code: CaseCode) -> Result<CaseHistory, StoreError> {
        let mut query = case_revision::table
            .select(Row::as_select())
            .filter(case_revision::code.eq(code.to_string()))
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(case_revision::centre.eq_any(centres));
        }
        let rows: Vec<Row> = query.order(case_revision::revision.asc()).load(self.connection)?;
        if rows.is_empty() {
            return Err(StoreError::Absent("case"));
        }
        let revisions = rows.into_iter().map(read_row).collect::<Result<_, _>>()?;
        Ok(CaseHistory { revisions, trail: self.trail_of(Subject::Case, code.as_str())? })
    }
}

pub(super) fn read_row(row: Row) -> Result<CaseRow, StoreError> {
    const TABLE: &str = "case_revision";
    Ok(CaseRow {
        seq: row.seq,
        code: read(&row.code, TABLE, "code")?,
        revision: row.revision,
        centre: read(&row.centre, TABLE, "centre")?,
        actor: read(&row.actor, TABLE, "actor")?,
        at: read(&row.at, TABLE, "at")?,
        reason: row.reason,
        content: CaseContent {
            form_version: row.form_version,
            record: row.record,
            index: CaseIndex {
                period: row.period,
                procedure_group: row.procedure_group,
                procedure: row.procedure,
                strategy_intended: row.strategy_intended,
                fluoro_used: row.fluoro_used,
                air_kerma_mgy: row.air_kerma_mgy,
                kap_gycm2: row.kap_gycm2,
                fluoro_time_s: row.fluoro_time_s,
            },
        },
        record_hash: row.record_hash,
    })
}
