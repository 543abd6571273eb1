//! The notes of what was taken out of the registry.

use quietbeam_schema::audit::{Deed, Event, Subject};
use quietbeam_schema::ids::CentreCode;
use serde_json::Value;

use super::error::StoreError;
use super::session::{Session, Writing};
use crate::access::action::ExportCases;

impl Session<'_, ExportCases, Writing> {
    /// Notes that cases of a centre were taken out: how many, how written, which.
    pub fn note_export(&mut self, centre: CentreCode, what: Value) -> Result<(), StoreError> {
        self.within(centre)?;
        let event = Event::new(Deed::CasesExported, Subject::Centre, centre).at_centre(centre);
        self.record(event.values(None, Some(what)))
    }
}
