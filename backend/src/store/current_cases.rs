//! Current cases in the order in which they first came, page by page.

use std::collections::HashMap;

use diesel::prelude::*;
use quietbeam_schema::ids::CentreCode;

use super::cases::{CaseRow, Row, read_row};
use super::dialect::ROWS_A_STATEMENT;
use super::error::StoreError;
use super::session::Session;
use super::tables::case_revision;
use crate::access::action::{Action, WatchSafety};

/// How many cases are read at once: tens of thousands of records must not sit in memory.
pub(super) const CASES_A_PAGE: i64 = 2_000;

/// A current case with its place in the order of entry.
pub struct EnteredCase {
    /// The case.
    pub case: CaseRow,
    /// The place of its first revision in the chain.
    pub entered: i64,
}

impl<M> Session<'_, WatchSafety, M> {
    /// Hands the current cases of every centre to `see`, page by page, also beyond the centres of
    /// the permit: what is made of them may leave the registry only as coarse rates of all centres
    /// together, and as what belongs to the permit's own.
    pub fn each_page_of_network<E: From<StoreError>>(
        &mut self,
        mut see: impl FnMut(Vec<EnteredCase>) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut after = 0;
        loop {
            let page = self.current_after(None, after)?;
            let Some(last) = page.last() else { return Ok(()) };
            after = last.case.seq;
            see(page)?;
        }
    }
}

impl<A: Action, M> Session<'_, A, M> {
    /// The next page of current cases, of one centre or of all.
    pub(super) fn current_after(
        &mut self,
        centre: Option<CentreCode>,
        after: i64,
    ) -> Result<Vec<EnteredCase>, StoreError> {
        let mut query = case_revision::table
            .select(Row::as_select())
            .filter(case_revision::superseded_by_seq.is_null())
            .filter(case_revision::seq.gt(after))
            .into_boxed();
        if let Some(centre) = centre {
            query = query.filter(case_revision::centre.eq(centre.to_string()));
        }
        let rows: Vec<Row> =
            query.order(case_revision::seq.asc()).limit(CASES_A_PAGE).load(self.connection)?;
        let cases = rows.into_iter().map(read_row).collect::<Result<Vec<_>, _>>()?;
        let changed = cases.iter().filter(|case| case.revision > 1).map(|case| case.code.to_string());
        let first = self.entered_at(&changed.collect::<Vec<_>>())?;
        let row = |case: CaseRow| {
            let entered = first.get(case.code.as_str()).copied().unwrap_or(case.seq);
            EnteredCase { case, entered }
        };
        Ok(cases.into_iter().map(row).collect())
    }

    /// Where cases that were changed since first entered the chain.
    fn entered_at(&mut self, codes: &[String]) -> Result<HashMap<String, i64>, StoreError> {
        let mut first = HashMap::new();
        for chunk in codes.chunks(ROWS_A_STATEMENT) {
            let rows: Vec<(String, i64)> = case_revision::table
                .select((case_revision::code, case_revision::seq))
                .filter(case_revision::code.eq_any(chunk))
                .filter(case_revision::revision.eq(1))
                .load(self.connection)?;
            first.extend(rows);
        }
        Ok(first)
    }
}
