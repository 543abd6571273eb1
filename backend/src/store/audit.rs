//! The audit trail. Events are written by the functions that write the data, in the same
//! transaction, and by nobody else.

use diesel::prelude::*;
use quietbeam_schema::audit::{Actor, Deed, Event, Subject};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::instant::Instant;
use serde_json::{Value, json};

use super::connection::{AnyConnection, MultiBackend};
use super::dialect::{ROWS_A_STATEMENT, on_each_engine};
use super::error::{Broken, OpenError, StoreError};
use super::session::{Page, PageRequest, Session, Writing, read, read_json, to_json};
use super::tables::audit_event;
use crate::access::Action;
use crate::access::action::{ReadAudit, ReadHistory};

/// A clock may be set back a little by time synchronisation; more than this is reported.
const TOLERATED_SECONDS: i64 = 60;

/// One line of the trail.
#[derive(Debug, Clone, PartialEq)]
pub struct AuditRow {
    /// Its place; the order of events comes from here, never from the time.
    pub seq: i64,
    /// The server's time.
    pub at: Instant,
    /// Who.
    pub actor: Actor,
    /// As what: a role, `operator` or `none`.
    pub role: String,
    /// What was done, to what, with before, after and reason.
    pub event: Event,
    /// In which request.
    pub request_id: String,
}

/// Which events are wanted.
#[derive(Debug, Clone, Default)]
pub struct AuditFilter {
    /// Only about this kind of subject.
    pub subject: Option<Subject>,
    /// Only about this subject.
    pub subject_id: Option<String>,
    /// Only by this actor.
    pub actor: Option<Actor>,
}

#[derive(Insertable)]
#[diesel(table_name = audit_event, treat_none_as_default_value = false)]
struct NewRow {
    at: String,
    actor: String,
    role: &'static str,
    deed: &'static str,
    subject: &'static str,
    subject_id: String,
    centre: Option<String>,
    revision: Option<i64>,
    before: Option<String>,
    after: Option<String>,
    reason: Option<String>,
    request_id: String,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = audit_event, check_for_backend(MultiBackend))]
struct Row {
    seq: i64,
    at: String,
    actor: String,
    role: String,
    deed: String,
    subject: String,
    subject_id: String,
    centre: Option<String>,
    revision: Option<i64>,
    before: Option<String>,
    after: Option<String>,
    reason: Option<String>,
    request_id: String,
}

/// When the last event was written.
pub(super) fn latest(connection: &mut AnyConnection) -> Result<Option<Instant>, OpenError> {
    let at: Option<String> = audit_event::table
        .select(audit_event::at)
        .order(audit_event::seq.desc())
        .first(connection)
        .optional()?;
    Ok(at.and_then(|text| text.parse().ok()))
}

impl<A: Action> Session<'_, A, Writing> {
    /// Writes one event.
    pub(super) fn record(&mut self, event: Event) -> Result<(), StoreError> {
        let row = self.stamp(event)?;
        diesel::insert_into(audit_event::table).values(row).execute(self.connection)?;
        Ok(())
    }

    /// Writes many events in few statements.
    pub(super) fn record_all(&mut self, events: Vec<Event>) -> Result<(), StoreError> {
        let rows = events.into_iter().map(|event| self.stamp(event)).collect::<Result<Vec<_>, _>>()?;
        for chunk in rows.chunks(ROWS_A_STATEMENT) {
            on_each_engine!(&mut *self.connection, concrete =>
                diesel::insert_into(audit_event::table).values(chunk).execute(concrete))?;
        }
        Ok(())
    }

    /// Notes when the server's clock is found well behind the last write.
    pub(super) fn watch_clock(&mut self, latest: Instant) -> Result<(), StoreError> {
        if self.now().plus_seconds(TOLERATED_SECONDS) >= latest {
            return Ok(());
        }
        let event = Event::new(Deed::ClockWentBack, Subject::Registry, "clock")
            .values(Some(json!({ "at": latest })), Some(json!({ "at": self.now() })));
        self.record(event)
    }

    fn stamp(&self, event: Event) -> Result<NewRow, StoreError> {
        let text = |value: Option<Value>| value.map(|value| to_json(&value)).transpose();
        Ok(NewRow {
            at: self.now().to_string(),
            actor: self.actor().to_string(),
            role: self.permit.role_name(),
            deed: event.deed.name(),
            subject: event.subject.name(),
            subject_id: event.subject_id,
            centre: event.centre.map(|centre| centre.to_string()),
            revision: event.revision,
            before: text(event.before)?,
            after: text(event.after)?,
            reason: event.reason,
            request_id: self.permit.request_id().to_owned(),
        })
    }
}

impl<M> Session<'_, ReadAudit, M> {
    /// The trail, newest first. Values of clinical subjects are left out: who may see them reads
    /// the history of the case instead.
    pub fn list_audit(
        &mut self,
        filter: &AuditFilter,
        page: PageRequest,
    ) -> Result<Page<AuditRow>, StoreError> {
        let mut query = audit_event::table.select(Row::as_select()).into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(audit_event::centre.eq_any(centres));
        }
        if let Some(subject) = filter.subject {
            query = query.filter(audit_event::subject.eq(subject.name()));
        }
        if let Some(id) = &filter.subject_id {
            query = query.filter(audit_event::subject_id.eq(id.clone()));
        }
        if let Some(actor) = filter.actor {
            query = query.filter(audit_event::actor.eq(actor.to_string()));
        }
        if let Some(after) = page.after {
            query = query.filter(audit_event::seq.lt(after));
        }
        let rows: Vec<Row> =
            query.order(audit_event::seq.desc()).limit(page.fetch()).load(self.connection)?;
        page.page(rows, |row| row.seq, |row| read_row(row).map(without_clinical_values))
    }
}

impl<M> Session<'_, ReadHistory, M> {
    /// Everything that was done to one subject, with values.
    pub(super) fn trail_of(&mut self, subject: Subject, id: &str) -> Result<Vec<AuditRow>, StoreError> {
        let mut query = audit_event::table
            .select(Row::as_select())
            .filter(audit_event::subject.eq(subject.name()))
            .filter(audit_event::subject_id.eq(id.to_owned()))
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(audit_event::centre.eq_any(centres));
        }
        let rows: Vec<Row> = query.order(audit_event::seq.asc()).load(self.connection)?;
        rows.into_iter().map(read_row).collect()
    }
}

fn without_clinical_values(row: AuditRow) -> AuditRow {
    if row.event.subject.is_clinical() {
        AuditRow { event: row.event.values(None, None), ..row }
    } else {
        row
    }
}

fn read_row(row: Row) -> Result<AuditRow, StoreError> {
    const TABLE: &str = "audit_event";
    let unreadable = |column| Broken::Unreadable { table: TABLE, column };
    let json = |text: Option<String>, column| text.map(|text| read_json(&text, TABLE, column)).transpose();
    let centre: Option<CentreCode> = row.centre.map(|code| read(&code, TABLE, "centre")).transpose()?;
    Ok(AuditRow {
        seq: row.seq,
        at: read(&row.at, TABLE, "at")?,
        actor: read(&row.actor, TABLE, "actor")?,
        role: row.role,
        event: Event {
            deed: Deed::from_name(&row.deed).ok_or_else(|| unreadable("deed"))?,
            subject: Subject::from_name(&row.subject).ok_or_else(|| unreadable("subject"))?,
            subject_id: row.subject_id,
            centre,
            revision: row.revision,
            before: json(row.before, "before")?,
            after: json(row.after, "after")?,
            reason: row.reason,
        },
        request_id: row.request_id,
    })
}
