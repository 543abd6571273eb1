//! Cases: checked, submitted, changed with a reason, followed up. The steps
//! "check, save, ask, note in the trail" are the same for one case and for a file.

use quietbeam_schema::audit::Reason;
use quietbeam_schema::case::{CaseForm, CaseRecord, Checked};
use quietbeam_schema::codebook::FORM_VERSION;
use quietbeam_schema::endpoint::{Derived, derive};
use quietbeam_schema::entries::StrictJson;
use quietbeam_schema::finding::Finding;
use quietbeam_schema::ids::{CaseCode, CentreCode};
use quietbeam_schema::instant::Instant;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::value::FieldValue;
use quietbeam_schema::vocabulary::Coded;
use std::collections::{BTreeMap, BTreeSet};

use super::{IfMatch, RegistryError, Version, approvals, words};
use crate::access::action::{ChangeCase, RecordFollowUp, SubmitCase};
use crate::store::{
    Broken, CaseContent, CaseIndex, CaseRow, Change, ChangesCases, FollowsRules, Found, IssuesCodes, NewCase,
    ReadsApprovals, ReadsCases, Saved, Session, StoreError, SubmitsCases, Writing,
};

/// The reason of the revision that adds the first follow-up.
const FOLLOW_UP_ADDED: &str = "follow-up added";

/// A case that passed every hard rule and can be saved.
pub struct Ready {
    /// The code it asks for, if any.
    pub code: Option<CaseCode>,
    quarter: Quarter,
    content: CaseContent,
    queries: Vec<Finding>,
}

/// A case that was saved, with what its centre is asked.
pub struct Submitted {
    /// The revision that is now current.
    pub saved: Saved,
    /// What the rules ask about it.
    pub queries: Vec<Finding>,
}

impl Submitted {
    fn asked(&self) -> (Saved, Vec<Found>) {
        (self.saved.clone(), self.queries.iter().map(found_of).collect())
    }
}

/// A case as it stands, with what it means.
pub struct Shown {
    /// The current revision.
    pub row: CaseRow,
    /// What the rules derive; absent when the record was entered under an older
    /// form that the present rules cannot read.
    pub derived: Option<Derived>,
}

/// Checks a case and stores nothing.
///
/// # Errors
/// When something must be mended.
pub fn check(form: &CaseForm, now: Instant) -> Result<Ready, RegistryError> {
    form.check(now.quarter()).map(Ready::from).map_err(RegistryError::Findings)
}

impl From<Checked> for Ready {
    fn from(checked: Checked) -> Self {
        let Checked { code, record, queries } = checked;
        Self { code, quarter: record.identity().period, content: content_of(&record), queries }
    }
}

impl Ready {
    /// What the case's centre will be asked once it is submitted.
    pub fn queries(&self) -> &[Finding] {
        &self.queries
    }

    /// The quarter of the procedure.
    pub fn quarter(&self) -> Quarter {
        self.quarter
    }

    /// The record as it will be kept.
    pub fn content(&self) -> &CaseContent {
        &self.content
    }
}

/// Submits one case. Without a code of its own it gets a new one.
///
/// # Errors
/// When something must be mended, or the code is not the centre's to use.
pub fn submit(
    session: &mut Session<'_, SubmitCase, Writing>,
    form: &CaseForm,
    centre: Option<CentreCode>,
) -> Result<Submitted, RegistryError> {
    let ready = check(form, session.now())?;
    let mut submitted = save_all(session, vec![ready], centre)?;
    submitted.pop().ok_or(RegistryError::Store(StoreError::Absent("case")))
}

/// Saves cases that were checked, all or none, in the order given. Codes are
/// issued to those that have none.
///
/// # Errors
/// When a code is taken, or was not issued to a centre within reach, or an approval of its
/// centre stands in the way.
pub fn save_all<A: SubmitsCases + IssuesCodes + FollowsRules + ReadsApprovals>(
    session: &mut Session<'_, A, Writing>,
    cases: Vec<Ready>,
    centre: Option<CentreCode>,
) -> Result<Vec<Submitted>, RegistryError> {
    let without_code = cases.iter().filter(|case| case.code.is_none()).count();
    let mut codes = match without_code {
        0 => Vec::new(),
        number => {
            let centre = session.centre_or_own(centre)?;
            session.issue_case_codes(centre, number)?
        }
    }
    .into_iter();
    let mut new = Vec::with_capacity(cases.len());
    let mut asked = Vec::with_capacity(cases.len());
    let quarters: Vec<Quarter> = cases.iter().map(Ready::quarter).collect();
    for Ready { code, content, queries, .. } in cases {
        let code = code.or_else(|| codes.next()).ok_or(StoreError::Absent("case code"))?;
        new.push(NewCase { code, content });
        asked.push(queries);
    }
    let saved = session.save_new_cases(new)?;
    let mut sent: BTreeMap<CentreCode, BTreeSet<Quarter>> = BTreeMap::new();
    for (saved, quarter) in saved.iter().zip(quarters) {
        sent.entry(saved.centre).or_default().insert(quarter);
    }
    // What is refused here takes the cases back with it.
    sent.into_iter().try_for_each(|(centre, quarters)| approvals::gate(session, centre, quarters))?;
    let submitted: Vec<Submitted> =
        saved.into_iter().zip(asked).map(|(saved, queries)| Submitted { saved, queries }).collect();
    session.follow_findings(&submitted.iter().map(Submitted::asked).collect::<Vec<_>>())?;
    Ok(submitted)
}

/// Reads a case as it stands.
///
/// # Errors
/// When there is none within reach.
pub fn read<A: ReadsCases, M>(
    session: &mut Session<'_, A, M>,
    code: CaseCode,
) -> Result<Shown, RegistryError> {
    let row = session.current_case(code)?;
    Ok(shown(row, session.now()))
}

/// A case with what the rules derive from it.
pub fn shown(row: CaseRow, now: Instant) -> Shown {
    let derived = record_of(&row, now).ok().map(|record| derive(&record));
    Shown { row, derived }
}

/// Replaces the record of a submitted case.
///
/// # Errors
/// When the case was changed since it was read, no reason is given, or something
/// must be mended.
pub fn change(
    session: &mut Session<'_, ChangeCase, Writing>,
    code: CaseCode,
    if_match: &IfMatch,
    new: NewRecord<'_>,
) -> Result<Submitted, RegistryError> {
    // Another centre's case is absent whatever else is wrong with the request.
    let current = session.current_case(code)?;
    if_match.holds(&Version::of_revision(current.revision))?;
    let reason = words::reason(new.reason)
        .map_err(|error| RegistryError::field("/reason", "reason_required", error))?;
    let ready = check(new.form, session.now())?;
    if ready.code.is_some_and(|named| named != code) {
        let sentence = "The code is that of another case; leave it out, or send the change to that case.";
        return Err(RegistryError::field("/case/case_code", "case_code", sentence));
    }
    supersede(session, &current, ready, reason)
}

/// What a case's record is to be replaced with, and why.
pub struct NewRecord<'a> {
    /// The whole record.
    pub form: &'a CaseForm,
    /// Why.
    pub reason: &'a str,
}

/// Adds the follow-up of a case, or replaces it. The first needs no reason.
///
/// # Errors
/// As for [`change`].
pub fn record_follow_up(
    session: &mut Session<'_, RecordFollowUp, Writing>,
    code: CaseCode,
    if_match: &IfMatch,
    follow_up: StrictJson,
    reason: Option<&str>,
) -> Result<Submitted, RegistryError> {
    let current = session.current_case(code)?;
    if_match.holds(&Version::of_revision(current.revision))?;
    let mut form = form_of(&current)?;
    let reason = match (&form.follow_up, reason) {
        (None, None) => FOLLOW_UP_ADDED,
        (_, reason) => reason.unwrap_or_default(),
    };
    let reason =
        words::reason(reason).map_err(|error| RegistryError::field("/reason", "reason_required", error))?;
    form.put_follow_up(follow_up);
    let ready = check(&form, session.now())?;
    supersede(session, &current, ready, reason)
}

/// Supersedes the current revision of a case by a record that was checked.
///
/// # Errors
/// When the case was changed meanwhile.
pub fn supersede<A: ChangesCases + FollowsRules>(
    session: &mut Session<'_, A, Writing>,
    current: &CaseRow,
    ready: Ready,
    reason: Reason,
) -> Result<Submitted, RegistryError> {
    let Ready { content, queries, .. } = ready;
    let change = Change { code: current.code, expected_revision: current.revision, content, reason };
    let submitted = Submitted { saved: session.change_case(change)?, queries };
    session.follow_findings(&[submitted.asked()])?;
    Ok(submitted)
}

/// The form that a stored record fills.
///
/// # Errors
/// When the store holds something else than a record.
pub fn form_of(row: &CaseRow) -> Result<CaseForm, StoreError> {
    let unreadable = |_| Broken::Unreadable { table: "case_revision", column: "record" };
    let json: StrictJson = serde_json::from_str(&row.content.record).map_err(unreadable)?;
    Ok(CaseForm::from_json(json))
}

/// The record that a revision holds.
///
/// # Errors
/// When it cannot be read by the present rules.
pub fn record_of(row: &CaseRow, now: Instant) -> Result<CaseRecord, RegistryError> {
    form_of(row)?.check(now.quarter()).map(|checked| checked.record).map_err(RegistryError::Findings)
}

/// A finding as the question that the store keeps.
pub(super) fn found_of(finding: &Finding) -> Found {
    Found {
        rule: finding.rule.to_owned(),
        field: finding.places.first().map(|place| place.pointer()),
        sentence: finding.sentence.clone(),
    }
}

fn content_of(record: &CaseRecord) -> CaseContent {
    let procedure = record.procedure().proc_primary;
    let guidance = record.guidance();
    CaseContent {
        form_version: FORM_VERSION.to_owned(),
        record: record.to_json().to_string(),
        index: CaseIndex {
            period: record.identity().period.text(),
            procedure_group: procedure.group().code().to_owned(),
            procedure: procedure.code().to_owned(),
            strategy_intended: guidance.strategy_intended.code().to_owned(),
            fluoro_used: guidance.fluoro_used.code().to_owned(),
            air_kerma_mgy: record.air_kerma_mgy().value().copied(),
            kap_gycm2: record.kap_gy_cm2().value().copied(),
            fluoro_time_s: record.fluoro_time_s().value().copied(),
        },
    }
}
