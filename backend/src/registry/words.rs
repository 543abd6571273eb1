//! Free text that people write: reasons, questions, answers, names. All of it is
//! screened, because a remark is where a patient's name slips in.

use quietbeam_schema::audit::{Reason, ReasonError};
use quietbeam_schema::screen::{Identifying, screen};

/// Why a text is not taken.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WordsError {
    /// Blank, too short or too long.
    #[error(transparent)]
    Reason(#[from] ReasonError),
    /// Something in it could point to a person.
    #[error("the text {0}")]
    Identifying(#[from] Identifying),
}

/// A reason for a change.
///
/// # Errors
/// When it says nothing or could point to a person.
pub fn reason(text: &str) -> Result<Reason, WordsError> {
    let reason: Reason = text.parse()?;
    screen(reason.as_str())?;
    Ok(reason)
}

/// Any other text that a person wrote.
///
/// # Errors
/// When it could point to a person.
pub fn screened(text: &str) -> Result<&str, WordsError> {
    screen(text)?;
    Ok(text)
}

/// Why a line of text is not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("write 1 to {longest} characters on one line")]
pub struct LineError {
    longest: usize,
}

/// One line of text without the spaces around it.
///
/// # Errors
/// When it is blank, too long or holds a control character.
pub fn line(text: &str, longest: usize) -> Result<String, LineError> {
    let text = text.trim();
    let fits = (1..=longest).contains(&text.chars().count()) && !text.chars().any(char::is_control);
    if fits { Ok(text.to_owned()) } else { Err(LineError { longest }) }
}
