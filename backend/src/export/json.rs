//! The records as the API shows them, one a line. When a revision was written stands in the
//! audit trail and never goes out with a case.

use quietbeam_schema::codebook::FORM_VERSION;
use quietbeam_schema::ids::{CaseCode, CentreCode};
use serde::Serialize;
use serde_json::Value;
use std::fs::File;
use std::io::{BufWriter, Write};

use super::ExportError;
use crate::store::CaseRow;

#[derive(Serialize)]
struct Case<'a> {
    code: CaseCode,
    centre: CentreCode,
    revision: i64,
    form_version: &'a str,
    record: Value,
}

pub(super) struct Json {
    out: BufWriter<File>,
    any: bool,
}

impl Json {
    pub(super) fn new() -> Result<Self, ExportError> {
        let mut out = BufWriter::new(tempfile::tempfile()?);
        write!(out, "{{\"form_version\":\"{FORM_VERSION}\",\"items\":[")?;
        Ok(Self { out, any: false })
    }

    pub(super) fn push(&mut self, case: &CaseRow) -> Result<(), ExportError> {
        self.out.write_all(if self.any { b",\n" } else { b"\n" })?;
        self.any = true;
        let record = serde_json::from_str(&case.content.record).map_err(|_| ExportError::Unreadable)?;
        let view = Case {
            code: case.code,
            centre: case.centre,
            revision: case.revision,
            form_version: &case.content.form_version,
            record,
        };
        Ok(serde_json::to_writer(&mut self.out, &view)?)
    }

    pub(super) fn finish(mut self) -> Result<File, ExportError> {
        self.out.write_all(b"\n]}\n")?;
        self.out.into_inner().map_err(|error| ExportError::Disk(error.into_error()))
    }
}
