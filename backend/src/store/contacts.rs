//! Cases whose 30-day status is not known yet, and those that may wait for a later contact.

use diesel::prelude::*;
use quietbeam_schema::ids::{CaseCode, CentreCode};
use quietbeam_schema::instant::Instant;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::value::FieldValue;

use super::error::{Broken, StoreError};
use super::session::{Session, read};
use super::tables::case_revision;
use crate::access::action::ReadCase;

/// A case that waits for a contact.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Awaiting {
    /// The case.
    pub code: CaseCode,
    /// Its centre.
    pub centre: CentreCode,
    /// Its quarter.
    pub period: Quarter,
    /// The code of the procedure.
    pub procedure: String,
    /// The code of the intended strategy.
    pub strategy_intended: String,
    /// When the case was first sent in.
    pub entered: Instant,
    /// The revision that is current.
    pub revision: i64,
}

// Within a text these would have their quotation marks escaped, so they are found only where
// the record itself has the key.
const FOLLOWED: &str = "%\"follow_up\":{%";
const PENDING: &str = "%\"fu30_status\":\"pending\"%";

/// What a record says where nobody is asked about the patient any more.
const SETTLED: [&str; 6] = [
    "%\"death\":\"yes\"%",
    "%\"fu30_status\":\"dead\"%",
    "%\"fu30_status\":\"withdrawn\"%",
    "%\"fu_late_status\":\"lost\"%",
    "%\"fu_late_status\":\"dead\"%",
    "%\"fu_late_status\":\"withdrawn\"%",
];

/// The columns of [`Columns`].
const COLUMNS: (
    case_revision::code,
    case_revision::centre,
    case_revision::period,
    case_revision::procedure,
    case_revision::strategy_intended,
    case_revision::revision,
) = (
    case_revision::code,
    case_revision::centre,
    case_revision::period,
    case_revision::procedure,
    case_revision::strategy_intended,
    case_revision::revision,
);

type Columns = (String, String, String, String, String, i64);

impl<M> Session<'_, ReadCase, M> {
    /// The current cases whose 30-day status is known and whose late follow-up may be to come,
    /// with their records.
    pub fn followed_once(&mut self) -> Result<Vec<(Awaiting, String)>, StoreError> {
        let mut query = case_revision::table
            .select((COLUMNS, case_revision::record))
            .filter(case_revision::superseded_by_seq.is_null())
            .filter(case_revision::record.like(FOLLOWED).and(case_revision::record.not_like(PENDING)))
            .into_boxed();
        for settled in SETTLED {
            query = query.filter(case_revision::record.not_like(settled));
        }
        if let Some(centres) = self.centres() {
            query = query.filter(case_revision::centre.eq_any(centres));
        }
        let rows: Vec<(Columns, String)> = query.order(case_revision::seq.asc()).load(self.connection)?;
        let entered = self.first_entries()?;
        rows.into_iter()
            .filter_map(|(row, record)| {
                let at = entered.get(&row.0)?;
                Some(read_row(row, *at).map(|case| (case, record)))
            })
            .collect()
    }

    /// The current cases that have no follow-up, or one in which the 30-day status is pending.
    pub fn awaiting_contact(&mut self) -> Result<Vec<Awaiting>, StoreError> {
        let mut query = case_revision::table
            .select(COLUMNS)
            .filter(case_revision::superseded_by_seq.is_null())
            .filter(case_revision::record.not_like(FOLLOWED).or(case_revision::record.like(PENDING)))
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(case_revision::centre.eq_any(centres));
        }
        let rows: Vec<Columns> = query.order(case_revision::seq.asc()).load(self.connection)?;
        let entered = self.first_entries()?;
        rows.into_iter()
            .filter_map(|row| {
                let at = entered.get(&row.0)?;
                Some(read_row(row, *at))
            })
            .collect()
    }

    fn first_entries(&mut self) -> Result<std::collections::HashMap<String, Instant>, StoreError> {
        let mut query = case_revision::table
            .select((case_revision::code, case_revision::at))
            .filter(case_revision::revision.eq(1))
            .into_boxed();
        if let Some(centres) = self.centres() {
            query = query.filter(case_revision::centre.eq_any(centres));
        }
        let rows: Vec<(String, String)> = query.load(self.connection)?;
        rows.into_iter().map(|(code, at)| Ok((code, read(&at, "case_revision", "at")?))).collect()
    }
}

fn read_row(row: Columns, entered: Instant) -> Result<Awaiting, StoreError> {
    const TABLE: &str = "case_revision";
    let (code, centre, period, procedure, strategy_intended, revision) = row;
    Ok(Awaiting {
        code: read(&code, TABLE, "code")?,
        centre: read(&centre, TABLE, "centre")?,
        period: Quarter::parse(&period).map_err(|_| Broken::Unreadable { table: TABLE, column: "period" })?,
        procedure,
        strategy_intended,
        entered,
        revision,
    })
}
