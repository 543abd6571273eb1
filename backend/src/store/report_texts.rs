//! What people write into the report of a comparison: a chain of versions for each item of its
//! checklist.

use diesel::prelude::*;
use quietbeam_schema::audit::{Actor, Deed, Event, Subject};
use quietbeam_schema::ids::ComparisonId;
use quietbeam_schema::instant::Instant;
use serde_json::json;
use std::collections::BTreeMap;

use super::comparisons::ReadsComparisons;
use super::error::{StoreError, overtaken};
use super::session::{Session, Writing, read};
use super::tables::report_text;
use crate::access::action::WriteReport;

/// The newest version of what stands under an item.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReportText {
    /// Counted from 1.
    pub version: i64,
    /// The text; blank where it was taken back.
    pub text: String,
    /// Who wrote it.
    pub actor: Actor,
    /// When.
    pub at: Instant,
}

/// A further version of an item's text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewReportText {
    /// The comparison.
    pub comparison: ComparisonId,
    /// The item's number.
    pub item: u8,
    /// What stood there, as it was read.
    pub before: Option<ReportText>,
    /// What stands there now.
    pub text: String,
}

impl<A: ReadsComparisons, M> Session<'_, A, M> {
    /// What stands in the report of a comparison, by the numbers of the items.
    pub fn report_texts(
        &mut self,
        comparison: ComparisonId,
    ) -> Result<BTreeMap<i64, ReportText>, StoreError> {
        const TABLE: &str = "report_text";
        let rows: Vec<(i64, i64, String, String, String)> = report_text::table
            .select((
                report_text::item,
                report_text::version,
                report_text::text,
                report_text::actor,
                report_text::at,
            ))
            .filter(report_text::comparison.eq(comparison.to_string()))
            .order((report_text::item.asc(), report_text::version.asc()))
            .load(self.connection)?;
        let row = |(item, version, text, actor, at): (i64, i64, String, String, String)| {
            let (actor, at) = (read(&actor, TABLE, "actor")?, read(&at, TABLE, "at")?);
            Ok((item, ReportText { version, text, actor, at }))
        };
        // Of several versions the last one stays.
        rows.into_iter().map(row).collect()
    }
}

impl Session<'_, WriteReport, Writing> {
    /// Writes a further version.
    pub fn write_report_text(&mut self, new: NewReportText) -> Result<ReportText, StoreError> {
        let NewReportText { comparison, item, before, text } = new;
        let read = before.as_ref().map_or(0, |before| before.version);
        let written = ReportText { version: read + 1, text, actor: self.actor(), at: self.now() };
        diesel::insert_into(report_text::table)
            .values((
                report_text::comparison.eq(comparison.to_string()),
                report_text::item.eq(i64::from(item)),
                report_text::version.eq(written.version),
                report_text::text.eq(written.text.clone()),
                report_text::actor.eq(written.actor.to_string()),
                report_text::at.eq(written.at.to_string()),
            ))
            .execute(self.connection)
            .map_err(StoreError::from)
            .map_err(overtaken(read))?;
        let values = |text: &str| json!({ "item": item, "text": text });
        let event = Event::new(Deed::ReportWritten, Subject::Comparison, comparison)
            .revision(written.version)
            .values(before.map(|before| values(&before.text)), Some(values(&written.text)));
        self.record(event)?;
        Ok(written)
    }
}
