//! The region of each centre as it stood when a cut was taken. A centre may get another region, so
//! this is read from the trail, which does not change: a summary of the cut counts for ever alike.

use diesel::prelude::*;
use quietbeam_schema::audit::{Deed, Subject};
use quietbeam_schema::ids::CentreCode;
use serde::Deserialize;
use std::collections::BTreeMap;

use super::cuts::{DataCut, ReadsCuts};
use super::error::StoreError;
use super::session::{Session, read, read_json};
use super::tables::audit_event;

/// What the trail keeps of a centre, so far as it is asked here.
#[derive(Deserialize)]
struct Kept {
    region: Option<String>,
}

impl<A: ReadsCuts, M> Session<'_, A, M> {
    /// The centres that had a region.
    pub fn regions_at(&mut self, cut: &DataCut) -> Result<BTreeMap<CentreCode, String>, StoreError> {
        const TABLE: &str = "audit_event";
        let taken = self.trail_until(cut)?;
        let deeds = [Deed::CentreCreated, Deed::CentreChanged].map(Deed::name);
        let steps: Vec<(String, Option<String>)> = audit_event::table
            .select((audit_event::subject_id, audit_event::after))
            .filter(audit_event::subject.eq(Subject::Centre.name()))
            .filter(audit_event::deed.eq_any(deeds))
            .filter(audit_event::seq.lt(taken))
            .order(audit_event::seq.asc())
            .load(self.connection)?;
        let mut regions = BTreeMap::new();
        for (centre, after) in steps {
            let centre: CentreCode = read(&centre, TABLE, "subject_id")?;
            let kept: Option<Kept> =
                after.as_deref().map(|after| read_json(after, TABLE, "after")).transpose()?;
            // Of several steps the last one stays.
            match kept.and_then(|kept| kept.region) {
                Some(region) => regions.insert(centre, region.trim().to_owned()),
                None => regions.remove(&centre),
            };
        }
        Ok(regions)
    }
}
