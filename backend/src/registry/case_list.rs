//! The list of cases, narrowed by what the database knows and by how complete they are.

use quietbeam_schema::completeness::completeness;
use quietbeam_schema::vocabulary::Completeness;
use serde::Serialize;

use super::cases::form_of;
use crate::store::{CaseFilter, CaseRow, Page, PageRequest, ReadsCases, Session, StoreError};

/// The most rows that are read at once while looking for complete or incomplete ones.
const AT_ONCE: i64 = 200;

/// Which cases are wanted.
#[derive(Debug, Clone, Default, Serialize)]
pub struct CaseSearch {
    /// By what the database knows of them.
    #[serde(flatten)]
    pub filter: CaseFilter,
    /// Only those that are complete, or only those with something left. What applies to a case
    /// follows from its answers, so each record is read for it.
    pub completeness: Option<Completeness>,
}

/// The current cases that fit, newest first.
///
/// # Errors
/// When the store fails or holds something else than records.
pub fn list<A: ReadsCases, M>(
    session: &mut Session<'_, A, M>,
    search: &CaseSearch,
    request: PageRequest,
) -> Result<Page<CaseRow>, StoreError> {
    let Some(wanted) = search.completeness else { return session.list_cases(&search.filter, request) };
    let most = usize::try_from(request.limit.clamp(1, AT_ONCE)).unwrap_or(1);
    let mut rows: Vec<CaseRow> = Vec::new();
    let mut reading = PageRequest { after: request.after, limit: AT_ONCE };
    loop {
        let page = session.list_cases(&search.filter, reading)?;
        for row in page.rows {
            if completeness(&form_of(&row)?) != wanted {
                continue;
            }
            if rows.len() == most {
                let next = rows.last().map(|last| last.seq);
                return Ok(Page { rows, next });
            }
            rows.push(row);
        }
        match page.next {
            Some(next) => reading.after = Some(next),
            None => return Ok(Page { rows, next: None }),
        }
    }
}
