//! Data cuts: a point in the chain of revisions and a hash of what stood there. What is read
//! as of a cut can be read again for ever.

use diesel::dsl::max;
use diesel::prelude::*;
use quietbeam_schema::audit::{Actor, Deed, Event, Subject};
use quietbeam_schema::ids::{CentreCode, DataCutId};
use quietbeam_schema::instant::Instant;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::value::FieldValue;
use quietbeam_schema::vocabulary::Coded;
use serde_json::json;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;

use super::cases::{CaseRow, Row as CaseTableRow, read_row as read_case};
use super::connection::MultiBackend;
use super::current_cases::CASES_A_PAGE;
use super::error::{Broken, Refused, StoreError, taken};
use super::judgements::Judgement;
use super::screening::{ScreeningLine, ScreeningRow};
use super::session::{Session, Writing, hex, read, to_json};
use super::tables::{case_revision, data_cut, judgement, screening_revision};
use crate::access::Action;
use crate::access::action::{
    ApproveSummary, DraftSummary, ExportDeidentified, PublishSummary, ReadComparisons, ReadDataCuts,
    ReadOwnPicture, ReadSummaryDrafts, RegisterPlan, RunComparison, TakeDataCut, WriteReport,
};

/// The permits that see data cuts.
pub trait ReadsCuts: Action {}
impl ReadsCuts for ReadDataCuts {}
impl ReadsCuts for TakeDataCut {}
impl ReadsCuts for RegisterPlan {}
impl ReadsCuts for RunComparison {}
impl ReadsCuts for ExportDeidentified {}
impl ReadsCuts for ReadComparisons {}
impl ReadsCuts for WriteReport {}
impl ReadsCuts for DraftSummary {}
impl ReadsCuts for ApproveSummary {}
impl ReadsCuts for PublishSummary {}
impl ReadsCuts for ReadSummaryDrafts {}
impl ReadsCuts for ReadOwnPicture {}

/// The permits whose work reads the cases of a cut.
pub trait ReadsCutCases: ReadsCuts {}
impl ReadsCutCases for RegisterPlan {}
impl ReadsCutCases for TakeDataCut {}
impl ReadsCutCases for RunComparison {}
impl ReadsCutCases for ReadComparisons {}
impl ReadsCutCases for ExportDeidentified {}
/// A centre reads its own cases of a cut alone.
impl ReadsCutCases for ReadOwnPicture {}
impl ReadsCutCases for DraftSummary {}
impl ReadsCutCases for ApproveSummary {}
impl ReadsCutCases for PublishSummary {}

/// A data cut.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DataCut {
    /// Its identifier.
    pub id: DataCutId,
    /// Its name.
    pub name: String,
    /// The last revision it takes in.
    pub boundary_seq: i64,
    /// The last revision of the screening log it takes in.
    pub screening_boundary_seq: i64,
    /// The last judgement of an event it takes in.
    pub judgement_boundary_seq: i64,
    /// How many cases it holds.
    pub cases: i64,
    /// SHA-256 over code, revision and record hash of each case in the order of the codes,
    /// then over the lines of the screening log, then over the judgements of events.
    pub content_hash: String,
    /// Who took it.
    pub actor: Actor,
    /// When.
    pub at: Instant,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = data_cut, check_for_backend(MultiBackend))]
struct Row {
    id: String,
    name: String,
    boundary_seq: i64,
    screening_boundary_seq: i64,
    judgement_boundary_seq: i64,
    cases: i64,
    content_hash: String,
    actor: String,
    at: String,
}

impl<A: ReadsCuts, M> Session<'_, A, M> {
    /// The cuts, newest first.
    pub fn list_cuts(&mut self) -> Result<Vec<DataCut>, StoreError> {
        let order = (data_cut::at.desc(), data_cut::id.desc());
        let rows: Vec<Row> = data_cut::table.select(Row::as_select()).order(order).load(self.connection)?;
        rows.into_iter().map(read_row).collect()
    }

    /// One cut.
    pub fn find_cut(&mut self, id: DataCutId) -> Result<DataCut, StoreError> {
        let row: Option<Row> = data_cut::table
            .select(Row::as_select())
            .filter(data_cut::id.eq(id.to_string()))
            .first(self.connection)
            .optional()?;
        row.map_or(Err(StoreError::Absent("data cut")), read_row)
    }

    /// The denominators of a cut.
    pub fn screening_of(&mut self, cut: &DataCut) -> Result<Vec<ScreeningRow>, StoreError> {
        self.screening_at(Some(cut.screening_boundary_seq))
    }

    /// The place of each case's first revision in the chain, and when it was written, by code:
    /// the order of entry.
    pub fn entries_of(&mut self, cut: &DataCut) -> Result<BTreeMap<String, (i64, Instant)>, StoreError> {
        let rows: Vec<(String, i64, String)> = case_revision::table
            .select((case_revision::code, case_revision::seq, case_revision::at))
            .filter(case_revision::revision.eq(1))
            .filter(case_revision::seq.le(cut.boundary_seq))
            .load(self.connection)?;
        let entry =
            |(code, seq, at): (String, i64, String)| Ok((code, (seq, read(&at, "case_revision", "at")?)));
        rows.into_iter().map(entry).collect()
    }

    /// The versions of the form with which the cases of a cut were entered.
    pub fn form_versions_of(&mut self, cut: &DataCut) -> Result<Vec<String>, StoreError> {
        let boundary = cut.boundary_seq;
        let versions = case_revision::table
            .select(case_revision::form_version)
            .filter(case_revision::seq.le(boundary))
            .filter(
                case_revision::superseded_by_seq.is_null().or(case_revision::superseded_by_seq.gt(boundary)),
            )
            .distinct()
            .order(case_revision::form_version.asc());
        Ok(versions.load(self.connection)?)
    }

    /// Which revision of each case stands in a cut, by code.
    pub fn revisions_of(&mut self, cut: &DataCut) -> Result<BTreeMap<String, Standing>, StoreError> {
        let boundary = cut.boundary_seq;
        let mut query = case_revision::table
            .select((
                case_revision::code,
                case_revision::centre,
                case_revision::revision,
                case_revision::period,
            ))
            .filter(case_revision::seq.le(boundary))
            .filter(
                case_revision::superseded_by_seq.is_null().or(case_revision::superseded_by_seq.gt(boundary)),
            )
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(case_revision::centre.eq_any(centres));
        }
        let rows: Vec<(String, String, i64, String)> = query.load(self.connection)?;
        const TABLE: &str = "case_revision";
        let standing = |(code, centre, revision, period): (String, String, i64, String)| {
            let unreadable = |_| Broken::Unreadable { table: TABLE, column: "period" };
            let period = Quarter::parse(&period).map_err(unreadable)?;
            Ok((code, Standing { centre: read(&centre, TABLE, "centre")?, revision, period }))
        };
        rows.into_iter().map(standing).collect()
    }
}

/// A case as it stands in a cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Standing {
    /// Whose case.
    pub centre: CentreCode,
    /// Which revision.
    pub revision: i64,
    /// The quarter of the procedure.
    pub period: Quarter,
}

impl<A: ReadsCutCases, M> Session<'_, A, M> {
    /// Hands each case of a cut to `see`, in the order of the codes.
    pub fn each_case<E: From<StoreError>>(
        &mut self,
        cut: &DataCut,
        mut see: impl FnMut(CaseRow) -> Result<(), E>,
    ) -> Result<(), E> {
        self.each_page(cut, |page| page.into_iter().try_for_each(&mut see))
    }

    /// Hands the cases of a cut to `see`, some thousands at a time, in the order of the codes.
    pub fn each_page<E: From<StoreError>>(
        &mut self,
        cut: &DataCut,
        see: impl FnMut(Vec<CaseRow>) -> Result<(), E>,
    ) -> Result<(), E> {
        self.each_page_until(cut.boundary_seq, see)
    }

    /// Hands each case as it stands to `see`, in the order of the codes.
    pub fn each_case_now<E: From<StoreError>>(
        &mut self,
        mut see: impl FnMut(CaseRow) -> Result<(), E>,
    ) -> Result<(), E> {
        self.each_page_until(i64::MAX, |page| page.into_iter().try_for_each(&mut see))
    }

    fn each_page_until<E: From<StoreError>>(
        &mut self,
        boundary: i64,
        mut see: impl FnMut(Vec<CaseRow>) -> Result<(), E>,
    ) -> Result<(), E> {
        let mut after = String::new();
        loop {
            let page = self.cases_after(boundary, &after)?;
            let Some(last) = page.last() else { return Ok(()) };
            after = last.code.to_string();
            see(page)?;
        }
    }

    /// Whether what stands at the cut still has its hash.
    pub fn verify_cut(&mut self, cut: &DataCut) -> Result<bool, StoreError> {
        let boundaries = (cut.boundary_seq, cut.screening_boundary_seq, cut.judgement_boundary_seq);
        let (cases, hash) = self.content_of(boundaries)?;
        Ok(cases == cut.cases && hash == cut.content_hash)
    }

    fn cases_after(&mut self, boundary: i64, after: &str) -> Result<Vec<CaseRow>, StoreError> {
        let mut query = case_revision::table
            .select(CaseTableRow::as_select())
            .filter(case_revision::seq.le(boundary))
            .filter(
                case_revision::superseded_by_seq.is_null().or(case_revision::superseded_by_seq.gt(boundary)),
            )
            .filter(case_revision::code.gt(after.to_owned()))
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(case_revision::centre.eq_any(centres));
        }
        let rows: Vec<CaseTableRow> =
            query.order(case_revision::code.asc()).limit(CASES_A_PAGE).load(self.connection)?;
        rows.into_iter().map(read_case).collect()
    }

    fn content_of(
        &mut self,
        (boundary, screening_boundary, judgement_boundary): (i64, i64, i64),
    ) -> Result<(i64, String), StoreError> {
        let mut hash = Sha256::new();
        let (mut cases, mut after) = (0, String::new());
        loop {
            let page: Vec<(String, i64, String)> = case_revision::table
                .select((case_revision::code, case_revision::revision, case_revision::record_hash))
                .filter(case_revision::seq.le(boundary))
                .filter(
                    case_revision::superseded_by_seq
                        .is_null()
                        .or(case_revision::superseded_by_seq.gt(boundary)),
                )
                .filter(case_revision::code.gt(after))
                .order(case_revision::code.asc())
                .limit(CASES_A_PAGE)
                .load(self.connection)?;
            let Some((last, ..)) = page.last() else { break };
            after = last.clone();
            for (code, revision, record_hash) in page {
                cases += 1;
                hash.update(format!("{code},{revision},{record_hash}\n"));
            }
        }
        for row in self.screening_at(Some(screening_boundary))? {
            let counts = to_json(&row.counts)?;
            let ScreeningLine { centre, period, group } = row.line;
            hash.update(format!("{centre},{period},{},{},{counts}\n", group.code(), row.revision));
        }
        for Judgement { event, place, ruling, .. } in self.judgements_until(judgement_boundary)? {
            hash.update(format!("{event},{place},{}\n", ruling.code()));
        }
        Ok((cases, hex(&hash.finalize())))
    }
}

impl Session<'_, TakeDataCut, Writing> {
    /// Freezes a cut of everything committed so far. Writers in flight were waited for when
    /// the session began.
    pub fn take_cut(&mut self, name: &str) -> Result<DataCut, StoreError> {
        let boundary: Option<i64> =
            case_revision::table.select(max(case_revision::seq)).first(self.connection)?;
        let boundary_seq = boundary.ok_or(Refused::NothingToCut)?;
        let screening: Option<i64> =
            screening_revision::table.select(max(screening_revision::seq)).first(self.connection)?;
        let judged: Option<i64> = judgement::table.select(max(judgement::seq)).first(self.connection)?;
        let (screening_boundary_seq, judgement_boundary_seq) = (screening.unwrap_or(0), judged.unwrap_or(0));
        let boundaries = (boundary_seq, screening_boundary_seq, judgement_boundary_seq);
        let (cases, content_hash) = self.content_of(boundaries)?;
        let cut = DataCut {
            id: self.new_id(DataCutId::from_random)?,
            name: name.to_owned(),
            boundary_seq,
            screening_boundary_seq,
            judgement_boundary_seq,
            cases,
            content_hash,
            actor: self.actor(),
            at: self.now(),
        };
        diesel::insert_into(data_cut::table)
            .values((
                data_cut::id.eq(cut.id.to_string()),
                data_cut::name.eq(cut.name.clone()),
                data_cut::boundary_seq.eq(cut.boundary_seq),
                data_cut::screening_boundary_seq.eq(cut.screening_boundary_seq),
                data_cut::judgement_boundary_seq.eq(cut.judgement_boundary_seq),
                data_cut::cases.eq(cut.cases),
                data_cut::content_hash.eq(cut.content_hash.clone()),
                data_cut::actor.eq(cut.actor.to_string()),
                data_cut::at.eq(cut.at.to_string()),
            ))
            .execute(self.connection)
            .map_err(taken("name"))?;
        let after = json!({ "name": cut.name, "cases": cut.cases, "content_hash": cut.content_hash });
        self.record(Event::new(Deed::DataCutTaken, Subject::DataCut, cut.id).values(None, Some(after)))?;
        Ok(cut)
    }
}

fn read_row(row: Row) -> Result<DataCut, StoreError> {
    const TABLE: &str = "data_cut";
    Ok(DataCut {
        id: read(&row.id, TABLE, "id")?,
        name: row.name,
        boundary_seq: row.boundary_seq,
        screening_boundary_seq: row.screening_boundary_seq,
        judgement_boundary_seq: row.judgement_boundary_seq,
        cases: row.cases,
        content_hash: row.content_hash,
        actor: read(&row.actor, TABLE, "actor")?,
        at: read(&row.at, TABLE, "at")?,
    })
}
