//! Writing cases: codes are issued, a case is submitted, a revision supersedes another.
//! Nothing is changed in place, and each write leaves its audit event.

use std::collections::BTreeMap;

use diesel::prelude::*;
use quietbeam_schema::audit::{Deed, Event, Reason, Subject, differing_fields};
use quietbeam_schema::ids::{CaseCode, CentreCode};
use quietbeam_schema::instant::Instant;
use serde_json::{Value, json};

use super::cases::{CaseRow, ReadsCases};
use super::dialect::{ROWS_A_STATEMENT, on_each_engine};
use super::error::{Conflict, Refused, StoreError, overtaken};
use super::session::{Session, Writing, read, read_json, sha256_hex};
use super::tables::{case_code, case_revision};
use crate::access::action::{ChangeCase, ImportFiles, IssueCaseCodes, RecordFollowUp, SubmitCase};
use crate::access::{Action, CentreScope};

/// The record of a case as it is stored.
#[derive(Debug, Clone, PartialEq)]
pub struct CaseContent {
    /// The version of the form it was entered with.
    pub form_version: String,
    /// The record as canonical JSON.
    pub record: String,
    /// What lists and filters need to know of it.
    pub index: CaseIndex,
}

/// What lists and filters need to know of a record.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CaseIndex {
    /// Quarter or year of the procedure.
    pub period: String,
    /// Group of procedures.
    pub procedure_group: String,
    /// The procedure.
    pub procedure: String,
    /// The strategy intended before the case began.
    pub strategy_intended: String,
    /// Whether and how fluoroscopy was used.
    pub fluoro_used: String,
    /// Air kerma at the reference point, in mGy.
    pub air_kerma_mgy: Option<f64>,
    /// Kerma-area product, in Gy·cm².
    pub kap_gycm2: Option<f64>,
    /// Fluoroscopy time, in seconds.
    pub fluoro_time_s: Option<f64>,
}

/// A case to be submitted under a code that was issued before.
#[derive(Debug, Clone)]
pub struct NewCase {
    /// The code.
    pub code: CaseCode,
    /// The record.
    pub content: CaseContent,
}

/// A new revision of a case.
pub struct Change {
    /// The case.
    pub code: CaseCode,
    /// The revision the author looked at.
    pub expected_revision: i64,
    /// The whole record as it is to be.
    pub content: CaseContent,
    /// Why.
    pub reason: Reason,
}

/// What was saved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Saved {
    /// The case.
    pub code: CaseCode,
    /// Its centre.
    pub centre: CentreCode,
    /// The revision that is now current.
    pub revision: i64,
    /// SHA-256 of its record.
    pub record_hash: String,
}

/// The permits that issue case codes.
pub trait IssuesCodes: Action {}
impl IssuesCodes for IssueCaseCodes {}
impl IssuesCodes for SubmitCase {}
impl IssuesCodes for ImportFiles {}

/// The permits that submit new cases.
pub trait SubmitsCases: ReadsCases {}
impl SubmitsCases for SubmitCase {}
impl SubmitsCases for ImportFiles {}

/// The permits that supersede a revision.
pub trait ChangesCases: ReadsCases {
    /// What the audit trail calls it.
    const DEED: Deed;
}
impl ChangesCases for ChangeCase {
    const DEED: Deed = Deed::CaseChanged;
}
impl ChangesCases for ImportFiles {
    const DEED: Deed = Deed::CaseChanged;
}
impl ChangesCases for RecordFollowUp {
    const DEED: Deed = Deed::FollowUpRecorded;
}

/// A case code that no case has taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnusedCode {
    /// The code.
    pub code: CaseCode,
    /// The centre it was issued to.
    pub centre: CentreCode,
    /// When.
    pub issued_at: Instant,
}

#[derive(Insertable)]
#[diesel(table_name = case_code)]
struct NewCode {
    code: String,
    centre: String,
    actor: String,
    issued_at: String,
}

#[derive(Insertable)]
#[diesel(table_name = case_revision, treat_none_as_default_value = false)]
struct NewRow {
    code: String,
    revision: i64,
    centre: String,
    superseded_by_seq: Option<i64>,
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

/// Where in the chain of a case a record stands, and why.
struct Place {
    code: CaseCode,
    centre: CentreCode,
    revision: i64,
    reason: Option<String>,
}

impl<A: Action, M> Session<'_, A, M> {
    /// The centre named, or the only one the actor belongs to.
    pub fn centre_or_own(&self, named: Option<CentreCode>) -> Result<CentreCode, StoreError> {
        match (named, self.permit.centres()) {
            (Some(centre), _) => self.within(centre).map(|()| centre),
            (None, CentreScope::These(own)) if own.len() == 1 => {
                own.first().copied().ok_or(StoreError::Absent("centre"))
            }
            (None, _) => Err(Refused::CentreNotNamed.into()),
        }
    }
}

impl<A: IssuesCodes> Session<'_, A, Writing> {
    /// Issues new case codes to a centre.
    pub fn issue_case_codes(
        &mut self,
        centre: CentreCode,
        number: usize,
    ) -> Result<Vec<CaseCode>, StoreError> {
        self.within(centre)?;
        let codes = (0..number)
            .map(|_| Ok(CaseCode::from_random(self.randomness.bytes()?)))
            .collect::<Result<Vec<_>, StoreError>>()?;
        let (actor, issued_at) = (self.actor().to_string(), self.now().to_string());
        let rows: Vec<NewCode> = codes
            .iter()
            .map(|code| NewCode {
                code: code.to_string(),
                centre: centre.to_string(),
                actor: actor.clone(),
                issued_at: issued_at.clone(),
            })
            .collect();
        for chunk in rows.chunks(ROWS_A_STATEMENT) {
            on_each_engine!(&mut *self.connection, concrete =>
                diesel::insert_into(case_code::table).values(chunk).execute(concrete))?;
        }
        if let Some(first) = codes.first() {
            let event = Event::new(Deed::CaseCodesIssued, Subject::CaseCodes, first)
                .at_centre(centre)
                .values(None, Some(json!({ "issued": number })));
            self.record(event)?;
        }
        Ok(codes)
    }
}

impl<M> Session<'_, IssueCaseCodes, M> {
    /// The codes of the centres within reach that no case has taken, by centre, newest first.
    pub fn unused_codes(&mut self) -> Result<Vec<UnusedCode>, StoreError> {
        let mut query = case_code::table
            .select((case_code::code, case_code::centre, case_code::issued_at))
            .filter(case_code::code.ne_all(case_revision::table.select(case_revision::code)))
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(case_code::centre.eq_any(centres));
        }
        let rows: Vec<(String, String, String)> = query
            .order((case_code::centre.asc(), case_code::issued_at.desc(), case_code::code.asc()))
            .limit(5_000)
            .load(self.connection)?;
        let read_code = |(code, centre, issued_at): (String, String, String)| {
            Ok(UnusedCode {
                code: read(&code, "case_code", "code")?,
                centre: read(&centre, "case_code", "centre")?,
                issued_at: read(&issued_at, "case_code", "issued_at")?,
            })
        };
        rows.into_iter().map(read_code).collect()
    }
}

impl<A: SubmitsCases> Session<'_, A, Writing> {
    /// Saves a new case.
    pub fn save_new_case(&mut self, case: NewCase) -> Result<Saved, StoreError> {
        let mut saved = self.save_new_cases(vec![case])?;
        saved.pop().ok_or(StoreError::Absent("case"))
    }

    /// Saves many new cases, all or none. Call it again and again for more than fits in
    /// memory: everything within one session is one transaction.
    pub fn save_new_cases(&mut self, cases: Vec<NewCase>) -> Result<Vec<Saved>, StoreError> {
        let codes: Vec<CaseCode> = cases.iter().map(|case| case.code).collect();
        let issued = self.issued_codes(&codes)?;
        if !self.existing_cases(&codes)?.is_empty() {
            return Err(Conflict::CaseExists.into());
        }
        let mut rows = Vec::with_capacity(cases.len());
        let mut saved = Vec::with_capacity(cases.len());
        for NewCase { code, content } in cases {
            let centre = *issued.get(&code).ok_or(StoreError::Absent("case code"))?;
            let row = self.row(Place { code, centre, revision: 1, reason: None }, content);
            saved.push(Saved { code, centre, revision: 1, record_hash: row.record_hash.clone() });
            rows.push(row);
        }
        for chunk in rows.chunks(ROWS_A_STATEMENT) {
            on_each_engine!(&mut *self.connection, concrete =>
                diesel::insert_into(case_revision::table).values(chunk).execute(concrete))
            .map_err(exists)?;
        }
        self.record_all(saved.iter().map(submitted).collect())?;
        Ok(saved)
    }
}

impl<A: SubmitsCases, M> Session<'_, A, M> {
    /// Those of the codes that were issued to a centre within reach.
    pub fn issued_codes(&mut self, codes: &[CaseCode]) -> Result<BTreeMap<CaseCode, CentreCode>, StoreError> {
        let mut issued = BTreeMap::new();
        for chunk in codes.chunks(ROWS_A_STATEMENT) {
            let mut query = case_code::table
                .select((case_code::code, case_code::centre))
                .filter(case_code::code.eq_any(chunk.iter().map(ToString::to_string).collect::<Vec<_>>()))
                .into_boxed();
            if let Some(centres) = self.centres() {
                query = query.filter(case_code::centre.eq_any(centres));
            }
            let rows: Vec<(String, String)> = query.load(self.connection)?;
            for (code, centre) in rows {
                issued.insert(read(&code, "case_code", "code")?, read(&centre, "case_code", "centre")?);
            }
        }
        Ok(issued)
    }
}

impl<A: ChangesCases> Session<'_, A, Writing> {
    /// Supersedes the current revision, if it is the one that was expected. A record that
    /// is the same to the byte changes nothing.
    pub fn change_case(&mut self, change: Change) -> Result<Saved, StoreError> {
        let Change { code, expected_revision, content, reason } = change;
        let current = self.current_case(code)?;
        if current.revision != expected_revision {
            let (expected, current) = (expected_revision, current.revision);
            return Err(Conflict::StaleRevision { expected, current }.into());
        }
        if current.content == content {
            let CaseRow { centre, revision, record_hash, .. } = current;
            return Ok(Saved { code, centre, revision, record_hash });
        }
        let (before, after) = differences(&current.content, &content)?;
        let reason = reason.as_str().to_owned();
        let (centre, revision) = (current.centre, current.revision + 1);
        let row = self.row(Place { code, centre, revision, reason: Some(reason.clone()) }, content);
        let saved = Saved { code, centre, revision, record_hash: row.record_hash.clone() };
        self.supersede(current.seq, row).map_err(overtaken(expected_revision))?;
        let event = Event::new(A::DEED, Subject::Case, code)
            .at_centre(centre)
            .revision(revision)
            .values(Some(before), Some(after))
            .because(Some(reason));
        self.record(event)?;
        Ok(saved)
    }

    fn supersede(&mut self, old: i64, row: NewRow) -> Result<(), StoreError> {
        let new: i64 = diesel::insert_into(case_revision::table)
            .values(row)
            .returning(case_revision::seq)
            .get_result(self.connection)?;
        let superseded = diesel::update(case_revision::table)
            .filter(case_revision::seq.eq(old))
            .filter(case_revision::superseded_by_seq.is_null())
            .set(case_revision::superseded_by_seq.eq(new))
            .execute(self.connection)?;
        if superseded == 1 { Ok(()) } else { Err(Conflict::Race.into()) }
    }
}

impl<A: Action> Session<'_, A, Writing> {
    fn row(&self, place: Place, content: CaseContent) -> NewRow {
        let Place { code, centre, revision, reason } = place;
        let CaseContent { form_version, record, index } = content;
        NewRow {
            code: code.to_string(),
            revision,
            centre: centre.to_string(),
            superseded_by_seq: None,
            actor: self.actor().to_string(),
            at: self.now().to_string(),
            reason,
            form_version,
            record_hash: sha256_hex(record.as_bytes()),
            record,
            period: index.period,
            procedure_group: index.procedure_group,
            procedure: index.procedure,
            strategy_intended: index.strategy_intended,
            fluoro_used: index.fluoro_used,
            air_kerma_mgy: index.air_kerma_mgy,
            kap_gycm2: index.kap_gycm2,
            fluoro_time_s: index.fluoro_time_s,
        }
    }
}

fn submitted(saved: &Saved) -> Event {
    Event::new(Deed::CaseSubmitted, Subject::Case, saved.code)
        .at_centre(saved.centre)
        .revision(saved.revision)
        .values(None, Some(json!({ "record_hash": saved.record_hash })))
}

fn exists(error: diesel::result::Error) -> StoreError {
    match StoreError::from(error) {
        StoreError::Conflict(Conflict::Race) => Conflict::CaseExists.into(),
        other => other,
    }
}

fn differences(before: &CaseContent, after: &CaseContent) -> Result<(Value, Value), StoreError> {
    let record = |content: &CaseContent| -> Result<Value, StoreError> {
        let mut record: Value = read_json(&content.record, "case_revision", "record")?;
        if let Value::Object(fields) = &mut record {
            fields.insert("form_version".to_owned(), json!(content.form_version));
        }
        Ok(record)
    };
    Ok(differing_fields(&record(before)?, &record(after)?))
}
