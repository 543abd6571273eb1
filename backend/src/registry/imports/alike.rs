//! Rows that may be a case the registry has already, or the file twice: same quarter, age
//! band, sex, procedure and times. Two patients can be like that, so it only asks to look.

use quietbeam_schema::ids::{CaseCode, CentreCode};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::{BTreeSet, HashMap};

use crate::access::action::ImportFiles;
use crate::registry::RegistryError;
use crate::registry::cases::Ready;
use crate::store::Session;

/// Told one by one; beyond these only their number is.
const MOST_TOLD: usize = 200;

/// A row that may be there twice.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PossibleDuplicate {
    /// The row of the cases file.
    pub row: u64,
    /// What it is like.
    pub like: Like,
}

/// What a row is like.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Like {
    /// An earlier row of the same file.
    Row(u64),
    /// A stored case of the same centre.
    Case(CaseCode),
}

/// What was seen so far.
#[derive(Default)]
pub(super) struct Alike {
    periods: BTreeSet<String>,
    seen: HashMap<String, Like>,
    pub(super) told: Vec<PossibleDuplicate>,
}

/// What a record says of the points that are compared.
#[derive(Deserialize)]
struct Points {
    period: Value,
    age_band: Value,
    sex: Value,
    proc_primary: Value,
    skin_to_skin_min: Value,
    #[serde(default)]
    rf_time_s: Value,
}

impl Points {
    /// `None` for a record without a time: too much is like it.
    fn of(record: &str) -> Option<(String, String)> {
        let points: Self = serde_json::from_str(record).ok()?;
        points.skin_to_skin_min.is_number().then_some(())?;
        let Self { period, age_band, sex, proc_primary, skin_to_skin_min, rf_time_s } = points;
        let key = format!("{period} {age_band} {sex} {proc_primary} {skin_to_skin_min} {rf_time_s}");
        Some((period.as_str()?.to_owned(), key))
    }
}

impl Alike {
    /// Whether a new row is like another; stored cases of its quarter are read once.
    pub(super) fn look<M>(
        &mut self,
        session: &mut Session<'_, ImportFiles, M>,
        centre: CentreCode,
        row: u64,
        ready: &Ready,
    ) -> Result<bool, RegistryError> {
        let Some((period, key)) = Points::of(&ready.content().record) else { return Ok(false) };
        if self.periods.insert(period.clone()) {
            for (code, record) in session.records_of_period(centre, &period)? {
                if let Some((_, key)) = Points::of(&record) {
                    self.seen.entry(key).or_insert(Like::Case(code));
                }
            }
        }
        let Some(like) = self.seen.get(&key).cloned() else {
            self.seen.insert(key, Like::Row(row));
            return Ok(false);
        };
        if self.told.len() < MOST_TOLD {
            self.told.push(PossibleDuplicate { row, like });
        }
        Ok(true)
    }
}
