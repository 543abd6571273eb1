//! Comparisons, kept with what was asked, what came out and which software computed it. A
//! cut never changes, so a comparison on it need not be computed twice.

use diesel::prelude::*;
use quietbeam_schema::audit::{Actor, Deed, Event, Subject};
use quietbeam_schema::ids::{ComparisonId, DataCutId};
use quietbeam_schema::instant::Instant;
use serde_json::json;

use super::connection::MultiBackend;
use super::cuts::ReadsCuts;
use super::error::StoreError;
use super::session::{Session, Writing, read, sha256_hex};
use super::tables::comparison;
use crate::access::action::{DraftSummary, ReadComparisons, RunComparison, WriteReport};

/// The permits that read comparisons.
pub trait ReadsComparisons: ReadsCuts {}
impl ReadsComparisons for ReadComparisons {}
impl ReadsComparisons for RunComparison {}
impl ReadsComparisons for WriteReport {}
/// What came out is published with a summary, once it passed the check; nobody reads it here.
impl ReadsComparisons for DraftSummary {}

/// A comparison to be kept. Request and result are canonical JSON.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewComparison {
    /// The cut it was computed on.
    pub cut: DataCutId,
    /// What was asked.
    pub request: String,
    /// What came out.
    pub result: String,
    /// What computed it.
    pub software_version: String,
}

/// A kept comparison.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Comparison {
    /// Its identifier.
    pub id: ComparisonId,
    /// What was asked and what came out.
    pub content: NewComparison,
    /// SHA-256 of the result.
    pub result_hash: String,
    /// Who ran it.
    pub actor: Actor,
    /// When.
    pub at: Instant,
}

/// That a comparison was run, without what came out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ComparisonRun {
    /// Its identifier.
    pub id: ComparisonId,
    /// The cut it was computed on.
    pub cut: DataCutId,
    /// What was asked, as canonical JSON.
    pub request: String,
    /// When.
    pub at: Instant,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = comparison, check_for_backend(MultiBackend))]
struct Row {
    id: String,
    cut: String,
    request: String,
    result: String,
    result_hash: String,
    software_version: String,
    actor: String,
    at: String,
}

impl<A: ReadsComparisons, M> Session<'_, A, M> {
    /// The comparisons on a cut, newest first.
    pub fn list_comparisons(&mut self, cut: DataCutId) -> Result<Vec<Comparison>, StoreError> {
        let rows: Vec<Row> = comparison::table
            .select(Row::as_select())
            .filter(comparison::cut.eq(cut.to_string()))
            .order((comparison::at.desc(), comparison::id.desc()))
            .load(self.connection)?;
        rows.into_iter().map(read_row).collect()
    }

    /// What was run on any cut, newest first, without what came out.
    pub fn list_comparison_runs(&mut self) -> Result<Vec<ComparisonRun>, StoreError> {
        let rows: Vec<(String, String, String, String)> = comparison::table
            .select((comparison::id, comparison::cut, comparison::request, comparison::at))
            .order((comparison::at.desc(), comparison::id.desc()))
            .load(self.connection)?;
        const TABLE: &str = "comparison";
        let run = |(id, cut, request, at): (String, String, String, String)| {
            Ok(ComparisonRun {
                id: read(&id, TABLE, "id")?,
                cut: read(&cut, TABLE, "cut")?,
                request,
                at: read(&at, TABLE, "at")?,
            })
        };
        rows.into_iter().map(run).collect()
    }

    /// One comparison.
    pub fn find_comparison(&mut self, id: ComparisonId) -> Result<Comparison, StoreError> {
        let row: Option<Row> = comparison::table
            .select(Row::as_select())
            .filter(comparison::id.eq(id.to_string()))
            .first(self.connection)
            .optional()?;
        row.map_or(Err(StoreError::Absent("comparison")), read_row)
    }

    /// The comparison that answers this request on this cut with this software, if it was
    /// run before.
    pub fn same_comparison(
        &mut self,
        cut: DataCutId,
        request: &str,
        software_version: &str,
    ) -> Result<Option<Comparison>, StoreError> {
        let row: Option<Row> = comparison::table
            .select(Row::as_select())
            .filter(comparison::cut.eq(cut.to_string()))
            .filter(comparison::request_hash.eq(sha256_hex(request.as_bytes())))
            .filter(comparison::software_version.eq(software_version.to_owned()))
            .order(comparison::at.asc())
            .first(self.connection)
            .optional()?;
        row.map(read_row).transpose()
    }
}

impl Session<'_, ReadComparisons, Writing> {
    /// One comparison, to be looked at. Every look is kept: whoever has seen the arms can no
    /// longer plan as if not.
    pub fn open_comparison(&mut self, id: ComparisonId) -> Result<Comparison, StoreError> {
        let comparison = self.find_comparison(id)?;
        self.record(Event::new(Deed::ComparisonOpened, Subject::Comparison, id))?;
        Ok(comparison)
    }

    /// The comparisons on a cut, newest first, each to be looked at.
    pub fn open_comparisons(&mut self, cut: DataCutId) -> Result<Vec<Comparison>, StoreError> {
        self.find_cut(cut)?;
        let opened = self.list_comparisons(cut)?;
        let event = |one: &Comparison| Event::new(Deed::ComparisonOpened, Subject::Comparison, one.id);
        self.record_all(opened.iter().map(event).collect())?;
        Ok(opened)
    }
}

impl Session<'_, RunComparison, Writing> {
    /// Keeps a comparison.
    pub fn save_comparison(&mut self, new: NewComparison) -> Result<Comparison, StoreError> {
        self.find_cut(new.cut)?;
        let comparison = Comparison {
            id: self.new_id(ComparisonId::from_random)?,
            result_hash: sha256_hex(new.result.as_bytes()),
            content: new,
            actor: self.actor(),
            at: self.now(),
        };
        let NewComparison { cut, request, result, software_version } = &comparison.content;
        diesel::insert_into(comparison::table)
            .values((
                comparison::id.eq(comparison.id.to_string()),
                comparison::cut.eq(cut.to_string()),
                comparison::request.eq(request.clone()),
                comparison::request_hash.eq(sha256_hex(request.as_bytes())),
                comparison::result.eq(result.clone()),
                comparison::result_hash.eq(comparison.result_hash.clone()),
                comparison::software_version.eq(software_version.clone()),
                comparison::actor.eq(comparison.actor.to_string()),
                comparison::at.eq(comparison.at.to_string()),
            ))
            .execute(self.connection)?;
        let after = json!({ "cut": cut, "result_hash": comparison.result_hash });
        self.record(
            Event::new(Deed::ComparisonRun, Subject::Comparison, comparison.id).values(None, Some(after)),
        )?;
        Ok(comparison)
    }
}

fn read_row(row: Row) -> Result<Comparison, StoreError> {
    const TABLE: &str = "comparison";
    Ok(Comparison {
        id: read(&row.id, TABLE, "id")?,
        content: NewComparison {
            cut: read(&row.cut, TABLE, "cut")?,
            request: row.request,
            result: row.result,
            software_version: row.software_version,
        },
        result_hash: row.result_hash,
        actor: read(&row.actor, TABLE, "actor")?,
        at: read(&row.at, TABLE, "at")?,
    })
}
