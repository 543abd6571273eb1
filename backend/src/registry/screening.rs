//! The screening log: entered, corrected with a reason, signed.

use std::collections::BTreeMap;

use quietbeam_schema::centre::{EnteredCounts, ScreeningCounts, ScreeningError};
use quietbeam_schema::ids::CentreCode;
use quietbeam_schema::period::Quarter;
use quietbeam_schema::vocabulary::{ExclusionReason, ProcedureGroup};

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
        .map_err(|error| RegistryError::field(field_of(&error), "value", error))?;
    let reason = entered.reason.as_deref().map(words::reason).transpose();
    let reason = reason.map_err(|error| RegistryError::field("/reason", "reason_required", error))?;
    Ok(session.record_screening(ScreeningEntry { line, expected_revision, counts, reason })?)
}

fn field_of(error: &ScreeningError) -> &'static str {
    match error {
        ScreeningError::TooMany { .. } => "/counts/performed",
        ScreeningError::EligibleAbovePerformed { .. } => "/counts/eligible",
        ScreeningError::SubmittedAboveEligible { .. } => "/counts/submitted",
        ScreeningError::ReasonsDoNotAddUp { .. } => "/counts/excluded",
    }
}

/// What a person counts. What was sent in is counted by the registry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Counted {
    /// Procedures performed.
    pub performed: u32,
    /// Those that met the protocol.
    pub eligible: u32,
    /// Those not sent in, by reason.
    pub excluded: BTreeMap<ExclusionReason, u32>,
    /// Why, for a correction.
    pub reason: Option<String>,
}

/// Enters or corrects a line; the cases that the registry holds are what was sent in.
///
/// # Errors
/// As for [`record`].
pub fn record_counted(
    session: &mut Session<'_, WriteScreeningLog, Writing>,
    line: ScreeningLine,
    if_match: Option<&IfMatch>,
    counted: Counted,
) -> Result<ScreeningRow, RegistryError> {
    let Counted { performed, eligible, excluded, reason } = counted;
    let submitted = session.cases_by_line()?.get(&line).copied().unwrap_or(0);
    let counts = EnteredCounts { performed, eligible, submitted, excluded };
    record(session, line, if_match, Entered { counts, reason })
}

/// Signs lines of one quarter, all of them or none.
///
/// # Errors
/// As for [`sign`].
pub fn sign_quarter(
    session: &mut Session<'_, SignScreeningLog, Writing>,
    centre: CentreCode,
    period: Quarter,
    read: &[(ProcedureGroup, IfMatch)],
) -> Result<(), RegistryError> {
    read.iter().try_for_each(|(group, if_match)| {
        sign(session, ScreeningLine { centre, period, group: *group }, if_match).map(|_| ())
    })
}

/// Signs the revision that was read.
///
/// # Errors
/// When there is no such line, its quarter still runs, it was changed meanwhile, or it is
/// signed already.
pub fn sign(
    session: &mut Session<'_, SignScreeningLog, Writing>,
    line: ScreeningLine,
    if_match: &IfMatch,
) -> Result<ScreeningRow, RegistryError> {
    let row = present(session, line)?;
    if line.period >= session.now().quarter() {
        let sentence = format!("The quarter {} still runs; it is signed once it is over.", line.period);
        return Err(RegistryError::field("/period", "quarter_runs", sentence));
    }
    if_match.holds(&Version::of_revision(row.revision))?;
    Ok(session.sign_screening(line, row.revision)?)
}

fn present<A: ReadsScreening, M>(
    session: &mut Session<'_, A, M>,
    line: ScreeningLine,
) -> Result<ScreeningRow, RegistryError> {
    Ok(session.find_screening(line)?.ok_or(StoreError::Absent("screening line"))?)
}
