//! The notes of what was taken out of the registry.

use quietbeam_schema::audit::{Deed, Event, Subject};
use quietbeam_schema::ids::{CentreCode, DataCutId};
use serde_json::Value;

use super::error::StoreError;
use super::session::{Session, Writing, hex};
use crate::access::action::{ExportCases, ExportDeidentified};

impl Session<'_, ExportCases, Writing> {
    /// Notes that cases of a centre were taken out: how many, how written, which.
    pub fn note_export(&mut self, centre: CentreCode, what: Value) -> Result<(), StoreError> {
        self.within(centre)?;
        let event = Event::new(Deed::CasesExported, Subject::Centre, centre).at_centre(centre);
        self.record(event.values(None, Some(what)))
    }
}

impl<M> Session<'_, ExportDeidentified, M> {
    /// Random marks for the rows of one file.
    pub fn marks(&self) -> impl FnMut() -> Result<String, StoreError> + use<M> {
        let randomness = self.randomness.clone();
        move || Ok(hex(&randomness.bytes::<8>()?))
    }
}

impl Session<'_, ExportDeidentified, Writing> {
    /// Notes that rows of a cut were taken out: how many, for whom.
    pub fn note_rows(&mut self, cut: DataCutId, what: Value) -> Result<(), StoreError> {
        self.record(Event::new(Deed::RowsExported, Subject::DataCut, cut).values(None, Some(what)))
    }
}
