//! Questions that rules ask by themselves. After each save they follow what the rules find:
//! a new finding asks once, and a question whose rule passes is settled.

use std::collections::BTreeMap;

use diesel::prelude::*;
use quietbeam_schema::audit::Deed;
use quietbeam_schema::data_query::{Closing, DataQuery, Origin, Stage};
use quietbeam_schema::ids::{CaseCode, CentreCode, DataQueryId};

use super::case_changes::Saved;
use super::cases::ReadsCases;
use super::dialect::{ROWS_A_STATEMENT, on_each_engine};
use super::error::StoreError;
use super::queries::{QueryRow, Row, new_row, raised, read_row};
use super::session::{Session, Writing};
use super::tables::data_query;
use crate::access::action::{ChangeCase, ImportFiles, RecordFollowUp, SubmitCase};

/// The permits whose saves let the rules ask.
pub trait FollowsRules: ReadsCases {}
impl FollowsRules for SubmitCase {}
impl FollowsRules for ChangeCase {}
impl FollowsRules for RecordFollowUp {}
impl FollowsRules for ImportFiles {}

/// What a rule found in a case and asks about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// The rule.
    pub rule: String,
    /// The field.
    pub field: Option<String>,
    /// The question, with how to mend what is asked about.
    pub sentence: String,
}

/// How many questions came and went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Followed {
    /// Newly asked.
    pub raised: usize,
    /// Settled because the rule passes.
    pub settled: usize,
}

impl<A: FollowsRules> Session<'_, A, Writing> {
    /// Brings the rules' questions about the saved cases in line with what the rules find in
    /// them now.
    pub fn follow_findings(&mut self, cases: &[(Saved, Vec<Found>)]) -> Result<Followed, StoreError> {
        let mut followed = Followed::default();
        for chunk in cases.chunks(ROWS_A_STATEMENT) {
            let mut known = self.rule_queries(chunk)?;
            let mut new = Vec::new();
            for (saved, found) in chunk {
                let asked = known.remove(&saved.code).unwrap_or_default();
                followed.settled += self.settle_passing(&asked, found)?;
                for found in found.iter().filter(|found| !asked.iter().any(|row| covers(row, found))) {
                    new.push((self.question(saved.code, found)?, saved.centre));
                }
            }
            followed.raised += new.len();
            self.raise_all(&new)?;
        }
        Ok(followed)
    }

    fn rule_queries(
        &mut self,
        cases: &[(Saved, Vec<Found>)],
    ) -> Result<BTreeMap<CaseCode, Vec<QueryRow>>, StoreError> {
        // A first revision cannot have been asked about.
        let codes: Vec<String> = cases
            .iter()
            .filter(|(saved, _)| saved.revision > 1)
            .map(|(saved, _)| saved.code.to_string())
            .collect();
        let mut known: BTreeMap<CaseCode, Vec<QueryRow>> = BTreeMap::new();
        if codes.is_empty() {
            return Ok(known);
        }
        let rows: Vec<Row> = data_query::table
            .select(Row::as_select())
            .filter(data_query::code.eq_any(codes))
            .filter(data_query::rule.is_not_null())
            .load(self.connection)?;
        for row in rows {
            let row = read_row(row)?;
            known.entry(row.query.code).or_default().push(row);
        }
        Ok(known)
    }

    fn settle_passing(&mut self, asked: &[QueryRow], found: &[Found]) -> Result<usize, StoreError> {
        let (actor, now) = (self.actor(), self.now());
        let mut settled = 0;
        for old in asked.iter().filter(|row| !found.iter().any(|found| same_finding(row, found))) {
            if let Some(query) = old.query.clone().settle_by_rule(actor, now) {
                self.keep_step(old, &QueryRow { query, ..old.clone() }, Deed::QueryClosed)?;
                settled += 1;
            }
        }
        Ok(settled)
    }

    fn question(&self, code: CaseCode, found: &Found) -> Result<DataQuery, StoreError> {
        Ok(DataQuery {
            id: self.new_id(DataQueryId::from_random)?,
            code,
            field: found.field.clone(),
            origin: Origin::Rule(found.rule.clone()),
            sentence: found.sentence.clone(),
            raised_by: self.actor(),
            raised_at: self.now(),
            stage: Stage::ASKED,
        })
    }

    fn raise_all(&mut self, queries: &[(DataQuery, CentreCode)]) -> Result<(), StoreError> {
        let rows =
            queries.iter().map(|(query, centre)| new_row(query, *centre)).collect::<Result<Vec<_>, _>>()?;
        for chunk in rows.chunks(ROWS_A_STATEMENT) {
            on_each_engine!(&mut *self.connection, concrete =>
                diesel::insert_into(data_query::table).values(chunk).execute(concrete))?;
        }
        self.record_all(queries.iter().map(|(query, centre)| raised(query, *centre)).collect())
    }
}

impl Session<'_, SubmitCase, Writing> {
    /// Answers what a rule asked about a case that was just sent in, with what its centre said
    /// while the case was entered.
    pub fn answer_found(&mut self, code: CaseCode, found: &Found, text: &str) -> Result<(), StoreError> {
        let rows: Vec<Row> = data_query::table
            .select(Row::as_select())
            .filter(data_query::code.eq(code.to_string()))
            .filter(data_query::rule.eq(found.rule.clone()))
            .load(self.connection)?;
        for old in rows.into_iter().map(read_row).collect::<Result<Vec<_>, _>>()? {
            if same_finding(&old, found) {
                let query = old.query.clone().answer(text, self.actor(), self.now())?;
                self.keep_step(&old, &QueryRow { query, ..old.clone() }, Deed::QueryAnswered)?;
            }
        }
        Ok(())
    }
}

fn same_finding(row: &QueryRow, found: &Found) -> bool {
    row.query.origin == Origin::Rule(found.rule.clone()) && row.query.field == found.field
}

/// Whether a question already asks this, or asked it in the same words and a monitor was
/// satisfied: nobody should have to answer the same twice.
fn covers(row: &QueryRow, found: &Found) -> bool {
    same_finding(row, found)
        && match &row.query.stage {
            Stage::Open { .. } | Stage::Answered { .. } => true,
            Stage::Closed { why: Closing::RulePasses, .. } => false,
            Stage::Closed { .. } => row.query.sentence == found.sentence,
        }
}
