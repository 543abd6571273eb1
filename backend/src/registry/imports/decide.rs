//! What is to be done with each case of the files: it is new, it changes a
//! stored one, it repeats a stored one, or it must be mended first.

use quietbeam_schema::audit::Reason;
use quietbeam_schema::case::CaseForm;
use quietbeam_schema::centre_approval::{Approval, ApprovalRefusal, Day, may_send};
use quietbeam_schema::finding::Weight;
use quietbeam_schema::ids::{CaseCode, CentreCode};
use quietbeam_schema::period::Quarter;
use std::collections::BTreeMap;

use super::Request;
use crate::access::action::ImportFiles;
use crate::intake::{At, CaseRow as FileRow, CaseRows, FileKind, Leftover, Parts, Problem, Row, Tally};
use crate::registry::RegistryError;
use crate::registry::cases::{Ready, form_of};
use crate::store::{CaseRow, Session};

/// Cases looked up and stored together.
const BATCH: usize = 500;

/// Reason of a revision that only adds what was not there before.
const ADDED: &str = "complications or follow-up added from files";

/// Cases with the row that brings each and what is to be done.
pub(super) type Batch = Vec<(At, Decided)>;

/// What is to be done with one case.
pub(super) enum Decided {
    /// Store it.
    New(Box<Ready>),
    /// Supersede the stored revision.
    Changed(Box<Supersession>),
    /// Nothing: it is stored already.
    Unchanged,
}

/// A stored case and what is to supersede it.
pub(super) struct Supersession {
    pub(super) current: CaseRow,
    pub(super) ready: Ready,
    pub(super) reason: Reason,
}

/// Goes through the files and hands on, batch by batch, what can be taken;
/// what cannot is tallied.
pub(super) fn decide_all<M>(
    session: &mut Session<'_, ImportFiles, M>,
    request: &Request,
    tally: &mut Tally,
    mut hand_on: impl FnMut(&mut Session<'_, ImportFiles, M>, Batch) -> Result<(), RegistryError>,
) -> Result<(), RegistryError> {
    let parts = Parts::read(&request.files, tally)?;
    let mut cases = CaseRows::open(&request.files, &parts)?;
    let mut rows = Vec::with_capacity(BATCH);
    // Complications and follow-ups are read by now.
    let mut done = tally.rows_read();
    loop {
        let next = cases.next_row()?;
        let last = next.is_none();
        match next {
            Some(FileRow::Whole(row)) => {
                tally.read(FileKind::Cases);
                rows.push(*row);
            }
            Some(FileRow::Refused(row)) => {
                tally.read(FileKind::Cases);
                tally.add(row.problem);
                row.along.into_iter().for_each(|(file, at)| tally.refuse(file, at));
            }
            None => {}
        }
        if rows.len() == BATCH || (last && !rows.is_empty()) {
            done += rows.len() as u64;
            let batch = decide_rows(session, request, &rows, tally)?;
            rows.clear();
            hand_on(session, batch)?;
            (request.progress)(done);
        }
        if last {
            break;
        }
    }
    let mut leftovers = cases.leftovers();
    loop {
        let some: Vec<Leftover> = leftovers.by_ref().take(BATCH).collect();
        if some.is_empty() {
            return Ok(());
        }
        let batch = decide_leftovers(session, request, &some, tally)?;
        hand_on(session, batch)?;
    }
}

/// The stored cases and the issued codes among some codes, and what the centre may send.
struct Stored {
    cases: BTreeMap<CaseCode, CaseRow>,
    issued: BTreeMap<CaseCode, CentreCode>,
    approvals: Vec<Approval>,
    day: Day,
}

impl Stored {
    fn read<M>(
        session: &mut Session<'_, ImportFiles, M>,
        centre: CentreCode,
        codes: &[CaseCode],
    ) -> Result<Self, RegistryError> {
        let mut cases = session.existing_cases(codes)?;
        let mut issued = session.issued_codes(codes)?;
        // Whoever belongs to two centres still imports for one at a time.
        cases.retain(|_, case| case.centre == centre);
        issued.retain(|_, of| *of == centre);
        let (approvals, day) = (session.list_approvals(centre)?, Day::of(session.now()));
        Ok(Self { cases, issued, approvals, day })
    }
}

fn decide_rows<M>(
    session: &mut Session<'_, ImportFiles, M>,
    request: &Request,
    rows: &[Row],
    tally: &mut Tally,
) -> Result<Batch, RegistryError> {
    let today = session.now().quarter();
    let codes: Vec<CaseCode> = rows.iter().filter_map(|row| row.code).collect();
    let stored = Stored::read(session, request.centre, &codes)?;
    let mut batch = Vec::with_capacity(rows.len());
    for row in rows {
        match decide_row(&stored, row, today)? {
            Ok(decided) => {
                if let Some(ready) = decided.ready() {
                    for finding in ready.queries() {
                        tally.add(row.places.problem(finding.clone()));
                    }
                }
                batch.push((row.at, decided));
            }
            Err(problems) => {
                row.places.iter().for_each(|(file, at)| tally.refuse(file, at));
                problems.into_iter().for_each(|problem| tally.add(problem));
            }
        }
    }
    Ok(batch)
}

fn decide_row(
    stored: &Stored,
    row: &Row,
    today: Quarter,
) -> Result<Result<Decided, Vec<Problem>>, RegistryError> {
    let current = row.code.and_then(|code| stored.cases.get(&code));
    if let (Some(code), None) = (row.code, current)
        && !stored.issued.contains_key(&code)
    {
        let others = row.check(today).err().unwrap_or_default();
        return Ok(Err(std::iter::once(not_issued(row.at)).chain(others).collect()));
    }
    let Some(current) = current else {
        return Ok(row.check(today).map(Ready::from).and_then(|ready| {
            match may_send(&stored.approvals, ready.quarter(), stored.day) {
                Ok(()) => Ok(Decided::New(Box::new(ready))),
                Err(refusal) => Err(vec![not_approved(row.at, refusal)]),
            }
        }));
    };
    let form = with_stored_parts(&row.form, form_of(current)?);
    let checked = match row.check_as(&form, today) {
        Ok(checked) => checked,
        Err(problems) => return Ok(Err(problems)),
    };
    let ready = Ready::from(checked);
    if ready.content() == &current.content {
        return Ok(Ok(Decided::Unchanged));
    }
    let reason = row.change_reason.as_deref().map(str::parse::<Reason>);
    Ok(match reason {
        Some(Ok(reason)) => {
            Ok(Decided::Changed(Box::new(Supersession { current: current.clone(), ready, reason })))
        }
        Some(Err(_)) | None => Err(vec![reason_required(FileKind::Cases, row.at)]),
    })
}

/// What the files do not bring along for a case stays as it is stored: a
/// complications file of this month's cases must not take back last month's.
fn with_stored_parts(given: &CaseForm, stored: CaseForm) -> CaseForm {
    let complications =
        if given.complications.is_empty() { stored.complications } else { given.complications.clone() };
    let follow_up = given.follow_up.clone().or(stored.follow_up);
    CaseForm::new(given.case.clone(), complications, follow_up)
}

fn decide_leftovers<M>(
    session: &mut Session<'_, ImportFiles, M>,
    request: &Request,
    leftovers: &[Leftover],
    tally: &mut Tally,
) -> Result<Batch, RegistryError> {
    let today = session.now().quarter();
    let codes: Vec<CaseCode> = leftovers.iter().map(|leftover| leftover.code).collect();
    let stored = Stored::read(session, request.centre, &codes)?;
    let mut batch = Vec::new();
    for leftover in leftovers {
        let places = leftover.parts.places();
        let Some(current) = stored.cases.get(&leftover.code) else {
            leftover
                .without_case("in the files or stored for your centre")
                .into_iter()
                .for_each(|problem| tally.add(problem));
            continue;
        };
        match decide_leftover(current, leftover, today)? {
            Ok(decided) => {
                if let Some(ready) = decided.ready() {
                    for finding in ready.queries() {
                        tally.add(places.problem(finding.clone()));
                    }
                }
                batch.extend(places.iter().next().map(|(_, at)| (at, decided)));
            }
            Err(problems) => {
                places.iter().for_each(|(file, at)| tally.refuse(file, at));
                problems.into_iter().for_each(|problem| tally.add(problem));
            }
        }
    }
    Ok(batch)
}

/// Complications and a follow-up that come after their case was stored.
fn decide_leftover(
    current: &CaseRow,
    leftover: &Leftover,
    today: Quarter,
) -> Result<Result<Decided, Vec<Problem>>, RegistryError> {
    if let Some(problem) = leftover.spoilt_problem() {
        return Ok(Err(vec![problem]));
    }
    let places = leftover.parts.places();
    let stored = form_of(current)?;
    let mut form = stored.clone();
    if !leftover.parts.complications.is_empty() {
        form.complications =
            leftover.parts.complications.iter().map(|(_, entries)| entries.clone()).collect();
    }
    if let Some((_, entries)) = &leftover.parts.follow_up {
        form.follow_up = Some(entries.clone());
    }
    let checked = match form.check(today) {
        Ok(checked) => checked,
        Err(findings) => return Ok(Err(findings.into_iter().map(|found| places.problem(found)).collect())),
    };
    let ready = Ready::from(checked);
    if ready.content() == &current.content {
        return Ok(Ok(Decided::Unchanged));
    }
    let replaces = (!stored.complications.is_empty() && !leftover.parts.complications.is_empty())
        || (stored.follow_up.is_some() && leftover.parts.follow_up.is_some());
    let reason = ADDED.parse::<Reason>();
    Ok(match (replaces, reason) {
        (false, Ok(reason)) => {
            Ok(Decided::Changed(Box::new(Supersession { current: current.clone(), ready, reason })))
        }
        _ => {
            let (file, at) = places.iter().next().unwrap_or((FileKind::FollowUps, At::HEADER));
            Err(vec![reason_required(file, at)])
        }
    })
}

impl Decided {
    fn ready(&self) -> Option<&Ready> {
        match self {
            Self::New(ready) => Some(ready),
            Self::Changed(change) => Some(&change.ready),
            Self::Unchanged => None,
        }
    }
}

fn not_issued(at: At) -> Problem {
    Problem {
        file: FileKind::Cases,
        at,
        column: Some("case_code".to_owned()),
        rule: "code_not_issued",
        weight: Weight::Hard,
        sentence: "Case code was not issued to your centre; use a code from your centre's own sheet, or leave it blank and one is issued.".to_owned(),
    }
}

fn not_approved(at: At, refusal: ApprovalRefusal) -> Problem {
    Problem {
        file: FileKind::Cases,
        at,
        column: None,
        rule: "approval_expired",
        weight: Weight::Hard,
        sentence: format!("Not taken: {refusal}."),
    }
}

fn reason_required(file: FileKind, at: At) -> Problem {
    Problem {
        file,
        at,
        column: Some("change_reason".to_owned()),
        rule: "change_reason_required",
        weight: Weight::Hard,
        sentence: "This row changes a case that is already stored; send it in the cases file with a change_reason of 3 to 500 characters, or send the stored values unchanged.".to_owned(),
    }
}
