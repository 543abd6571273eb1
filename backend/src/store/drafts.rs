//! Cases that are being entered. A draft is not the record: it is saved over, it is in no cut
//! and no export, and it is gone once it is sent in or thrown away.

use diesel::prelude::*;
use quietbeam_schema::audit::{Actor, Deed, Event, Subject};
use quietbeam_schema::ids::{CaseCode, CentreCode, DraftId};
use quietbeam_schema::instant::Instant;
use serde_json::json;

use super::connection::MultiBackend;
use super::error::{Conflict, StoreError};
use super::session::{Session, Writing, read};
use super::tables::case_draft;
use crate::access::action::SubmitCase;

/// A draft as it was last saved.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DraftRow {
    /// Which.
    pub id: DraftId,
    /// The centre whose case it will be.
    pub centre: CentreCode,
    /// Counted from 1; every save adds one.
    pub version: i64,
    /// What was entered, as JSON.
    pub entries: String,
    /// When it was begun.
    pub begun_at: Instant,
    /// Who saved it last.
    pub saved_by: Actor,
    /// When.
    pub saved_at: Instant,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = case_draft, check_for_backend(MultiBackend))]
struct Row {
    id: String,
    centre: String,
    version: i64,
    entries: String,
    begun_at: String,
    saved_by: String,
    saved_at: String,
}

/// The most drafts that a list shows.
const LISTED: i64 = 200;

impl<M> Session<'_, SubmitCase, M> {
    /// The drafts of all centres within reach, the longest waiting first.
    pub fn list_drafts(&mut self) -> Result<Vec<DraftRow>, StoreError> {
        let mut query = case_draft::table.select(Row::as_select()).into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(case_draft::centre.eq_any(centres));
        }
        let rows: Vec<Row> = query.order(case_draft::id.asc()).limit(LISTED).load(self.connection)?;
        rows.into_iter().map(read_row).collect()
    }

    /// One draft.
    pub fn draft(&mut self, id: DraftId) -> Result<DraftRow, StoreError> {
        let mut query =
            case_draft::table.select(Row::as_select()).filter(case_draft::id.eq(id.to_string())).into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(case_draft::centre.eq_any(centres));
        }
        let row: Option<Row> = query.first(self.connection).optional()?;
        read_row(row.ok_or(StoreError::Absent("draft"))?)
    }
}

impl Session<'_, SubmitCase, Writing> {
    /// Begins a draft at a centre.
    pub fn begin_draft(&mut self, centre: CentreCode, entries: &str) -> Result<DraftId, StoreError> {
        self.within(centre)?;
        let id = self.new_id(DraftId::from_random)?;
        let (actor, now) = (self.actor().to_string(), self.now().to_string());
        diesel::insert_into(case_draft::table)
            .values((
                case_draft::id.eq(id.to_string()),
                case_draft::centre.eq(centre.to_string()),
                case_draft::version.eq(1),
                case_draft::entries.eq(entries),
                case_draft::begun_at.eq(&now),
                case_draft::saved_by.eq(&actor),
                case_draft::saved_at.eq(&now),
            ))
            .execute(self.connection)?;
        self.record(Event::new(Deed::DraftBegun, Subject::Draft, id).at_centre(centre))?;
        Ok(id)
    }

    /// Saves a draft over the version that its author looked at.
    pub fn save_draft(&mut self, id: DraftId, version: i64, entries: &str) -> Result<DraftRow, StoreError> {
        let current = self.draft(id)?;
        let saved = diesel::update(case_draft::table)
            .filter(case_draft::id.eq(id.to_string()))
            .filter(case_draft::version.eq(version))
            .set((
                case_draft::version.eq(version + 1),
                case_draft::entries.eq(entries),
                case_draft::saved_by.eq(self.actor().to_string()),
                case_draft::saved_at.eq(self.now().to_string()),
            ))
            .execute(self.connection)?;
        if saved != 1 {
            return Err(Conflict::StaleRevision { expected: version, current: current.version }.into());
        }
        self.draft(id)
    }

    /// Keeps in the trail of the case when its intended strategy was entered.
    pub fn keep_declaration(
        &mut self,
        (code, centre): (CaseCode, CentreCode),
        strategy: &str,
        entered_at: Instant,
    ) -> Result<(), StoreError> {
        let said = json!({ "strategy_intended": strategy, "entered_at": entered_at });
        let event = Event::new(Deed::StrategyDeclared, Subject::Case, code);
        self.record(event.at_centre(centre).values(None, Some(said)))
    }

    /// Ends a draft: it was sent in or thrown away.
    pub fn end_draft(&mut self, id: DraftId, deed: Deed) -> Result<(), StoreError> {
        let draft = self.draft(id)?;
        let gone = diesel::delete(case_draft::table)
            .filter(case_draft::id.eq(id.to_string()))
            .execute(self.connection)?;
        if gone != 1 {
            return Err(Conflict::Race.into());
        }
        self.record(Event::new(deed, Subject::Draft, id).at_centre(draft.centre))
    }
}

fn read_row(row: Row) -> Result<DraftRow, StoreError> {
    const TABLE: &str = "case_draft";
    Ok(DraftRow {
        id: read(&row.id, TABLE, "id")?,
        centre: read(&row.centre, TABLE, "centre")?,
        version: row.version,
        entries: row.entries,
        begun_at: read(&row.begun_at, TABLE, "begun_at")?,
        saved_by: read(&row.saved_by, TABLE, "saved_by")?,
        saved_at: read(&row.saved_at, TABLE, "saved_at")?,
    })
}
