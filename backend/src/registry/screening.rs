//! The screening log: entered, corrected with a reason, signed.

use quietbeam_schema::centre::{EnteredCounts, ScreeningCounts};

use super::{IfMatch, RegistryError, Version, words};
use crate::access::action::{SignScreeningLog, WriteScreeningLog};
use crate::store::{
    ReadsScreening, ScreeningEntry, ScreeningLine, ScreeningRow, Session, StoreError, Writing,
};

/// Counts as a person entered them.
pub struct Entered {
    /// The counts.
    pub counts: EnteredCounts,
    /// Why, for a correction.
    pub reason: Option<String>,
}

/// Enters a line, or corrects the revision that was read.
///
/// # Errors
/// When the counts or the reason must be mended, or the line was changed meanwhile.
pub fn record(
    session: &mut Session<'_, WriteScreeningLog, Writing>,
    line: ScreeningLine,
    if_match: Option<&IfMatch>,
    entered: Entered,
) -> Result<ScreeningRow, RegistryError> {
    let current = session.find_screening(line)?;
    let expected_revision = match (&current, if_match) {
        (None, None) => None,
        (Some(row), Some(if_match)) => {
            if_match.holds(&Version::of_revision(row.revision))?;
            Some(row.revision)
        }
        (Some(_), None) => return Err(RegistryError::VersionNotNamed),
        (None, Some(_)) => return Err(StoreError::Absent("screening line").into()),
    };
    let counts = ScreeningCounts::try_from(entered.counts)
        .map_err(|error| RegistryError::field("/counts", "value", error))?;
    let reason = entered.reason.as_deref().map(words::reason).transpose();
    let reason = reason.map_err(|error| RegistryError::field("/reason", "reason_required", error))?;
    Ok(session.record_screening(ScreeningEntry { line, expected_revision, counts, reason })?)
}

/// Signs the revision that was read.
///
/// # Errors
/// When there is no such line, it was changed meanwhile, or it is signed already.
pub fn sign(
    session: &mut Session<'_, SignScreeningLog, Writing>,
    line: ScreeningLine,
    if_match: &IfMatch,
) -> Result<ScreeningRow, RegistryError> {
    let row = present(session, line)?;
    if_match.holds(&Version::of_revision(row.revision))?;
    Ok(session.sign_screening(line, row.revision)?)
}

fn present<A: ReadsScreening, M>(
    session: &mut Session<'_, A, M>,
    line: ScreeningLine,
) -> Result<ScreeningRow, RegistryError> {
    Ok(session.find_screening(line)?.ok_or(StoreError::Absent("screening line"))?)
}
