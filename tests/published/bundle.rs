//! Three files of one centre, sent once or again.

use std::sync::Arc;

use quietbeam::access::Permit;
use quietbeam::intake::{FileKind, Files};
use quietbeam::registry::imports::{Outcome, Request, Wanted, import};
use quietbeam_schema::ids::CentreCode;
use quietbeam_tests::registry::Registry;
use serde_json::Value;

use crate::sheet::{bytes, sheet};

/// Rows of the three files.
#[derive(Default, Clone)]
pub(crate) struct Bundle {
    pub(crate) cases: Vec<Value>,
    pub(crate) complications: Vec<Value>,
    pub(crate) follow_ups: Vec<Value>,
}

impl Bundle {
    /// Cases as JSON, each with its code, taken apart into the three files.
    pub(crate) fn of_records(records: impl IntoIterator<Item = (String, Value)>) -> Self {
        let mut bundle = Self::default();
        for (code, mut case) in records {
            let fields = case.as_object_mut().unwrap();
            fields.insert("case_code".to_owned(), Value::from(code.clone()));
            let tagged = |mut part: Value| {
                part.as_object_mut().unwrap().insert("case_code".to_owned(), Value::from(code.clone()));
                part
            };
            if let Some(Value::Array(events)) = fields.remove("complications") {
                bundle.complications.extend(events.into_iter().map(tagged));
            }
            if let Some(seen) = fields.remove("follow_up") {
                bundle.follow_ups.push(tagged(seen));
            }
            bundle.cases.push(case);
        }
        bundle
    }

    /// Sends the files.
    pub(crate) fn send(&self, registry: &Registry, centre: CentreCode, wanted: Wanted) -> Outcome {
        let mut files = Files::default();
        for (kind, rows) in [
            (FileKind::Cases, &self.cases),
            (FileKind::Complications, &self.complications),
            (FileKind::FollowUps, &self.follow_ups),
        ] {
            if !rows.is_empty() {
                files.put(kind, bytes(sheet(kind, rows)));
            }
        }
        let request = Request { centre, files, wanted, progress: Arc::new(|_| {}) };
        let permit = || Permit::for_operator("test");
        import(&registry.store, permit(), permit(), request).unwrap()
    }
}
