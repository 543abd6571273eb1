//! Centres and their rooms.

use diesel::prelude::*;
use quietbeam_schema::audit::{Deed, Event, Subject};
use quietbeam_schema::centre::{Centre, Room};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::value::FieldValue;
use quietbeam_schema::vocabulary::Coded;
use serde_json::json;

use super::error::{Broken, StoreError, taken};
use super::session::{Session, Writing, read, read_json, to_json};
use super::tables::{centre, room};
use crate::access::Action;
use crate::access::action::{
    ExportCases, ImportFiles, ManageCentres, ManageMembers, ReadCase, ReadCentres, ReadOwnPicture,
    SubmitCase, WatchSafety,
};

/// The permits that see centres and rooms.
pub trait ReadsCentres: Action {}
impl ReadsCentres for ReadCentres {}
impl ReadsCentres for ManageCentres {}
impl ReadsCentres for ManageMembers {}
impl ReadsCentres for SubmitCase {}
impl ReadsCentres for ImportFiles {}
impl ReadsCentres for ReadCase {}
impl ReadsCentres for ReadOwnPicture {}
impl ReadsCentres for WatchSafety {}
impl ReadsCentres for ExportCases {}

/// The columns of [`CentreTuple`].
const CENTRE: (
    centre::code,
    centre::name,
    centre::region,
    centre::kind,
    centre::annual_volume,
    centre::zero_fluoroscopy_since,
) = (
    centre::code,
    centre::name,
    centre::region,
    centre::kind,
    centre::annual_volume,
    centre::zero_fluoroscopy_since,
);

type CentreTuple = (String, String, Option<String>, String, String, Option<String>);

impl<A: ReadsCentres, M> Session<'_, A, M> {
    /// The centres within reach, in the order of their codes.
    pub fn list_centres(&mut self) -> Result<Vec<Centre>, StoreError> {
        let mut query = centre::table.select(CENTRE).into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(centre::code.eq_any(centres));
        }
        let rows: Vec<CentreTuple> = query.order(centre::code.asc()).load(self.connection)?;
        rows.into_iter().map(read_centre).collect()
    }

    /// One centre.
    pub fn find_centre(&mut self, code: CentreCode) -> Result<Centre, StoreError> {
        self.within(code)?;
        let row: Option<CentreTuple> = centre::table
            .select(CENTRE)
            .filter(centre::code.eq(code.to_string()))
            .first(self.connection)
            .optional()?;
        row.map_or(Err(StoreError::Absent("centre")), read_centre)
    }

    /// The rooms of a centre.
    pub fn list_rooms(&mut self, code: CentreCode) -> Result<Vec<Room>, StoreError> {
        self.within(code)?;
        let rows: Vec<String> = room::table
            .select(room::definition)
            .filter(room::centre.eq(code.to_string()))
            .order(room::code.asc())
            .load(self.connection)?;
        rows.iter().map(|text| read_json(text, "room", "definition")).collect()
    }
}

impl Session<'_, ManageCentres, Writing> {
    /// Creates a centre. The caller has checked it with [`Centre::check`].
    pub fn create_centre(&mut self, new: &Centre) -> Result<(), StoreError> {
        diesel::insert_into(centre::table)
            .values((
                centre::code.eq(new.code.to_string()),
                centre::name.eq(new.name.clone()),
                centre::region.eq(new.region.clone()),
                centre::kind.eq(new.kind.code()),
                centre::annual_volume.eq(new.annual_volume.code()),
                centre::zero_fluoroscopy_since
                    .eq(new.zero_fluoroscopy_since.map(|quarter| quarter.to_string())),
                centre::created_at.eq(self.now().to_string()),
            ))
            .execute(self.connection)
            .map_err(taken("code"))?;
        self.record(
            Event::new(Deed::CentreCreated, Subject::Centre, new.code)
                .at_centre(new.code)
                .values(None, Some(json!(new))),
        )
    }

    /// Changes name, region, kind or volume of a centre.
    pub fn change_centre(&mut self, new: &Centre) -> Result<(), StoreError> {
        let old = self.find_centre(new.code)?;
        diesel::update(centre::table)
            .filter(centre::code.eq(new.code.to_string()))
            .set((
                centre::name.eq(new.name.clone()),
                centre::region.eq(new.region.clone()),
                centre::kind.eq(new.kind.code()),
                centre::annual_volume.eq(new.annual_volume.code()),
                centre::zero_fluoroscopy_since
                    .eq(new.zero_fluoroscopy_since.map(|quarter| quarter.to_string())),
            ))
            .execute(self.connection)?;
        self.record(
            Event::new(Deed::CentreChanged, Subject::Centre, new.code)
                .at_centre(new.code)
                .values(Some(json!(old)), Some(json!(new))),
        )
    }

    /// Enters a room, or what changed in it. The caller has checked it with [`Room::check`].
    pub fn record_room(&mut self, code: CentreCode, new: &Room) -> Result<(), StoreError> {
        self.find_centre(code)?;
        let old = self.list_rooms(code)?.into_iter().find(|room| room.code == new.code);
        let (definition, now) = (to_json(new)?, self.now().to_string());
        if old.is_some() {
            diesel::update(room::table)
                .filter(room::centre.eq(code.to_string()))
                .filter(room::code.eq(new.code.to_string()))
                .set((room::definition.eq(definition), room::recorded_at.eq(now)))
                .execute(self.connection)?;
        } else {
            diesel::insert_into(room::table)
                .values((
                    room::centre.eq(code.to_string()),
                    room::code.eq(new.code.to_string()),
                    room::definition.eq(definition),
                    room::recorded_at.eq(now),
                ))
                .execute(self.connection)?;
        }
        self.record(
            Event::new(Deed::RoomRecorded, Subject::Room, format!("{code}/{}", new.code))
                .at_centre(code)
                .values(old.map(|room| json!(room)), Some(json!(new))),
        )
    }
}

fn read_centre(row: CentreTuple) -> Result<Centre, StoreError> {
    let (code, name, region, kind, annual_volume, since) = row;
    Ok(Centre {
        code: read(&code, "centre", "code")?,
        name,
        region,
        kind: read_code(&kind, "kind")?,
        annual_volume: read_code(&annual_volume, "annual_volume")?,
        zero_fluoroscopy_since: since.as_deref().map(read_quarter).transpose()?,
    })
}

fn read_quarter(text: &str) -> Result<Quarter, StoreError> {
    let unreadable = |_| Broken::Unreadable { table: "centre", column: "zero_fluoroscopy_since" };
    Ok(Quarter::parse(text).map_err(unreadable)?)
}

fn read_code<T: Coded>(code: &str, column: &'static str) -> Result<T, StoreError> {
    T::from_code(code).ok_or_else(|| Broken::Unreadable { table: "centre", column }.into())
}
