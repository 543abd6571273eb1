//! How the questions about cases stood when a cut was taken. A question moves on, so this is
//! read from the trail, which does not.

use diesel::dsl::max;
use diesel::prelude::*;
use quietbeam_schema::audit::{Deed, Subject};
use std::collections::BTreeMap;

use super::cuts::{DataCut, ReadsCuts};
use super::error::StoreError;
use super::session::Session;
use super::tables::{audit_event, data_query};

/// A question as it stood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QuestionAt {
    /// The case.
    pub code: String,
    /// The field, as a JSON pointer, if it is one.
    pub field: Option<String>,
    /// Whether it waited for an answer.
    pub open: bool,
}

impl<A: ReadsCuts, M> Session<'_, A, M> {
    /// The place in the trail at which a cut was taken: what stands before it was so by then.
    pub(super) fn trail_until(&mut self, cut: &DataCut) -> Result<i64, StoreError> {
        let taken: Option<i64> = audit_event::table
            .select(max(audit_event::seq))
            .filter(audit_event::subject.eq(Subject::DataCut.name()))
            .filter(audit_event::subject_id.eq(cut.id.to_string()))
            .filter(audit_event::deed.eq(Deed::DataCutTaken.name()))
            .first(self.connection)?;
        Ok(taken.unwrap_or(0))
    }

    /// Every question that had been asked when a cut was taken.
    pub fn questions_at(&mut self, cut: &DataCut) -> Result<Vec<QuestionAt>, StoreError> {
        let taken = self.trail_until(cut)?;
        let steps: Vec<(String, String)> = audit_event::table
            .select((audit_event::subject_id, audit_event::deed))
            .filter(audit_event::subject.eq(Subject::DataQuery.name()))
            .filter(audit_event::seq.lt(taken))
            .order(audit_event::seq.asc())
            .load(self.connection)?;
        // Of several steps the last one stays.
        let last: BTreeMap<String, String> = steps.into_iter().collect();
        let asked: Vec<(String, String, Option<String>)> = data_query::table
            .select((data_query::id, data_query::code, data_query::field))
            .filter(data_query::raised_at.le(cut.at.to_string()))
            .order(data_query::seq.asc())
            .load(self.connection)?;
        let waits =
            |deed: &String| [Deed::QueryRaised, Deed::QueryReopened].iter().any(|one| one.name() == deed);
        let stood = |(id, code, field): (String, String, Option<String>)| {
            last.get(&id).map(|deed| QuestionAt { code, field, open: waits(deed) })
        };
        Ok(asked.into_iter().filter_map(stood).collect())
    }
}
