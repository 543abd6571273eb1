//! The screening log: denominators by centre, period and group of procedures. A line is a
//! chain of revisions; signing adds one, and any later correction is unsigned again.

use std::collections::BTreeMap;

use diesel::prelude::*;
use quietbeam_schema::audit::{Actor, Deed, Event, Reason, Subject};
use quietbeam_schema::centre::{SIGNATURE_MEANING, ScreeningCounts};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::instant::Instant;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::value::FieldValue;
use quietbeam_schema::vocabulary::{Coded, ProcedureGroup};
use serde_json::json;

use super::connection::MultiBackend;
use super::error::{Broken, Conflict, Refused, StoreError, overtaken};
use super::session::{Session, Writing, read, read_json, to_json};
use super::tables::{case_revision, screening_revision};
use crate::access::Action;
use crate::access::action::{ReadOwnPicture, ReadScreeningLog, SignScreeningLog, WriteScreeningLog};

/// The permits that read the screening log.
pub trait ReadsScreening: Action {}
impl ReadsScreening for ReadScreeningLog {}
impl ReadsScreening for ReadOwnPicture {}
impl ReadsScreening for WriteScreeningLog {}
impl ReadsScreening for SignScreeningLog {}

/// Which line of the log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct ScreeningLine {
    /// The centre.
    pub centre: CentreCode,
    /// The quarter.
    pub period: Quarter,
    /// The group of procedures.
    pub group: ProcedureGroup,
}

/// One revision of a line.
#[derive(Debug, Clone, PartialEq)]
pub struct ScreeningRow {
    /// Which line.
    pub line: ScreeningLine,
    /// Counted from 1.
    pub revision: i64,
    /// The counts.
    pub counts: ScreeningCounts,
    /// Who signed exactly this revision.
    pub signed_by: Option<Actor>,
    /// Who wrote it.
    pub actor: Actor,
    /// When.
    pub at: Instant,
    /// Why, from the second revision on.
    pub reason: Option<String>,
    seq: i64,
}

/// Counts to be entered or corrected.
pub struct ScreeningEntry {
    /// Which line.
    pub line: ScreeningLine,
    /// The revision the author looked at; `None` for a line not entered yet.
    pub expected_revision: Option<i64>,
    /// The counts.
    pub counts: ScreeningCounts,
    /// Why; needed for a correction.
    pub reason: Option<Reason>,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = screening_revision, check_for_backend(MultiBackend))]
struct Row {
    seq: i64,
    centre: String,
    period: String,
    procedure_group: String,
    revision: i64,
    counts: String,
    signed_by: Option<String>,
    actor: String,
    at: String,
    reason: Option<String>,
}

impl<A: Action, M> Session<'_, A, M> {
    /// The lines as they stood at a boundary, or as they stand now.
    pub(super) fn screening_at(&mut self, boundary: Option<i64>) -> Result<Vec<ScreeningRow>, StoreError> {
        let mut query = screening_revision::table.select(Row::as_select()).into_boxed();
        query = match boundary {
            None => query.filter(screening_revision::superseded_by_seq.is_null()),
            Some(boundary) => query.filter(screening_revision::seq.le(boundary)).filter(
                screening_revision::superseded_by_seq
                    .is_null()
                    .or(screening_revision::superseded_by_seq.gt(boundary)),
            ),
        };
        if let Some(centres) = self.centres() {
            query = query.filter(screening_revision::centre.eq_any(centres));
        }
        let order = (
            screening_revision::centre.asc(),
            screening_revision::period.asc(),
            screening_revision::procedure_group.asc(),
        );
        let rows: Vec<Row> = query.order(order).load(self.connection)?;
        rows.into_iter().map(read_row).collect()
    }
}

impl<A: ReadsScreening, M> Session<'_, A, M> {
    /// The current lines of all centres within reach.
    pub fn list_screening(&mut self) -> Result<Vec<ScreeningRow>, StoreError> {
        self.screening_at(None)
    }

    /// The current revision of a line, if it was entered.
    pub fn find_screening(&mut self, line: ScreeningLine) -> Result<Option<ScreeningRow>, StoreError> {
        self.within(line.centre)?;
        let row: Option<Row> = screening_revision::table
            .select(Row::as_select())
            .filter(screening_revision::superseded_by_seq.is_null())
            .filter(screening_revision::centre.eq(line.centre.to_string()))
            .filter(screening_revision::period.eq(line.period.to_string()))
            .filter(screening_revision::procedure_group.eq(line.group.code()))
            .first(self.connection)
            .optional()?;
        row.map(read_row).transpose()
    }

    /// How many cases the registry holds of each line, entered in the log or not.
    pub fn cases_by_line(&mut self) -> Result<BTreeMap<ScreeningLine, u32>, StoreError> {
        let columns = (case_revision::centre, case_revision::period, case_revision::procedure_group);
        let mut query = case_revision::table
            .filter(case_revision::superseded_by_seq.is_null())
            .group_by(columns)
            .select((columns.0, columns.1, columns.2, diesel::dsl::count_star()))
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(case_revision::centre.eq_any(centres));
        }
        let rows: Vec<(String, String, String, i64)> = query.load(self.connection)?;
        rows.into_iter()
            .map(|(centre, period, group, cases)| {
                let line = read_line("case_revision", &centre, &period, &group)?;
                Ok((line, u32::try_from(cases).unwrap_or(u32::MAX)))
            })
            .collect()
    }

    /// The latest signature of each line that was ever signed, void or not.
    pub fn latest_signatures(&mut self) -> Result<BTreeMap<ScreeningLine, ScreeningRow>, StoreError> {
        let mut query = screening_revision::table
            .select(Row::as_select())
            .filter(screening_revision::signed_by.is_not_null())
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(screening_revision::centre.eq_any(centres));
        }
        let rows: Vec<Row> = query.order(screening_revision::seq.asc()).load(self.connection)?;
        rows.into_iter()
            .map(|row| {
                let row = read_row(row)?;
                Ok((row.line, row))
            })
            .collect()
    }
}

impl Session<'_, WriteScreeningLog, Writing> {
    /// Enters or corrects a line.
    pub fn record_screening(&mut self, entry: ScreeningEntry) -> Result<ScreeningRow, StoreError> {
        let ScreeningEntry { line, expected_revision, counts, reason } = entry;
        let current = self.find_screening(line)?;
        check_revision(current.as_ref(), expected_revision)?;
        if current.is_some() && reason.is_none() {
            return Err(Refused::ReasonRequired.into());
        }
        let reason = reason.map(|reason| reason.as_str().to_owned());
        let revision = current.as_ref().map_or(1, |row| row.revision + 1);
        let row = self
            .append_screening(current.as_ref(), Appended { line, revision, counts, reason, signed_by: None })
            .map_err(overtaken(revision - 1))?;
        let before = current.map(|row| json!(row.counts));
        let reason = row.reason.clone();
        self.record_line(Deed::ScreeningRecorded, &row, before, reason)?;
        Ok(row)
    }
}

impl Session<'_, SignScreeningLog, Writing> {
    /// Signs exactly the revision the signer looked at.
    pub fn sign_screening(
        &mut self,
        line: ScreeningLine,
        expected_revision: i64,
    ) -> Result<ScreeningRow, StoreError> {
        let current = self.find_screening(line)?.ok_or(StoreError::Absent("screening line"))?;
        check_revision(Some(&current), Some(expected_revision))?;
        if current.signed_by.is_some() {
            return Err(Refused::AlreadySigned.into());
        }
        let signed = Appended {
            line,
            revision: current.revision + 1,
            counts: current.counts.clone(),
            reason: current.reason.clone(),
            signed_by: Some(self.actor()),
        };
        let row = self.append_screening(Some(&current), signed).map_err(overtaken(expected_revision))?;
        let meaning = Some(SIGNATURE_MEANING.to_owned());
        self.record_line(Deed::ScreeningSigned, &row, None, meaning)?;
        Ok(row)
    }
}

struct Appended {
    line: ScreeningLine,
    revision: i64,
    counts: ScreeningCounts,
    reason: Option<String>,
    signed_by: Option<Actor>,
}

impl<A: Action> Session<'_, A, Writing> {
    fn append_screening(
        &mut self,
        old: Option<&ScreeningRow>,
        new: Appended,
    ) -> Result<ScreeningRow, StoreError> {
        let Appended { line, revision, counts, reason, signed_by } = new;
        let seq: i64 = diesel::insert_into(screening_revision::table)
            .values((
                screening_revision::centre.eq(line.centre.to_string()),
                screening_revision::period.eq(line.period.to_string()),
                screening_revision::procedure_group.eq(line.group.code()),
                screening_revision::revision.eq(revision),
                screening_revision::superseded_by_seq.eq(None::<i64>),
                screening_revision::counts.eq(to_json(&counts)?),
                screening_revision::signed_by.eq(signed_by.map(|actor| actor.to_string())),
                screening_revision::actor.eq(self.actor().to_string()),
                screening_revision::at.eq(self.now().to_string()),
                screening_revision::reason.eq(reason.clone()),
            ))
            .returning(screening_revision::seq)
            .get_result(self.connection)?;
        if let Some(old) = old {
            let superseded = diesel::update(screening_revision::table)
                .filter(screening_revision::seq.eq(old.seq))
                .filter(screening_revision::superseded_by_seq.is_null())
                .set(screening_revision::superseded_by_seq.eq(seq))
                .execute(self.connection)?;
            if superseded != 1 {
                return Err(Conflict::Race.into());
            }
        }
        Ok(ScreeningRow {
            line,
            revision,
            counts,
            signed_by,
            actor: self.actor(),
            at: self.now(),
            reason,
            seq,
        })
    }

    fn record_line(
        &mut self,
        deed: Deed,
        row: &ScreeningRow,
        before: Option<serde_json::Value>,
        because: Option<String>,
    ) -> Result<(), StoreError> {
        let ScreeningLine { centre, period, group } = row.line;
        let event = Event::new(deed, Subject::ScreeningLog, format!("{centre}/{period}/{}", group.code()))
            .at_centre(centre)
            .revision(row.revision)
            .values(before, Some(json!(row.counts)))
            .because(because);
        self.record(event)
    }
}

fn check_revision(current: Option<&ScreeningRow>, expected: Option<i64>) -> Result<(), StoreError> {
    let current = current.map(|row| row.revision);
    if current == expected {
        return Ok(());
    }
    Err(Conflict::StaleRevision { expected: expected.unwrap_or(0), current: current.unwrap_or(0) }.into())
}

fn read_line(
    table: &'static str,
    centre: &str,
    period: &str,
    group: &str,
) -> Result<ScreeningLine, StoreError> {
    let unreadable = |column| Broken::Unreadable { table, column };
    Ok(ScreeningLine {
        centre: read(centre, table, "centre")?,
        period: Quarter::parse(period).map_err(|_| unreadable("period"))?,
        group: ProcedureGroup::from_code(group).ok_or_else(|| unreadable("procedure_group"))?,
    })
}

fn read_row(row: Row) -> Result<ScreeningRow, StoreError> {
    const TABLE: &str = "screening_revision";
    Ok(ScreeningRow {
        line: read_line(TABLE, &row.centre, &row.period, &row.procedure_group)?,
        revision: row.revision,
        counts: read_json(&row.counts, TABLE, "counts")?,
        signed_by: row.signed_by.map(|actor| read(&actor, TABLE, "signed_by")).transpose()?,
        actor: read(&row.actor, TABLE, "actor")?,
        at: read(&row.at, TABLE, "at")?,
        reason: row.reason,
        seq: row.seq,
    })
}
