//! Case codes issued ahead of the procedures, and those that no case has taken yet.

use quietbeam_schema::ids::{CaseCode, CentreCode};

use super::RegistryError;
use crate::access::action::IssueCaseCodes;
use crate::store::{Session, Writing};

/// The most codes issued at once.
pub const MOST_CODES: usize = 1_000;

/// Issues codes to a centre, or to the only one of the member.
///
/// # Errors
/// When the number is none or too large, or the centre is not the member's.
pub fn issue(
    session: &mut Session<'_, IssueCaseCodes, Writing>,
    centre: Option<CentreCode>,
    number: usize,
) -> Result<Vec<CaseCode>, RegistryError> {
    if !(1..=MOST_CODES).contains(&number) {
        let sentence = format!("Ask for 1 to {MOST_CODES} codes at once.");
        return Err(RegistryError::field("/number", "value", sentence));
    }
    let centre = session.centre_or_own(centre)?;
    Ok(session.issue_case_codes(centre, number)?)
}
