//! Receipts of imports, so that the same files again change nothing and say so.

use diesel::prelude::*;
use quietbeam_schema::audit::{Actor, Deed, Event, Subject};
use quietbeam_schema::ids::{CaseCode, CentreCode, ImportId};
use quietbeam_schema::instant::Instant;
use serde_json::{Value, json};

use super::connection::MultiBackend;
use super::error::{StoreError, taken};
use super::session::{Session, Writing, read, read_json, to_json};
use super::tables::{case_revision, import_receipt};
use crate::access::action::ImportFiles;

/// The receipt of one import.
#[derive(Debug, Clone, PartialEq)]
pub struct Receipt {
    /// Its identifier.
    pub id: ImportId,
    /// The centre.
    pub centre: CentreCode,
    /// SHA-256 over the files.
    pub files_hash: String,
    /// Who imported.
    pub actor: Actor,
    /// When.
    pub at: Instant,
    /// Counts, and the codes issued for rows without one.
    pub content: Value,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = import_receipt, check_for_backend(MultiBackend))]
struct Row {
    id: String,
    centre: String,
    files_hash: String,
    actor: String,
    at: String,
    content: String,
}

impl<M> Session<'_, ImportFiles, M> {
    /// The receipt of these very files, if the centre imported them before.
    pub fn find_receipt(
        &mut self,
        centre: CentreCode,
        files_hash: &str,
    ) -> Result<Option<Receipt>, StoreError> {
        self.within(centre)?;
        let row: Option<Row> = import_receipt::table
            .select(Row::as_select())
            .filter(import_receipt::centre.eq(centre.to_string()))
            .filter(import_receipt::files_hash.eq(files_hash.to_owned()))
            .first(self.connection)
            .optional()?;
        row.map(read_row).transpose()
    }

    /// The current records of one centre and period, to look for cases that come twice.
    pub fn records_of_period(
        &mut self,
        centre: CentreCode,
        period: &str,
    ) -> Result<Vec<(CaseCode, String)>, StoreError> {
        self.within(centre)?;
        let rows: Vec<(String, String)> = case_revision::table
            .select((case_revision::code, case_revision::record))
            .filter(case_revision::centre.eq(centre.to_string()))
            .filter(case_revision::period.eq(period.to_owned()))
            .filter(case_revision::superseded_by_seq.is_null())
            .order(case_revision::seq.asc())
            .load(self.connection)?;
        rows.into_iter().map(|(code, record)| Ok((read(&code, "case_revision", "code")?, record))).collect()
    }

    /// One receipt.
    pub fn receipt(&mut self, id: ImportId) -> Result<Receipt, StoreError> {
        let mut query = import_receipt::table
            .select(Row::as_select())
            .filter(import_receipt::id.eq(id.to_string()))
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(import_receipt::centre.eq_any(centres));
        }
        let row: Option<Row> = query.first(self.connection).optional()?;
        read_row(row.ok_or(StoreError::Absent("receipt"))?)
    }

    /// The receipts of the centres within reach, newest first.
    pub fn list_receipts(&mut self) -> Result<Vec<Receipt>, StoreError> {
        let mut query = import_receipt::table.select(Row::as_select()).into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(import_receipt::centre.eq_any(centres));
        }
        let rows: Vec<Row> = query.order(import_receipt::id.desc()).limit(200).load(self.connection)?;
        rows.into_iter().map(read_row).collect()
    }
}

impl Session<'_, ImportFiles, Writing> {
    /// Keeps the receipt of an import together with what it imported.
    pub fn keep_receipt(
        &mut self,
        centre: CentreCode,
        files_hash: &str,
        content: Value,
    ) -> Result<Receipt, StoreError> {
        self.within(centre)?;
        let receipt = Receipt {
            id: self.new_id(ImportId::from_random)?,
            centre,
            files_hash: files_hash.to_owned(),
            actor: self.actor(),
            at: self.now(),
            content,
        };
        diesel::insert_into(import_receipt::table)
            .values((
                import_receipt::id.eq(receipt.id.to_string()),
                import_receipt::centre.eq(centre.to_string()),
                import_receipt::files_hash.eq(receipt.files_hash.clone()),
                import_receipt::actor.eq(receipt.actor.to_string()),
                import_receipt::at.eq(receipt.at.to_string()),
                import_receipt::content.eq(to_json(&receipt.content)?),
            ))
            .execute(self.connection)
            .map_err(taken("files"))?;
        let event = Event::new(Deed::FilesImported, Subject::Import, receipt.id)
            .at_centre(centre)
            .values(None, Some(json!({ "files_hash": files_hash })));
        self.record(event)?;
        Ok(receipt)
    }
}

fn read_row(row: Row) -> Result<Receipt, StoreError> {
    const TABLE: &str = "import_receipt";
    Ok(Receipt {
        id: read(&row.id, TABLE, "id")?,
        centre: read(&row.centre, TABLE, "centre")?,
        files_hash: row.files_hash,
        actor: read(&row.actor, TABLE, "actor")?,
        at: read(&row.at, TABLE, "at")?,
        content: read_json(&row.content, TABLE, "content")?,
    })
}
